"""The recipes of docs/extending.md can be carried out, do what they promise, and touch no more files than they say."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from recipes import PAGE, Change, Recipe, Rotten, recipes, used

MOST_FILES = {
    "a property of a material": 2,
    "an outer part": 5,
    "a limit": 3,
    "an output quantity": 1,
    "a criterion": 2,
    "a command": 3,
    "a unit": 1,
    "a correlation": 1,
    "a plot": 2,
}
# Verbs of the command line within one process, on a coarse mesh; what they print, and what is shown of a case
VERBS = """
import json
from pathlib import Path
from typer.testing import CliRunner
from meltzone.cases.commands.cli import app

def said(*words):
    done = CliRunner().invoke(app, list(words))
    assert done.exit_code == 0, (words, done.output, done.exception)
    return done.output

def solved(*words):
    return said(*words, "--set", "mesh.level=0.25")

def case(text, name="mine"):
    head = 'extends = "short-block"\\n'
    Path(name + ".toml").write_text(head + text + "\\n[mesh]\\nlevel = 0.25\\n")
    return name + ".toml"
"""


def told(name: str, code: str, folder: Path) -> dict[str, Any]:
    """What `code` puts into the dictionary `found`, by the program with the recipe `name`."""
    printed = used(name, f"{VERBS}\nfound = {{}}\n{code}\nprint('FOUND' + json.dumps(found))", folder)
    found: dict[str, Any] = json.loads(printed.rpartition("FOUND")[2])
    return found


def test_every_recipe_is_counted() -> None:
    assert recipes().keys() == MOST_FILES.keys()


@pytest.mark.parametrize("name", MOST_FILES)
def test_a_recipe_touches_no_more_files_than_it_says(name: str) -> None:
    said = re.search(rf"^\| \[{name}\].*\| (\d) \|$", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    assert said and len(recipes()[name].files) == int(said.group(1)) <= MOST_FILES[name]


def test_a_recipe_that_does_not_fit_is_found_out(tmp_path: Path) -> None:
    change = Change.of(" one\n+two\n-three\n")
    assert change.in_text("one\nthree\nfour\n") == "one\ntwo\nfour\n"
    for text in ("one\nfour\n", "one\nthree\none\nthree\n"):
        with pytest.raises(Rotten, match="not once"):
            change.in_text(text)
    with pytest.raises(Rotten, match="there already"):
        Recipe({"fem/field.py": (Change("", "new\n"),)}).carried_out(tmp_path)


def test_a_property_is_read_shown_moved_and_toleranced(tmp_path: Path) -> None:
    found = told(
        "a property of a material",
        """
mine = case('''[block]
material = "hard"
[materials.hard]
like = "aluminium"
hardness = { value = "1.1 GPa", source = "invented" }
[uncertainty]
block.hardness = "10 %"
''')
said("report", mine, "--out", "mine.html")
found["page"] = Path("mine.html").read_text(encoding="utf-8")
explained = json.loads(said("explain", mine, "--json"))
found["contributions"] = [each["key"] for each in explained["interval"]["contributions"]]
import meltzone as mz
from meltzone.cases.inputs.levers import levers_of
found["levers"] = [lever.key for lever in levers_of(mz.ceiling(mine).system)]
wrong = CliRunner().invoke(app, ["check", case('[materials.mine]\\nlike = "brass"\\nhardness = "3 mm"\\n', "wrong")])
found["wrong"] = [wrong.exit_code, wrong.output]
""",
        tmp_path,
    )
    assert re.search(r">hardness</th>\s*<td[^>]*>1100000\s+kPa<", found["page"])
    assert found["contributions"] == ["uncertainty.block.hardness"]
    assert "block.hardness" in found["levers"]
    code, message = found["wrong"]
    assert code == 2 and "materials.mine.hardness" in message and "line 4" in message


def test_an_outer_part_is_meshed_solved_explained_and_shown(tmp_path: Path) -> None:
    found = told(
        "an outer part",
        """
