"""Designs against known optima: bounds, an active limit, a grid of whole solves, targets, choices, geometry, bad files."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from outputs import assert_drawn
from scipy.optimize import brentq
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.outputs import design as shown
from meltzone.cases.outputs import files
from meltzone.cases.studies.design.read import load_design
from meltzone.cases.studies.design.run import Designed, design
from meltzone.cases.studies.masses import masses
from meltzone.cases.studies.run import sought
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.steady import solve_at_flow
from meltzone.fem.trade import hot_volume

BASE = 'extends = "{}"\n[mesh]\nlevel = 0.25\n'
AIM = 'base = "base.toml"\n[aim]\nmaximise = "ceiling"\n'


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("designs")
    (made / "base.toml").write_text(BASE.format("short-block"), encoding="utf-8")
    (made / "sleeved.toml").write_text(BASE.format("long-nozzle-brass-sleeve"), encoding="utf-8")
    return made


def carried_out(folder: Path, text: str, name: str = "trade") -> Designed:
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return _carried_out(path, text)


@cache
def _carried_out(path: Path, text: str) -> Designed:
    return design(path)


def at(folder: Path, **values: float) -> tuple[float, float]:
    """Ceiling [mm3/s] and hot volume [mm3] at 6 mm3/s of the base, by whole solves."""
    longer = values.pop("longer", 0.0)
    overrides = {"nozzle.length": f"{12.5 + longer} mm", "nozzle.exposed": f"{5.0 + longer} mm"}
    overrides |= {key: f"{value} mm" for key, value in values.items()}
    problem = problem_of(load_case(str(folder / "base.toml"), overrides))
    found = find_ceilings(problem)
    assert found.field is not None
    return 1e9 * found.flow, 1e9 * hot_volume(solve_at_flow(found.system, 6e-9, found.field.state))


def test_the_ceiling_grows_with_the_zone_so_the_bound_is_the_answer(folder: Path) -> None:
    found = carried_out(folder, AIM + '[vary]\nnozzle.longer = ["0 mm", "6 mm"]\n')
    assert found.answer is not None and found.reached
    assert found.values == pytest.approx([6e-3], rel=1e-6)
    assert found.written == {"nozzle.length": "18.5 mm", "nozzle.exposed": "11 mm"}
    assert found.binding == ("nozzle.longer is at its greatest value, 6 mm",)
    assert found.answer.result.flow_ceiling == pytest.approx(at(folder, longer=6.0)[0], rel=1e-6)
    assert found.gain == pytest.approx(100.0 * (at(folder, longer=6.0)[0] / at(folder)[0] - 1.0), abs=0.3)
    start, answer, gain = found.start.result.band, found.answer.result.band, found.gain_band
    assert start is not None and answer is not None and gain is not None and gain.judged == "more"
    assert gain.low < found.gain < gain.high
    assert gain.high - gain.low < 50.0 * (answer.high - answer.low) / start.value, "what both share cancels"


def test_a_limit_on_hot_volume_is_met_where_a_root_finder_meets_it(folder: Path) -> None:
    """One key and one active limit leave one unknown: V(x) = limit, solved here by bisection of whole solves."""
    text = AIM + '[vary]\nnozzle.longer = ["0 mm", "8 mm"]\n[limits]\nhot_volume = "42 mm^3"\nat_flow = "6 mm^3/s"\n'
    found = carried_out(folder, text)
    root = brentq(lambda x: at(folder, longer=x)[1] - 42.0, 0.0, 8.0, xtol=1e-4)
    assert 1e3 * found.values[0] == pytest.approx(root, abs=0.02)
    assert found.answer is not None and found.answer.hot == pytest.approx(42.0, rel=2e-3)
    assert any("hot volume is at its limit" in reason for reason in found.binding)


TWO = (
    AIM
    + '[vary]\nblock.height = ["10 mm", "16 mm"]\nnozzle.longer = ["0 mm", "5 mm"]\n'
    + '[limits]\nhot_volume = "44 mm^3"\nat_flow = "6 mm^3/s"\n'
)


def test_a_grid_of_whole_solves_finds_no_better_point(folder: Path) -> None:
    found = carried_out(folder, TWO)
    best = 0.0
    for height in np.linspace(10.0, 16.0, 4):
        for longer in np.linspace(0.0, 5.0, 5):
            flow, hot = at(folder, longer=float(longer), **{"block.height": float(height)})
            if hot <= 44.0:
                best = max(best, flow)
    assert found.answer is not None and found.answer.result.flow_ceiling is not None
    assert found.answer.result.flow_ceiling >= best * (1.0 - 1e-3)
    assert found.answer.result.flow_ceiling < 1.06 * best  # and the grid is not far off
    assert found.answer.hot is not None and found.answer.hot <= 44.0 * 1.002


def test_slopes_cost_the_same_for_one_key_and_for_many(folder: Path) -> None:
    keys = [
        'nozzle.longer = ["0 mm", "2 mm"]',
        'block.height = ["11 mm", "13 mm"]',
        'heater.setpoint = ["205 degC", "215 degC"]',
        'block.width = ["22 mm", "24 mm"]',
        'block.depth = ["15 mm", "17 mm"]',
    ]
    few, many = (
        carried_out(folder, AIM + "[vary]\n" + "\n".join(chosen) + "\n", f"cost{len(chosen)}")
        for chosen in (keys[:1], keys)
    )
    per_step = [max(step.point.trade.factorisations for step in found.steps) for found in (few, many)]
    assert per_step[1] <= per_step[0] + 3
    assert all(step.point.trade.differences == 0 for step in many.steps)
    assert len(many.steps) <= 12  # by differences it would be six solves a step
    assert many.answer is not None and many.answer.result.flow_ceiling is not None
    corner = {
        "block.height": "13 mm",
        "heater.setpoint": "215 degC",
        "nozzle.length": "14.5 mm",
        "nozzle.exposed": "7 mm",
    }
    assert many.answer.result.flow_ceiling >= (sought(str(folder / "base.toml"), corner).flow_ceiling or 0.0) * 0.999


def test_a_target_is_reached_with_the_least_change(folder: Path) -> None:
    """Of all points on the line Q = 15 that nearest to the start; a walk along that line finds none nearer."""
    text = (
        'base = "base.toml"\n[aim]\nreach = "15 mm^3/s"\n[vary]\nheater.setpoint = ["200 degC", "240 degC"]\n'
        'nozzle.longer = ["0 mm", "8 mm"]\n'
    )
    found = carried_out(folder, text)
    assert found.reached and found.answer is not None
    assert found.answer.result.flow_ceiling == pytest.approx(15.0, rel=2e-3)

    def apart(setpoint: float, longer: float) -> float:
        return ((setpoint - 210.0) / 40.0) ** 2 + (longer / 8.0) ** 2

    def longer_at(setpoint: float) -> float:
        def miss(longer: float) -> float:
            overrides = {
                "heater.setpoint": f"{setpoint} degC",
                "nozzle.length": f"{12.5 + longer} mm",
                "nozzle.exposed": f"{5.0 + longer} mm",
            }
            return (sought(str(folder / "base.toml"), overrides).flow_ceiling or 0.0) - 15.0

        return float(brentq(miss, 0.0, 4.0, xtol=1e-2))

    own = apart(found.values[0] - 273.15, 1e3 * found.values[1])
    walked = [apart(t, longer_at(t)) for t in (212.0, 216.0, 220.0)]
    assert own <= min(walked) * 1.02 + 1e-4


def test_out_of_reach_is_said_with_what_stops_it(folder: Path) -> None:
    text = (
        'base = "base.toml"\n[aim]\nreach = "40 mm^3/s"\n[vary]\nheater.setpoint = ["200 degC", "230 degC"]\n'
        '[limits]\npower = "15 W"\n'
    )
    found = carried_out(folder, text)
    assert not found.reached
    assert found.statement.startswith("Out of reach: 40.00 mm³/s was asked for")
    assert any("heater power is at its limit, 15 W" in reason for reason in found.binding)


def test_limits_that_nothing_keeps_leave_no_answer(folder: Path, tmp_path: Path) -> None:
    found = carried_out(folder, AIM + '[vary]\nnozzle.longer = ["0 mm", "2 mm"]\n[limits]\nhot_volume = "10 mm^3"\n')
    assert found.answer is None and "No variant tried keeps the limits" in found.statement
    files.carried_out(lambda: found, shown, tmp_path / "none")
    assert sorted(path.name for path in (tmp_path / "none").iterdir()) == [
        "before.png", "design.json", "design.png", "report.html",
    ]  # fmt: skip


def test_a_rating_that_governs_is_a_ceiling_like_any_other(folder: Path) -> None:
    """Wider bounds on the setpoint than 13 W can serve: the optimum lies where melt and power ceiling meet."""
    (folder / "weak.toml").write_text(
        'extends = "base.toml"\n[heater]\nsetpoint = "205 degC"\nrating = "14 W"\n', encoding="utf-8"
    )
    text = 'base = "weak.toml"\n[aim]\nmaximise = "ceiling"\n[vary]\nheater.setpoint = ["190 degC", "250 degC"]\n'
    found = carried_out(folder, text)
    assert found.answer is not None and found.answer.result.ceilings is not None
    flows = found.answer.result.melt_ceiling, found.answer.result.power_ceiling
    assert flows[0] is not None and flows[1] is not None
    assert flows[0] == pytest.approx(flows[1], rel=0.02)
    best = max(
        sought(str(folder / "weak.toml"), {"heater.setpoint": f"{t} degC"}).flow_ceiling or 0.0
        for t in range(208, 222, 4)
    )
    assert (found.answer.result.flow_ceiling or 0.0) >= best * 0.999


def test_geometry_bounds_the_search_where_the_file_does_not(folder: Path) -> None:
    """A sleeve is at most as tall as the bare thread, 9 mm here, and that grows with the nozzle."""
    text = (
        'base = "sleeved.toml"\n[aim]\nmaximise = "ceiling"\n[vary]\nsleeve.height = ["4 mm", "20 mm"]\n'
        'nozzle.longer = ["0 mm", "3 mm"]\n'
    )
    found = carried_out(folder, text)
    assert found.answer is not None
    height, longer = 1e3 * found.values
    assert longer == pytest.approx(3.0, abs=1e-3)
    assert height <= 12.0
    assert (found.answer.result.flow_ceiling or 0.0) > (found.start.result.flow_ceiling or 0.0) * 1.08
    assert all(step.point.values[0] <= 9e-3 + step.point.values[1] + 1e-9 for step in found.steps)


def test_choices_are_tried_one_by_one(folder: Path) -> None:
    metals = '["stainless steel", "copper", "brass"]'
    text = f'base = "sleeved.toml"\n[aim]\nmaximise = "ceiling"\n[choose]\nsleeve.material = {metals}\n'
    found = carried_out(folder, text)
    each = {
        metal: sought(str(folder / "sleeved.toml"), {"sleeve.material": metal}).flow_ceiling or 0.0
        for metal in ("stainless steel", "copper", "brass")
    }
    assert (
        found.written == {"sleeve.material": max(each, key=lambda metal: each[metal])} == {"sleeve.material": "copper"}
    )
    assert len(found.steps) == 3


def test_the_answer_is_a_case_file_that_gives_what_is_told(folder: Path, tmp_path: Path) -> None:
    found = carried_out(folder, TWO)
    files.carried_out(lambda: found, shown, tmp_path / "out")
    assert found.answer is not None
    again = sought(tmp_path / "out" / "answer.toml")
    assert again.flow_ceiling == pytest.approx(found.answer.result.flow_ceiling, rel=1e-9)
    record = json.loads((tmp_path / "out" / "design.json").read_text(encoding="utf-8"))
    assert record["end"]["ceiling_mm3_per_s"] == pytest.approx(again.flow_ceiling, rel=1e-6)
    assert len(record["steps"]) == len(found.steps) and record["steps"][0]["values"]["block.height"] == "11.5 mm"
    assert any(caution["material"] == "heater" for caution in record["end"]["cautions"])
    assert_drawn(tmp_path / "out" / "design.png", share=0.01)


def test_command(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (folder / "short.toml").write_text(AIM + '[vary]\nblock.height = ["11 mm", "12 mm"]\n', encoding="utf-8")
    done = CliRunner().invoke(app, ["design", str(folder / "short.toml")])
    assert done.exit_code == 0, done.output
    for word in (
        "The ceiling rises to",
        "block.height is at its greatest value",
        "stuck on",
        "qualified people",
        "Steps",
    ):
        assert word in done.stdout
    assert Path("meltzone-out/design-short/answer.toml").exists()


BAD = [
    (
        'base = "nowhere"\n[aim]\nmaximise = "ceiling"\n[vary]\nblock.height = ["11 mm", "12 mm"]\n',
        "base",
        "existing|beside",
    ),
    (AIM, "vary", "at least one key"),
    (AIM + '[vary]\nblock.height = ["12 mm", "11 mm"]\n', "vary.block.height", "smaller"),
    (AIM + '[vary]\nblock.height = "11 mm"\n', "vary.block.height", "least and the greatest"),
    (AIM + '[vary]\nblock.height = ["11", "12 mm"]\n', "vary.block.height", "unit"),
    (AIM + '[vary]\nblock.hight = ["11 mm", "12 mm"]\n', "vary.block.hight", "block.height"),
    (AIM + '[vary]\nsleeve.height = ["4 mm", "5 mm"]\n', "vary.sleeve.height", "that the base has"),
    (AIM + '[vary]\ncontacts.thread = ["1000 W/m^2/K", "2000 W/m^2/K"]\n', "vary.contacts.thread", "choose"),
    (AIM + '[choose]\nblock.material = ["unobtainium"]\n', "choose.block.material", "name of a solid"),
    (AIM + '[choose]\nblock.material = "copper"\n', "choose.block.material", "list"),
    (
        AIM + '[vary]\nblock.height = ["11 mm", "12 mm"]\n[limits]\nhot_volume = "50 mm"\n',
        "limits.hot_volume",
        "volume",
    ),
    (AIM + '[vary]\nblock.height = ["11 mm", "12 mm"]\n[limit]\npower = "9 W"\n', "limit", "limits"),
    (
        'base = "base.toml"\n[aim]\nmaximise = "joy"\n[vary]\nblock.height = ["11 mm", "12 mm"]\n',
        "aim.maximise",
        "ceiling",
    ),
    ('base = "base.toml"\n[vary]\nblock.height = ["11 mm", "12 mm"]\n', "aim", "one aim"),
    (AIM + '[vary]\nblock.height = ["11 mm", "12 mm"]\n[limits]\nmas = "9 g"\n', "limits.mas", "mass"),
    (AIM + '[vary]\nblock.height = ["11 mm", "12 mm"]\n[limits]\nmass = "9 mm"\n', "limits.mass", "a mass"),
    (
        AIM + '[vary]\nblock.height = ["11 mm", "12 mm"]\n[limits]\nsleeve.height = "9 mm"\n',
        "limits.sleeve.height",
        "has",
    ),
    (
        AIM.replace('"ceiling"', '"ceiling"\nagainst = ["joy"]') + '[vary]\nblock.height = ["11 mm", "12 mm"]\n',
        "aim.against",
        "mass",
    ),
]


@pytest.mark.parametrize(("text", "key", "word"), BAD)
def test_bad_files_get_one_clear_error(folder: Path, text: str, key: str, word: str) -> None:
    path = folder / "bad.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        design(path)
    assert caught.value.key == key and caught.value.file == str(path)
    assert re.search(word, f"{caught.value.expected} {caught.value.hint}")


def test_command_answers_bad_files_with_code_two(tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["design", str(tmp_path / "none.toml")])
    assert done.exit_code == 2 and "existing design file" in done.output


def test_nested_and_quoted_keys_are_the_same(folder: Path) -> None:
    forms = ('[vary.block]\nheight = ["11 mm", "12 mm"]\n', '[vary]\n"block.height" = ["11 mm", "12 mm"]\n')
    for text in forms:
        (folder / "form.toml").write_text(AIM + text, encoding="utf-8")
        assert [item.key for item in load_design(folder / "form.toml").varied] == ["block.height"]


FRONT = (
    'case = "base.toml"\n[aim]\nmaximise = "ceiling"\nagainst = ["mass"]\n[vary]\nnozzle.longer = ["0 mm", "6 mm"]\n'
    'block.height = ["10 mm", "14 mm"]\n'
)


def test_masses_are_those_of_the_drawing(folder: Path) -> None:
    """A block is width times depth times height less the hole of its thread, times the density of aluminium."""
    result = sought(str(folder / "base.toml"))
    found = masses(result.problem, result.system.space)
    block = result.problem.arrangement.block
    density = float(result.problem.materials.block.density(np.array(296.15)))
    whole = block.width * block.depth * block.height * density
    thread = result.problem.arrangement.nozzle.thread.diameter
    assert found["block"] == pytest.approx(whole - np.pi / 4.0 * thread**2 * block.height * density, rel=0.02)
    assert set(found) == {"block", "nozzle", "heat break"}


def test_no_grid_point_lies_beyond_the_front(folder: Path) -> None:
    """Of whole solves on a grid none weighs no more than a point of the front and melts more."""
    found = carried_out(folder, FRONT, "front")
    masses_, flows = (
        np.array(each) for each in zip(*((p.against[0], p.result.flow_ceiling) for p in found.front), strict=True)
    )
    assert len(found.front) >= 5
    assert np.all(np.diff(masses_) > 0.0) and np.all(np.diff(flows) > 0.0)
    for height in np.linspace(10.0, 14.0, 3):
        for longer in np.linspace(0.0, 6.0, 4):
            sizes = {"nozzle.length": 12.5 + longer, "nozzle.exposed": 5.0 + longer, "block.height": height}
            result = sought(str(folder / "base.toml"), {key: f"{value} mm" for key, value in sizes.items()})
            weight = 1e3 * sum(masses(result.problem, result.system.space).values())
            beaten = (masses_ >= weight) & (flows < (result.flow_ceiling or 0.0) * (1.0 - 3e-3))
            assert not beaten.any()


def test_points_that_cannot_be_told_from_the_best_are_called_ties(folder: Path) -> None:
    found = carried_out(folder, FRONT, "front")
    best = max(found.front, key=lambda point: point.result.flow_ceiling or 0.0)
    assert best.behind is None and not best.tied
    for point in found.front:
        apart = 1.0 - (point.result.flow_ceiling or 0.0) / (best.result.flow_ceiling or 1.0)
        assert point is best or point.tied == (apart < 0.02)  # what weighing can tell


LIMITS = [
    ('mass = "15 g"', "mass is at its limit"),
    ('hottest.heat_break = { least = "205.2 degC" }', "heat break is at its limit"),
    ('temperature_tip = { least = "202 degC" }', "tip is at its limit"),
    ('zone_time = "8.5 s"\nat_flow = "6 mm^3/s"', "mean time in the melt zone is at its limit"),
    ('block.height = "11 mm"', "block height is at its limit"),
]


@pytest.mark.parametrize(("text", "said"), LIMITS)
def test_any_number_may_be_limited_and_the_limit_is_met(folder: Path, text: str, said: str) -> None:
    vary = '[vary]\nnozzle.longer = ["0 mm", "6 mm"]\n' + (
        'block.height = ["10 mm", "14 mm"]\n' if "block" in text else ""
    )
    found = carried_out(folder, f"{AIM}{vary}[limits]\n{text}\n", "limited")
    assert found.answer is not None and any(said in reason for reason in found.binding), found.binding
    [limit] = found.design.limits
    value = found.answer.judged[limit.name]
    assert value is not None and max(limit.excesses(value)) <= 3e-3
    assert (found.answer.result.flow_ceiling or 0.0) >= (found.start.result.flow_ceiling or 0.0) * 0.99


def test_the_dearest_material_counts_as_the_price_class(folder: Path) -> None:
    choice = '[choose]\nsleeve.material = ["copper", "brass"]\n[price_class]\ncopper = 3\nbrass = 1\n'
    text = f'case = "sleeved.toml"\n[aim]\nmaximise = "ceiling"\n{choice}[limits]\nprice_class = 2\n'
    found = carried_out(folder, text, "priced")
    assert found.written == {"sleeve.material": "brass"}
