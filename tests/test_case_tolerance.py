"""Tolerances in case files: what they mean, what is refused and where, and that everything else goes on as before."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from outputs import COARSE

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.inputs.tolerance import parse_percent, parse_toleranced, show_toleranced
from meltzone.cases.inputs.uncertain import problem_at, tolerances_of, uncertain_inputs
from meltzone.cases.outputs.record_head import inputs_of
from meltzone.cases.studies.run import ceiling, check
from meltzone.materials.units import ANGLE, CONDUCTANCE, CONDUCTIVITY, LENGTH, POWER, TEMPERATURE, Kind, UnitError

BASE = 'extends = "short-block"\n'


def case_of(folder: Path, text: str) -> Any:
    file = folder / "mine.toml"
    file.write_text(BASE + text, encoding="utf-8")
    return load_case(file)


@pytest.mark.parametrize(
    ("text", "kind", "value", "tolerance"),
    [
        ("0.195 +/- 0.02 W/m/K", CONDUCTIVITY, 0.195, 0.02),
        ("0.195 W/m/K ± 0.02 W/m/K", CONDUCTIVITY, 0.195, 0.02),
        ("0.195 W/m/K+-20 mW/m/K", CONDUCTIVITY, 0.195, 0.02),
        ("210 +/- 3 degC", TEMPERATURE, 483.15, 3.0),
        ("210 degC +/- 3 K", TEMPERATURE, 483.15, 3.0),
        ("210 °C ± 3", TEMPERATURE, 483.15, 3.0),
        ("210 degC +/- 3 delta_degC", TEMPERATURE, 483.15, 3.0),
        ("410 +/- 9 degF", TEMPERATURE, 483.15, 5.0),  # 9 Fahrenheit degrees are 5 K
        ("483.15 +/- 3 K", TEMPERATURE, 483.15, 3.0),
        ("4000 W/m^2/K +/- 30 %", CONDUCTANCE, 4000.0, 1200.0),
        ("60 deg +/- 18 %", ANGLE, 1.0471975511965976, 0.18849555921538758),
        ("12.5 mm +/- 10 um", LENGTH, 0.0125, 1e-5),
        ("12.5 mm", LENGTH, 0.0125, 0.0),
    ],
)
def test_a_tolerance_in_any_spelling(text: str, kind: Kind, value: float, tolerance: float) -> None:
    found = parse_toleranced(text, kind)
    assert found.value == pytest.approx(value, rel=1e-12)
    assert found.tolerance == pytest.approx(tolerance, rel=1e-10)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("210 degC +/- 3 %", TEMPERATURE),  # of what zero?
        ("1 +/- 2 +/- 3 mm", LENGTH),
        ("1 mm +/- -2 mm", LENGTH),
        ("1 mm +/- 0 mm", LENGTH),
        ("1 mm +/- 2 kg", LENGTH),
        ("1 +/- 2", LENGTH),
        ("+/- 3 mm", LENGTH),
        ("1 mm +/-", LENGTH),
        ("1 mm +/- nan mm", LENGTH),
        ("40 W +/- 101 %", POWER),
        ("40 W +/- 0 %", POWER),
    ],
)
def test_tolerances_that_mean_nothing_are_refused(text: str, kind: Kind) -> None:
    with pytest.raises(UnitError):
        parse_toleranced(text, kind)


@given(
    st.sampled_from([LENGTH, TEMPERATURE, ANGLE, CONDUCTANCE, POWER]),
    st.floats(1e-3, 900.0),
    st.floats(1e-4, 100.0),
)
def test_what_is_written_reads_the_same(kind: Kind, value: float, tolerance: float) -> None:
    value = round(value, 3) + (273.15 if kind is TEMPERATURE else 0.0)
    again = parse_toleranced(show_toleranced(value, tolerance, kind), kind)
    assert again.value == pytest.approx(value, rel=1e-5)
    assert again.tolerance == pytest.approx(tolerance, rel=1e-4)


@given(st.text(max_size=40))
def test_no_text_breaks_the_reading(text: str) -> None:
    for written in (text, f"12 {text} +/- 3 mm", f"12 mm +/- {text}"):
        for read in (lambda w: parse_toleranced(w, LENGTH), parse_percent):
            try:
                read(written)
            except UnitError as error:
                assert error.expected and error.hint


ALL = """
[heater]
setpoint = "215 +/- 3 degC"
[contacts]
bore_melt = "9000 W/m^2/K +/- 30 %"
[surroundings]
films = { nozzle = "25 +/- 5 W/m^2/K" }
[uncertainty]
polymer.conductivity = "10 %"
polymer.flow_temperature = "5 K"
nozzle.emissivity = "30 %"
"""


def test_all_tolerances_of_a_case_are_found(tmp_path: Path) -> None:
    case = case_of(tmp_path, ALL)
    found = {item.key: item.deviation for item in uncertain_inputs(case)}
    assert found == pytest.approx(
        {
            "heater.setpoint": 3.0,
            "contacts.bore_melt": 2700.0,
            "surroundings.films.nozzle": 5.0,
            "uncertainty.polymer.conductivity": 0.1,
            "uncertainty.polymer.flow_temperature": 5.0,
            "uncertainty.nozzle.emissivity": 0.3,
        }
    )
    assert case.model.heater.setpoint == 488.15


def test_no_input_has_a_tolerance_by_default() -> None:
    assert uncertain_inputs(load_case("short-block")) == ()


def test_a_nearer_file_takes_the_tolerance_with_the_value(tmp_path: Path) -> None:
    case_of(tmp_path, ALL)
    over = load_case(tmp_path / "mine.toml", {"heater.setpoint": "215 degC", "contacts.thread": "8000 +/- 500 W/m^2/K"})
    found = tolerances_of(over)
    assert "heater.setpoint" not in found and found["contacts.thread"] == pytest.approx(500.0)


def test_values_go_where_they_belong(tmp_path: Path) -> None:
    case = case_of(tmp_path, ALL)
    plain = problem_at(case, {})
    moved = problem_at(
        case,
        {
            "heater.setpoint": 490.0,
            "surroundings.films.nozzle": 31.0,
            "uncertainty.polymer.conductivity": 1.1,
            "uncertainty.polymer.flow_temperature": 4.0,
            "uncertainty.nozzle.emissivity": 0.5,
            "nozzle.bore": 2.05e-3,
        },
    )
    assert moved.operation.setpoint == 490.0
    assert set(moved.surroundings.films.values()) == {31.0} and len(moved.surroundings.films) > 3
    assert float(moved.materials.polymer.conductivity(400.0)) == pytest.approx(
        1.1 * float(plain.materials.polymer.conductivity(400.0))
    )
    assert moved.materials.polymer.flow_temperature == plain.materials.polymer.flow_temperature + 4.0
    assert moved.surroundings.emissivities["nozzle"] == pytest.approx(0.5 * plain.materials.nozzle.emissivity)
    assert moved.arrangement.nozzle.bore == moved.arrangement.heat_break.bore == 2.05e-3


def test_the_solver_takes_no_notice_of_tolerances(tmp_path: Path) -> None:
    plain = {
        "heater.setpoint": "215 degC",
        "contacts.bore_melt": "9000 W/m^2/K",
        "surroundings.films.nozzle": "25 W/m^2/K",
    }
    case_of(tmp_path, ALL)
    assert ceiling(tmp_path / "mine.toml", COARSE).flow_ceiling == ceiling("short-block", COARSE | plain).flow_ceiling


def test_the_record_keeps_them_and_reads_back(tmp_path: Path) -> None:
    case = case_of(tmp_path, ALL)
    inputs = inputs_of(case)
    assert inputs["heater"]["setpoint"] == "215 degC +/- 3 K"
    assert inputs["surroundings"]["films"] == {"nozzle": "25 W/m^2/K +/- 5 W/m^2/K"}
    flat = {f"{t}.{k}": v for t, table in inputs.items() if isinstance(table, dict) for k, v in table.items()}
    again = load_case("short-block", {key: value for key, value in flat.items() if value is not None})
    assert {i.key: i.deviation for i in uncertain_inputs(again)} == pytest.approx(
        {i.key: i.deviation for i in uncertain_inputs(case)}
    )


@pytest.mark.parametrize(
    ("text", "key", "words"),
    [
        (
            '[uncertainty]\npolymer.conductivty = "10 %"',
            "uncertainty.polymer.conductivty",
            "Did you mean conductivity?",
        ),
        ('[uncertainty]\nfilament.density = "1 %"', "uncertainty.filament", "one of polymer"),
        ('[uncertainty]\npolymer.density = "12 kg/m^3"', "uncertainty.polymer.density", "a percentage"),
        ('[uncertainty]\npolymer.melting_peak = "3 degC"', "uncertainty.polymer.melting_peak", "difference"),
        ('[uncertainty]\npolymer.melting_peak = "3 %"', "uncertainty.polymer.melting_peak", "difference"),
        ('[uncertainty]\nblock.density = "1 %"', "uncertainty.block.density", "one of conductivity, emissivity"),
        ('[uncertainty]\npolymer = "10 %"', "uncertainty.polymer", "a table"),
        ("[uncertainty]\npolymer.density = 0.1", "uncertainty.polymer.density", "text"),
        (
            '[polymer]\nflow_temperature = "160 degC"\n[uncertainty]\npolymer.flow_temperature = "5 K"',
            "uncertainty.polymer.flow_temperature",
            "the case itself gives",
        ),
        ('[heater]\nsetpoint = "210 +/- 3 %"', "heater.setpoint", "tolerance"),
    ],
)
def test_faults_name_file_line_and_key(tmp_path: Path, text: str, key: str, words: str) -> None:
    with pytest.raises(CaseError) as caught:
        case_of(tmp_path, text)
        check(tmp_path / "mine.toml")
    message = " ".join(str(caught.value).split())
    assert caught.value.key == key and caught.value.line is not None and "mine.toml" in message
    assert words in message