collar = case('[collar]\\nmaterial = "copper"\\nheight = "5 +/- 0.2 mm"\\n')
bare = case("", "bare")
found["check"] = said("check", collar, "--out", "section.png")
[own, other] = json.loads(said("ceiling", collar, bare, "--json"))
found["ceilings"] = [each["ceilings"]["flow_mm3_per_s"] for each in (own, other)]
found["faces"], found["parts"] = own["balance"]["faces_W"], own["parts"]
found["closure"] = own["balance"]["closure_W"]
explained = json.loads(said("explain", collar, "--json"))
found["budget"] = explained["budget_percent"]
found["contributions"] = [each["key"] for each in explained["interval"]["contributions"]]
import meltzone as mz
from meltzone.cases.inputs.levers import levers_of
from meltzone.fem.explain import slope_by
from meltzone.fem.adjoint import adjoint_of
result = mz.ceiling(collar)
levers = {lever.key: lever for lever in levers_of(result.system)}
found["levers"] = list(levers)
found["slope"] = 1e9 * slope_by(adjoint_of(result.ceilings), levers["collar.height"])
from meltzone.fem.ceiling import find_ceilings
from dataclasses import replace
moved = [1e9 * find_ceilings(replace(levers["collar.height"].at(5e-3 + d), subdivision=None)).flow for d in (-2e-4, 2e-4)]
found["difference"] = (moved[1] - moved[0]) / 4e-4
from meltzone.fem.space import Space
space = result.system.space
found["volume"] = float(space.cells.volume[space.cells_of("collar")].sum())
found["radius"] = result.problem.arrangement.block.radius
said("report", collar, "--out", "collar.html")
found["page"] = "A collar of copper" in " ".join(Path("collar.html").read_text().split())
said("compare", collar, bare, "--out", "side")
found["compared"] = "collar" in Path("side/compare.json").read_text()
from generate.case_file_page import reference_page
found["reference"] = "## [collar]" in reference_page() and "`contact`" in reference_page()
wrong = CliRunner().invoke(app, ["check", case('[collar]\\nheight = "40 mm"\\n', "wrong")])
found["wrong"] = [wrong.exit_code, wrong.output]
""",
        tmp_path,
    )
    with_collar, without = found["ceilings"]
    assert with_collar != without and with_collar == pytest.approx(
        without, rel=0.1
    )  # a ring that stays hot with the block
    assert {"collar side", "collar top", "collar bottom"} <= found["faces"].keys()
    assert abs(found["closure"]) < 1e-6
    assert found["parts"]["collar"]["material"] == "copper"
    assert "height 5 mm, diameter 28 mm" in found["check"]
    assert "collar" in found["budget"]
    assert sum(found["budget"].values()) == pytest.approx(100.0, abs=1e-3)
    assert found["contributions"] == ["collar.height"]
    assert {"collar.height", "collar.contact", "collar.conductivity*"} <= set(found["levers"])
    assert found["slope"] == pytest.approx(found["difference"], rel=0.1)
    ring = 3.141592653589793 * (14e-3**2 - found["radius"] ** 2) * 5e-3
    assert found["volume"] == pytest.approx(ring, rel=1e-9)
    assert found["page"] and found["compared"] and found["reference"]
    code, message = found["wrong"]
    assert code == 2 and "collar.height" in message and "11.5 mm" in message


def test_a_limit_is_found_governs_and_is_explained(tmp_path: Path) -> None:
    found = told(
        "a limit",
        """
warm = case('[polymer]\\nleast_mean = "203 degC"\\n')
bare = case("", "bare")
found["table"] = said("run", warm)
record = json.loads(Path("meltzone-out/mine/result.json").read_text())
found["ceilings"], found["answer"] = record["ceilings"], record["answer"]
found["mean"] = record["state"]["temperature_mean_degC"]
found["beside"] = said("ceiling", warm, bare, "--out", "bars.png")
found["bare"] = json.loads(said("ceiling", bare, "--json"))[0]["ceilings"]
explained = json.loads(said("explain", warm, "--json"))
found["budget"] = sum(explained["budget_percent"].values())
found["lever"] = "polymer.least_mean" in {each["key"] for each in explained["data_levers"] + explained["design_levers"]}
said("compare", warm, bare, "--csv", "side.csv")
found["columns"] = Path("side.csv").read_text().splitlines()[0].split(",")
from generate.record_pages import result_page
found["documented"] = "`ceilings.soak_mm3_per_s`" in result_page()
from meltzone.cases.studies.sweep.work import COLUMNS
found["swept"] = [each.name for each in COLUMNS]
""",
        tmp_path,
    )
    ceilings, bare = found["ceilings"], found["bare"]
    assert ceilings["governs"] == "soak" and ceilings["soak_mm3_per_s"] < ceilings["melt_mm3_per_s"]
    assert ceilings["mesh_error_percent"] < 5.0
    assert found["mean"] == pytest.approx(203.0, abs=1e-4)
    assert "least temperature allowed" in found["answer"]
    assert bare["governs"] == "melt" and "no least mean" in bare["reasons"]["soak"]
    assert "soak" in found["beside"]
    assert re.search(r"soak +\d", found["table"])
    assert found["budget"] == pytest.approx(100.0, abs=0.1) and found["lever"]
    assert "soak_mm3_per_s" in found["columns"] and "soak_mm3_per_s" in found["swept"]
    assert found["documented"]


def test_an_output_quantity_stands_in_every_table(tmp_path: Path) -> None:
    found = told(
        "an output quantity",
        """
