"""The command line end to end: what is printed, what is written, what can be read by a machine."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from generate.command_page import command_page
from outputs import COARSE, assert_drawn
from typer.testing import CliRunner, Result

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.reader import example_names
from meltzone.cases.studies.run import ceiling
from meltzone.materials.library import names

QUICK = ("--set", "mesh.level=0.25")
runner = CliRunner()


def call(*words: str) -> Result:
    return runner.invoke(app, list(words))


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_run_answers_and_writes_to_the_default_folder() -> None:
    done = call("run", "short-block", *QUICK)
    assert done.exit_code == 0, done.output
    expected = ceiling("short-block", COARSE)
    assert expected.band is not None and "; melt governs" in done.stdout
    ends = f"{expected.band.low:.0f} to {expected.band.high:.0f} mm³/s"
    assert f"Flow ceiling {expected.flow_ceiling:.0f} mm³/s, {ends}" in done.stdout
    for word in ("core", "bore wall", "tip", "sensor", "melt zone", "block side", "heat sink", "not accounted for"):
        assert word in done.stdout
    assert "factorisations" in done.stdout and "finer mesh" in done.stdout
    assert "Cautions" in done.stdout and "qualified people" in done.stdout
    assert done.stderr == "", "no progress where nobody looks at a terminal"
    folder = Path("meltzone-out/short-block")
    assert sorted(path.name for path in folder.iterdir()) == ["axis.png", "field.png", "field.vtu", "result.json"]


def test_run_with_values_of_its_own() -> None:
    done = call(
        "run",
        "short-block",
        *QUICK,
        "--set",
        "heater.setpoint=235 degC",
        "--set",
        "surroundings.fan=true",
        "--out",
        "hot",
    )
    assert done.exit_code == 0, done.output
    record = json.loads(Path("hot/result.json").read_text(encoding="utf-8"))
    assert record["inputs"]["heater"]["setpoint"] == "235 degC"
    assert record["inputs"]["surroundings"]["fan"] is True
    assert record["state"]["temperature_sensor_degC"] == pytest.approx(235.0, abs=1e-4)


def test_solve_says_whether_it_melts() -> None:
    slow, fast = (call("solve", "short-block", "--flow", flow, *QUICK) for flow in ("5 mm^3/s", "40 mm3/s"))
    assert "5.0 mm³/s it melts" in slow.stdout
    assert "does not melt through" in fast.stdout
    assert not Path("meltzone-out").exists(), "files only where --out asks for them"


def test_ceilings_side_by_side() -> None:
    done = call("ceiling", "short-block", "long-block", *QUICK, "--out", "bars.png")
    first, second = (ceiling(name, COARSE).flow_ceiling for name in ("short-block", "long-block"))
    assert first is not None and second is not None
    rows = [line.split() for line in done.stdout.splitlines() if line.startswith(("short-block  ", "long-block  "))]
    assert rows[0][1] == f"{first:.0f}" and rows[1][1] == f"{second:.0f}"
    assert f"{first:.1f}" in rows[0] and f"{second:.1f}" in rows[1]
    assert f"{100 * (second / first - 1):+.0f}" in rows[1]
    assert_drawn(Path("bars.png"))


def test_json_is_for_machines() -> None:
    done = call("ceiling", "short-block", "short-block-boot", "--json", *QUICK)
    records = json.loads(done.stdout)
    assert [record["case"]["name"] for record in records] == ["short-block", "short-block-boot"]
    assert all(record["ceilings"]["governs"] == "melt" for record in records)


def test_check_solves_nothing_and_draws() -> None:
    done = call("check", "long-nozzle-wrapped-fan", "--out", "section.png")
    assert done.exit_code == 0
    assert done.stdout.rstrip().endswith("meltzone run long-nozzle-wrapped-fan")
    assert "can be solved" in done.stdout and "silicone" in done.stdout and "at 5 m/s" in done.stdout
    side = next(line for line in done.stdout.splitlines() if line.startswith("block side"))
    assert float(re.findall(r"[\d.]+", side)[0]) == pytest.approx(
        2.0 * (23.0 + 16.0) * 11.5, abs=0.06
    )  # the box's sides
    assert_drawn(Path("section.png"))


@pytest.mark.parametrize("like", [None, "long-nozzle-brass-sleeve"])
def test_new_then_ceiling(like: str | None) -> None:
    assert call("new", "my.toml", *(["--like", like] if like else [])).exit_code == 0
    done = call("ceiling", "my.toml", "--json", *QUICK)
    expected = ceiling(like or "short-block", COARSE).flow_ceiling
    assert json.loads(done.stdout)[0]["ceilings"]["flow_mm3_per_s"] == pytest.approx(expected, rel=1e-6)


def test_materials_are_listed_each_with_a_card() -> None:
    listed = call("materials").stdout
    for name in names():
        assert re.search(rf"^{name}\b", listed, flags=re.MULTILINE)
        card = call("materials", name)
        assert card.exit_code == 0 and "sources" in card.stdout and "qualified people" in card.stdout


def test_material_card_is_drawn() -> None:
    assert call("materials", "PLA", "--out", "pla.png").exit_code == 0
    assert_drawn(Path("pla.png"), share=0.01)


def test_version() -> None:
    from importlib.metadata import version

    assert call("--version").stdout == f"meltzone {version('meltzone')}\n"


def test_page_names_only_examples_that_exist() -> None:
    examples = re.findall(r"^meltzone .*$", command_page(), flags=re.MULTILINE)
    words = {word for line in examples for word in line.split() if re.fullmatch(r"(short|long)-[a-z0-9-]+", word)}
    assert words and words <= set(example_names())


def _modules_after(code: str) -> set[str]:
    script = f"{code}\nimport sys\nsys.stderr.write(' '.join(sys.modules))"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return set(done.stderr.split())


def test_help_and_ceiling_load_no_more_than_they_need() -> None:
    """What keeps the commands quick: the slow libraries load only where they are used."""
    assert not {"numpy", "scipy", "skfem", "pydantic", "pint", "matplotlib", "meshio", "rich"} & _modules_after(
        "import meltzone.cases.commands.cli"
    )
    code = (
        "from typer.testing import CliRunner\nfrom meltzone.cases.commands.cli import app\n"
        "assert CliRunner().invoke(app, ['ceiling', 'short-block', '--set', 'mesh.level=0.25']).exit_code == 0"
    )
    assert not {"pint", "matplotlib", "meshio"} & _modules_after(code)


def test_cautions_are_a_few_lines_and_in_full_where_asked_for() -> None:
    lined = ["short-block-lined", "--set", "mesh.level=0.25"]
    brief = CliRunner().invoke(app, ["ceiling", *lined]).stdout.partition("Cautions\n")[2]
    brief = brief or CliRunner().invoke(app, ["ceiling", *lined]).stdout.partition("Cautions")[2]
    assert len([line for line in brief.splitlines() if line.strip()]) <= 5
    for topic in ("burn", "mains", "fumes (PTFE)", "lead (brass)", "meltzone cautions"):
        assert topic in brief
    full = " ".join(CliRunner().invoke(app, ["cautions", *lined]).stdout.split())
    for words in (
        "keep birds out",
        "It contains lead",
        "Heater stuck on",
        "thermal cut-off",
        "keep watch",
        "local codes",
    ):
        assert words in full


def test_examples_lists_everything_that_is_shipped() -> None:
    said = runner.invoke(app, ["examples"]).stdout
    for name in (*example_names(), "setpoint-and-nozzle", "hot-ends-in-practice", "demo-sleeve"):
        assert re.search(rf"^{name} +\S", said, flags=re.MULTILINE), name


def test_no_hint_leads_to_a_page_that_is_not_installed() -> None:
    folder = Path(__file__).resolve().parents[1] / "cases"
    assert not [
        file for file in folder.rglob("*.py") if re.search(r"docs/[\w-]+\.md", file.read_text(encoding="utf-8"))
    ]


@pytest.mark.parametrize("words", [["--set", "nozzle.orifice=0,4 mm"], ["--line", "0,2 mm x 0.45 mm"]])
def test_decimal_commas_get_a_hint(words: list[str]) -> None:
    done = runner.invoke(app, ["ceiling", "short-block", *words])
    assert done.exit_code == 2 and "Decimals begin with a point" in done.output


def test_the_force_ceiling_that_is_not_sought_is_told() -> None:
    words = ["--set", "polymer.material=tpu", "--set", "feeder.grip=40 N", "--set", "mesh.level=0.25"]
    said = " ".join(runner.invoke(app, ["ceiling", "short-block", *words]).stdout.split())
    assert "no force ceiling is sought: the card of TPU holds no plateau modulus" in said
