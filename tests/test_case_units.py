"""Quantities as people write them, checked against the unit library pint and against literals."""

from __future__ import annotations

import math
import subprocess
import sys

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meltzone.materials import units
from meltzone.materials.units import Kind, UnitError, parse, show

REGISTRY = pint.UnitRegistry()
KINDS = [value for value in vars(units).values() if isinstance(value, Kind)]


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("1.75 mm", units.LENGTH, 1.75e-3),
        ("1.75mm", units.LENGTH, 1.75e-3),
        ("  12.5  mm ", units.LENGTH, 12.5e-3),
        ("400 µm", units.LENGTH, 400e-6),
        ("+1.2e1 cm", units.LENGTH, 0.12),
        ("210 degC", units.TEMPERATURE, 483.15),
        ("210 °C", units.TEMPERATURE, 483.15),
        ("-20 degC", units.TEMPERATURE, 253.15),
        ("300 K", units.TEMPERATURE, 300.0),
        ("10 K", units.TEMPERATURE_DIFFERENCE, 10.0),
        ("10 delta_degC", units.TEMPERATURE_DIFFERENCE, 10.0),
        ("12 mm^3/s", units.FLOW, 12e-9),
        ("12 mm³ / s", units.FLOW, 12e-9),
        ("0.195 W/m/K", units.CONDUCTIVITY, 0.195),
        ("0.195 W/(m K)", units.CONDUCTIVITY, 0.195),
        ("25 W/m**2/K", units.FILM, 25.0),
        ("60 deg", units.ANGLE, math.radians(60.0)),
        ("60°", units.ANGLE, math.radians(60.0)),
        ("1.5 rad", units.ANGLE, 1.5),
        ("40 W", units.POWER, 40.0),
        ("1.25 g", units.MASS, 1.25e-3),
        ("5 m/s", units.SPEED, 5.0),
        ("2 min", units.TIME, 120.0),
    ],
)
def test_usual_spellings_give_exactly_the_literal(text: str, kind: Kind, expected: float) -> None:
    assert parse(text, kind) == expected


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("0.5 inch", units.LENGTH, 12.7e-3),  # the inch is 25.4 mm exactly: international yard agreement, 1959
        ("410 degF", units.TEMPERATURE, 483.15),
        ("18 delta_degF", units.TEMPERATURE_DIFFERENCE, 10.0),
        ("1 J/s", units.POWER, 1.0),
        ("3600 mm/h", units.SPEED, 1e-3),
        ("5 W/m^2/degC", units.FILM, 5.0),
    ],
)
def test_unusual_units_are_converted(text: str, kind: Kind, expected: float) -> None:
    assert parse(text, kind) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_every_table_entry_agrees_with_pint(kind: Kind) -> None:
    for unit in kind.factors:
        spelled = unit.replace("mm3", "mm^3").replace("m3/", "m^3/").replace("m2", "m^2").replace("mm^^3", "mm^3")
        number, spelled = (0.75, spelled.replace("/10min", "/min")) if "/10min" in spelled else (7.5, spelled)
        reference = REGISTRY.Quantity(number, spelled).to(kind.unit.replace("/10min", "/min")).magnitude
        assert parse(f"7.5 {unit}", kind) == pytest.approx(reference, rel=1e-12), unit


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_examples_parse_and_show_as_written(kind: Kind) -> None:
    assert show(parse(kind.example, kind), kind) == kind.example


@given(st.floats(1e-3, 1e4).map(lambda value: float(f"{value:.5g}")), st.sampled_from(KINDS))
def test_what_is_shown_reads_back(value: float, kind: Kind) -> None:
    assert parse(show(parse(f"{value!r} {kind.shown}", kind), kind), kind) == pytest.approx(
        parse(f"{value!r} {kind.shown}", kind), rel=1e-5
    )


@pytest.mark.parametrize(
    ("value", "kind", "hint"),
    [
        (12, units.LENGTH, 'Write "12 mm", in quotes'),
        (12.5, units.LENGTH, 'Write "12.5 mm", in quotes'),
        ("12", units.LENGTH, 'Add the unit: "12 mm"'),
        (True, units.LENGTH, "as one string, in quotes"),
        (math.nan, units.LENGTH, "as one string, in quotes"),
        (["12 mm"], units.LENGTH, "as one string, in quotes"),
        ("mm", units.LENGTH, "Start with a finite number"),
        ("nan mm", units.LENGTH, "Start with a finite number"),
        ("inf mm", units.LENGTH, "Start with a finite number"),
        ("1,5 mm", units.LENGTH, "Decimals begin with a point"),
        ("1e400 mm", units.LENGTH, "out of all proportion"),
        ("1e14 km", units.LENGTH, "In SI units the number exceeds"),
        ("12 s", units.LENGTH, '"s" is not a unit of length'),
        ("12 furlogs", units.LENGTH, '"furlogs" is not a unit of length'),
        ("1 m^9^9^9", units.LENGTH, "cannot be read as a unit"),
        ("10 degC", units.TEMPERATURE_DIFFERENCE, "write K or delta_degC"),
        ("10 degF", units.TEMPERATURE_DIFFERENCE, "write K or delta_degC"),
        ("10 delta_degC", units.TEMPERATURE, "write degC or K"),
        ("-300 degC", units.TEMPERATURE, "Nothing is colder"),
        ("210 C", units.TEMPERATURE, '"C" is not a unit of temperature'),
    ],
)
def test_refusals_say_what_to_do(value: object, kind: Kind, hint: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse(value, kind)
    assert hint in caught.value.hint
    assert kind.example in caught.value.expected


@given(st.one_of(st.text(max_size=80), st.integers(), st.floats(), st.booleans(), st.none()), st.sampled_from(KINDS))
def test_anything_else_is_a_unit_error(value: object, kind: Kind) -> None:
    try:
        assert math.isfinite(parse(value, kind))
    except UnitError as error:
        assert error.expected and error.hint


@given(st.text("mKWs/*^()-_ 0123456789.e", max_size=40), st.sampled_from(KINDS))
def test_unit_like_text_never_hangs_or_breaks(text: str, kind: Kind) -> None:
    try:
        assert math.isfinite(parse("1 " + text, kind))
    except UnitError as error:
        assert error.hint


def test_ordinary_cases_do_not_load_pint() -> None:
    code = (
        "import sys; from meltzone.cases.inputs.reader import example_names, load_case; "
        "[load_case(name) for name in example_names()]; sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_what_rounding_leaves_of_no_length_is_none() -> None:
    assert units.show(1.727e-18, units.LENGTH) == "0 mm"
    assert units.show(1e-7, units.LENGTH) == "0.0001 mm"


def test_one_spelling_of_units() -> None:
    for written, read in (
        ("W/m^2/K", "W/m²/K"),
        ("W/m2/K", "W/m²/K"),
        ("mm3/s", "mm³/s"),
        ("kg/m3", "kg/m³"),
        ("degC", "degC"),
    ):
        assert units.spelled(written) == read
