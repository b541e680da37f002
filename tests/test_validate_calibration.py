"""Calibration end to end: parameters that the data were made with, saturation, intervals, errors, files, the command."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import heated_tube
import pytest
from outputs import COARSE, assert_drawn
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.inputs.uncertain import uncertain_inputs
from meltzone.cases.outputs import validate as shown
from meltzone.cases.outputs.calibrated_text import calibrated_text
from meltzone.cases.outputs.calibration_words import interval_words, verdicts
from meltzone.cases.outputs.files import carried_out
from meltzone.cases.outputs.result import width
from meltzone.cases.outputs.validate import OURS
from meltzone.cases.outputs.validate_figure import validation_figure
from meltzone.cases.studies.run import ceiling, sought
from meltzone.cases.studies.validation.measurements import load_measured
from meltzone.cases.studies.validation.outcome import CeilingChange, Predicted, Validation
from meltzone.cases.studies.validation.validate import validate

FLOW_TEMPERATURE = {"polymer.flow_temperature": "165 degC"}  # what the made-up data are made with


@cache
def _flow(case: str, key: str, value: str, fan: bool = False) -> float:
    found = sought(case, {key: value, "surroundings.fan": fan, **COARSE}).flow_ceiling
    assert found is not None
    return found


def _row(name: str, flow: float, *more: str, case: str = "short-block") -> str:
    lines = ["[[row]]", f'name = "{name}"', f'case = "{case}"', f'ceiling = "{flow!r} mm^3/s"', *more]
    return "\n".join(lines) + "\n"


def _write(folder: Path, *rows: str, top: str = 'uncertainty = "4 %"\n') -> Path:
    path = folder / "bench.toml"
    path.write_text(top + "".join(rows), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def recovered(tmp_path_factory: pytest.TempPathFactory) -> Validation:
    """Data made by the solver at a flow temperature of 165 degC, calibrated from the card's."""
    (key, value) = next(iter(FLOW_TEMPERATURE.items()))
    rows = (
        _row("still", _flow("short-block", key, value), "calibrates = true"),
        _row(
            "fan", _flow("short-block", key, value, fan=True), 'compared_with = "still"', "set.surroundings.fan = true"
        ),
    )
    return validate(_write(tmp_path_factory.mktemp("made"), *rows), key, COARSE)


def test_a_known_temperature_is_recovered(recovered: Validation) -> None:
    calibration = recovered.calibration
    assert calibration is not None
    (number,) = calibration.numbers
    assert number.value - 273.15 == pytest.approx(165.0, abs=0.05)
    assert calibration.fit.chi_square < 1e-3
    assert calibration.single == number
    assert (number.edge, calibration.unreached, verdicts(calibration)) == (None, (), [])
    fan = recovered.rows[1]
    assert fan.ceiling == pytest.approx(fan.measured, rel=1e-3)
    (change,) = recovered.changes
    assert change.miss == pytest.approx(0.0, abs=0.02)
    assert recovered.mean_error == pytest.approx(abs(fan.error))
    assert recovered.worst is fan, "the row that calibrates is no prediction"


def test_the_interval_is_that_of_one_measurement(recovered: Validation) -> None:
    """One row and one number: at the ends of the 95 % interval the ceiling is the measured one -+ 1.96 uncertainties."""
    still = recovered.rows[0]
    assert still.low == pytest.approx(still.measured - 1.96 * still.uncertainty, rel=2e-3)
    assert still.high == pytest.approx(still.measured + 1.96 * still.uncertainty, rel=2e-3)
    fan = recovered.rows[1]
    assert fan.low < fan.ceiling < fan.high


def test_a_known_contact_is_recovered_from_two_rows_in_its_logarithm(tmp_path: Path) -> None:
    key = "contacts.bore_melt"
    names = ("short-block", "long-block")
    rows = [_row(name, _flow(name, key, "2500 W/m^2/K"), "calibrates = true", case=name) for name in names]
    top = 'uncertainty = "2 %"\n'
    found = validate(_write(tmp_path, *rows, top=top), None, COARSE)
    assert found.calibration is not None
    (number,) = found.calibration.numbers
    assert number.value == pytest.approx(2500.0, rel=1e-5)
    low, high = number.low, number.high
    assert low is not None and high is not None
    assert high / 2500.0 > 2500.0 / low, "the ceiling flattens towards good contact"
    assert (found.mean_error, found.worst) == (None, None)