mine = case("")
found["run"] = said("run", mine)
record = json.loads(Path("meltzone-out/mine/result.json").read_text())["state"]
found["value"] = record["heat_per_volume_J_per_mm3"] * record["flow_mm3_per_s"] / record["heater_power_W"]
found["ceiling"] = said("ceiling", mine)
found["compare"] = said("compare", mine, "--csv", "side.csv")
header, row = Path("side.csv").read_text().splitlines()[:2]
found["csv"] = header
said("report", mine, "--out", "mine.html")
found["html"] = Path("mine.html").read_text()
import meltzone as mz
found["notebook"] = mz.ceiling(mine)._repr_html_()
Path("sweep.toml").write_text('case = "mine.toml"\\n[vary]\\nheater.setpoint = ["210 degC"]\\n')
said("sweep", "sweep.toml", "--csv", "sweep.csv")
found["sweep"] = Path("sweep.csv").read_text()
from generate.record_pages import compare_page, result_page
from generate.sweep_page import sweep_page
found["pages"] = [result_page(), compare_page(), sweep_page()]
""",
        tmp_path,
    )
    assert found["value"] == pytest.approx(1.0, rel=1e-6)
    for table in ("run", "compare", "html", "notebook"):
        assert re.search(r"heat per\s+volume", str(found[table])), table
    assert "heat" in found["ceiling"] and "[J/mm³]" in found["ceiling"]
    assert "heat_per_volume_J_per_mm3" in found["csv"]
    assert "heat_per_volume_J_per_mm3" in found["sweep"]
    assert all("heat_per_volume_J_per_mm3" in page for page in found["pages"])


def test_a_criterion_may_be_chosen_and_judges(tmp_path: Path) -> None:
    found = told(
        "a criterion",
        """
half = case('[polymer]\\ncriterion = "half"\\n')
found["run"] = said("run", half)
record = json.loads(Path("meltzone-out/mine/result.json").read_text())
found["judged"] = record["state"]["temperature_half_degC"]
found["wanted"] = record["polymer"]["flow_temperature_degC"]
found["flow"], found["answer"] = record["ceilings"]["flow_mm3_per_s"], record["answer"]
others = json.loads(said("ceiling", case('[polymer]\\ncriterion = "inner"\\n', "inner"), "--json"))
found["inner"] = others[0]["ceilings"]["flow_mm3_per_s"]
burst = json.loads(said("transient", half, "--flow", "8 mm^3/s", "--burst", "40 mm^3/s", "--json"))
found["burst"] = burst["answer"]
wrong = CliRunner().invoke(app, ["check", case('[polymer]\\ncriterion = "hal"\\n', "wrong")])
found["wrong"] = wrong.output
""",
        tmp_path,
    )
    assert found["judged"] == pytest.approx(found["wanted"], abs=1e-4)
    assert found["flow"] > found["inner"]
    assert "inner half" in found["run"] and "(judged)" in found["run"]
    assert "the inner half of the flow" in found["answer"].lower() and "inner half" in found["burst"]
    assert '"half"' in found["wrong"]


def test_a_command_enters_the_program(tmp_path: Path) -> None:
    found = told(
        "a command",
        """
found["page"] = solved("mass", "short-block")
found["help"] = said("--help")
from generate.command_page import command_page
found["commands"] = command_page()
""",
        tmp_path,
    )
    assert "mass" in found["help"] and "meltzone mass short-block" in found["commands"]
    grams = float(re.findall(r"block +(\d+\.\d+)", found["page"])[0])
    # 23 x 16 x 11.5 mm of aluminium less the hole of its thread, 5.35 mm wide at the pitch cylinder
    assert grams == pytest.approx(2.7e-3 * (23 * 16 * 11.5 - 3.1416 * 5.35**2 / 4 * 11.5), rel=0.02)


def test_a_unit_is_read_exactly(tmp_path: Path) -> None:
    found = told(
        "a unit",
        """
said("check", case('[nozzle]\\norifice = "4 tenth"\\n'))
import meltzone as mz
found["orifice"] = mz.load_case("mine.toml").model.nozzle.orifice
""",
        tmp_path,
    )
    assert found["orifice"] == 4e-4


def test_a_correlation_counts_for_its_faces(tmp_path: Path) -> None:
    found = told(
        "a correlation",
        """
import numpy as np, meltzone as mz
from meltzone.fem.surroundings import film_coefficient, plate_facing_up
problem = mz.check("short-block", overrides={"mesh.level": 0.25})
outside, air = problem.problem.surroundings, problem.problem.materials.air
hot = np.array([480.0])
film = (hot + outside.air_temperature) / 2.0
for face in problem.section.exposed:
    found[face.name] = float(film_coefficient(face, air, outside, hot)[0] * face.length / air.conductivity(film)[0])
    if face.name == "block top":
        rise = 9.80665 * (hot - outside.air_temperature) / film * face.length**3
        found["plate"] = float(plate_facing_up(rise / air.kinematic_viscosity(film) ** 2 * air.prandtl(film))[0])
""",
        tmp_path,
    )
    assert found["block top"] == pytest.approx(found["plate"] + 1.0, rel=1e-9)


def test_a_plot_is_drawn_with_its_verb(tmp_path: Path) -> None:
    found = told(
        "a plot",
        """
found["run"] = solved("run", "short-block", "--out", "out")
found["bytes"] = Path("out/heat.png").read_bytes()[:8].hex()
found["size"] = Path("out/heat.png").stat().st_size
""",
        tmp_path,
    )
    assert "heat.png" in found["run"]
    assert found["bytes"] == "89504e470d0a1a0a" and found["size"] > 3000