def test_a_ceiling_that_no_contact_reaches_is_said_to_be_out_of_reach(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    heated_tube.stand_in(monkeypatch)
    best = heated_tube.flow_of("short-block", ("contacts.bore_melt", "1e7 W/m^2/K"))
    found = validate(_write(tmp_path, _row("eager", 1.2 * best, "calibrates = true")), None, COARSE)
    calibration = found.calibration
    assert calibration is not None
    (number,) = calibration.numbers
    assert (number.edge, number.high) == ("high", None)
    assert number.value == pytest.approx(number.limits[1])
    (said,) = calibration.unreached
    assert "No value of contacts.bore_melt" in said and f"{1.2 * best:.4g}" in said and f"{best:.4g}" in said
    assert "no upper bound" in interval_words(number)
    assert "not an estimate" in " ".join(verdicts(calibration))
    assert "No value of" in " ".join(calibrated_text(found).replace("#", " ").split())


def test_the_number_is_carried_on_with_its_uncertainty(recovered: Validation, tmp_path: Path) -> None:
    """A standard deviation of a normal distribution is a quarter of its 95 % interval, to within 2 %."""
    calibration, text = recovered.calibration, calibrated_text(recovered)
    assert calibration is not None and text is not None
    (number,) = calibration.numbers
    assert number.low and number.high
    path = tmp_path / "carried.toml"
    path.write_text(f'extends = "short-block"\n{text}', encoding="utf-8")
    case = load_case(path)
    assert case.model.polymer.flow_temperature == pytest.approx(number.value, abs=0.06)
    (carried,) = uncertain_inputs(case)
    assert carried.key == "polymer.flow_temperature"
    assert carried.deviation == pytest.approx((number.high - number.low) / 4.0, rel=0.07)  # two digits
    banded, loose = (
        ceiling(path, {**COARSE, **more}).band
        for more in ({}, {"polymer.flow_temperature": f"{number.value - 273.15} degC"})
    )
    assert banded is not None and banded.narrowed is not None and loose is not None and loose.narrowed is None
    narrower = 100.0 * (1.0 - (banded.high - banded.low) / (loose.high - loose.low))
    assert banded.narrowed == pytest.approx(narrower, abs=1.0) and narrower > 5.0
    assert f"1 of the numbers makes it {banded.narrowed:.0f} % narrower" in width(banded).notes[-1]


def test_without_calibrating_rows_the_case_s_own_number_predicts(tmp_path: Path) -> None:
    found = validate(_write(tmp_path, _row("plain", 13.0)), None, COARSE)
    (row,) = found.rows
    assert found.calibration is None
    assert row.ceiling == row.low == row.high == pytest.approx(sought("short-block", COARSE).flow_ceiling)
    assert calibrated_text(found) is None


BAD = {
    "unknown case": (_row("a", 13.0, case="shrt-block"), None, "case", "short-block"),
    "unknown key in a row": (_row("a", 13.0, 'set.heater.sepoint = "1 degC"'), None, "set.heater.sepoint", "setpoint"),
    "bad value in a row": (_row("a", 13.0, 'set.heater.setpoint = "215"'), None, "set.heater.setpoint", "with its unit"),
    "part that does not fit": (_row("a", 13.0, 'set.nozzle.bore = "1 mm"'), None, None, 'row "a"'),
    "free in a row": (
        _row("a", 13.0, "calibrates = true", 'set.contacts.bore_melt = "5000 W/m^2/K"'), None,
        "set.contacts.bore_melt", "no value of its own",
    ),
    "free is no key": (_row("a", 13.0), "contacts.bore", "free", "contacts.bore_melt"),
    "free is a word": (_row("a", 13.0), "nozzle.material", "free", "one number"),
    "free is not there": (_row("a", 13.0, "calibrates = true"), "sleeve.height", "sleeve.height", "above zero"),
}  # fmt: skip


@pytest.mark.parametrize("what", BAD)
def test_bad_rows_name_the_file_and_the_row(tmp_path: Path, what: str) -> None:
    text, free, key, words = BAD[what]
    with pytest.raises(CaseError) as caught:
        validate(_write(tmp_path, text), free)
    message = " ".join(str(caught.value).split())
    assert words in message
    if key is not None:
        assert caught.value.key == key
    if free is None:
        assert "bench.toml" in message
        assert "line 2" in message


def test_cases_beside_the_file_come_before_shipped_ones(tmp_path: Path) -> None:
    (tmp_path / "short-block").write_text('extends = "short-block.toml"\n', encoding="utf-8")
    (tmp_path / "short-block.toml").write_text('[heater]\nsetpoint = "232 degC"\n', encoding="utf-8")
    found = validate(_write(tmp_path, _row("mine", 13.0)), None, COARSE)
    hotter = sought("short-block", {"heater.setpoint": "232 degC", **COARSE}).flow_ceiling
    assert found.rows[0].ceiling == pytest.approx(hotter)


def _made_up(folder: Path, name: str, measured: float, predicted: float) -> Predicted:
    row = load_measured(_write(folder, _row(name, measured))).rows[0]
    return Predicted(row, predicted, 0.9 * predicted, 1.1 * predicted, "melt")


def test_errors_and_changes_are_those_of_the_definition(tmp_path: Path) -> None:
    base, fan = _made_up(tmp_path, "base", 20.0, 21.0), _made_up(tmp_path, "fan", 18.0, 18.9)
    change = CeilingChange(fan, base)
    assert (base.error, fan.error) == (pytest.approx(5.0), pytest.approx(5.0))
    assert (change.measured, change.predicted) == (pytest.approx(-10.0), pytest.approx(-10.0))
    assert change.uncertainty == pytest.approx(90.0 * 2.0**0.5 * 0.04)
    nothing = CeilingChange(fan, _made_up(tmp_path, "cold", 20.0, 0.0))
    assert (nothing.predicted, nothing.miss) == (None, None)


def test_the_command_writes_what_another_case_takes_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    best = _flow("short-block", "contacts.bore_melt", "1e7 W/m^2/K")
    _write(tmp_path, _row("$first_", 0.97 * best, "calibrates = true"), _row("fan", 13.0, 'compared_with = "$first_"'))
    done = CliRunner().invoke(app, ["validate", "bench.toml", "--set", "mesh.level=0.25"])
    assert done.exit_code == 0, done.output
    for word in ("contacts.bore_melt = ", "no upper bound", "mean error", "Changes", "Cautions", "qualified people"):
        assert word in done.stdout
    folder = Path("meltzone-out/validate-bench")
    assert sorted(path.name for path in folder.iterdir()) == sorted(set(OURS) - {"curves.png"})
    assert_drawn(folder / "validation.png")
    record = json.loads((folder / "validation.json").read_text(encoding="utf-8"))
    assert [row["name"] for row in record["rows"]] == ["$first_", "fan"]
    assert record["calibration"]["high_95"] is None
    Path("mine.toml").write_text(f'extends = ["{folder}/calibrated.toml", "short-block"]\n', encoding="utf-8")
    mine = load_case("mine.toml")
    assert f"{mine.model.contacts.bore_melt:g} W/m²/K" == record["calibration"]["value"]
    assert mine.model.title == load_case("short-block").model.title
    assert done.stdout.endswith(f'extends = ["{folder}/calibrated.toml", "short-block"]\n')


def test_a_row_named_on_the_command_line_calibrates_as_if_marked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    heated_tube.stand_in(monkeypatch)
    best = heated_tube.flow_of("short-block", ("contacts.bore_melt", "1e7 W/m^2/K"))
    given = {}
    for name, mark, option in (("marked", "calibrates = true", []), ("named", "", ["--calibrate", "a"])):
        path = _write(tmp_path, _row("a", 0.97 * best, mark), _row("b", 13.0)).rename(f"{name}.toml")
        done = CliRunner().invoke(app, ["validate", path.name, "--out", name, "--set", "mesh.level=0.25", *option])
        assert done.exit_code == 0, done.output
        given[name] = json.loads(Path(name, "validation.json").read_text(encoding="utf-8"))
    assert given["named"]["calibration"] == given["marked"]["calibration"]
    assert given["named"]["rows"] == given["marked"]["rows"]
    with pytest.raises(CaseError, match=r"(?s)--calibrate.*the name of a row.*named\.toml: a, b"):
        load_measured("named.toml").calibrating(["c"])


OLDER = {
    ".json": b"{}",
    ".png": b"\x89PNG older",
    ".html": b"<!DOCTYPE html>",
    ".toml": b"# older",
}  # files of our kinds


def test_what_fails_leaves_an_older_validation_alone(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    for name in (*OURS, "result.json", "notes.txt"):
        (folder / name).write_bytes(OLDER.get(Path(name).suffix, b"older"))
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    wrong = _write(tmp_path, _row("a", 13.0, 'set.heater.setpoint = "9 mm"'))
    with pytest.raises(CaseError):
        carried_out(lambda: validate(wrong), shown, folder)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    right = _write(tmp_path, _row("a", 13.0))
    carried_out(lambda: validate(right, overrides=COARSE), shown, folder)
    kept = {path.name for path in folder.iterdir() if path.read_bytes() == before.get(path.name)}
    assert kept == {"result.json", "notes.txt"}, "no calibrated.toml is left of a calibration that was not made"
    assert not (folder / "calibrated.toml").exists()


@pytest.mark.parametrize(
    "arguments",
    [["nothing-here"], ["hot-ends-in-practice", "--free", "heater"], ["hot-ends-in-practice", "--out", "file"]],
)
def test_the_command_refuses_with_one_message(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("file").write_text("mine", encoding="utf-8")
    done: Any = CliRunner().invoke(app, ["validate", *arguments])
    assert done.exit_code == 2
    assert "expected:" in done.stderr and "Traceback" not in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_progress_is_told_value_by_value_and_row_by_row(recovered: Validation, tmp_path: Path) -> None:
    told: list[str] = []
    validate(_write(tmp_path, _row("a", 13.0), _row("b", 12.0)), None, COARSE, told.append)
    assert told == ["predicting row 1 of 2: a", "predicting row 2 of 2: b"]


def test_the_picture_shows_every_row_and_both_kinds(recovered: Validation, tmp_path: Path) -> None:
    figure = validation_figure(recovered)
    beside, against = figure.axes
    assert [label.get_text() for label in beside.get_yticklabels()] == ["1  still", "2  fan"]
    assert next(text.get_text() for text in beside.texts) == "calibrates"
    assert [text.get_text() for text in against.texts] == ["1", "2"]
