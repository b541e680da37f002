"""A user's own card: what may be written, and one clear error for what may not."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meltzone.materials import units
from meltzone.materials.library import CardError, card_from_mapping, polymer
from meltzone.materials.polymer import Polymer
from meltzone.materials.solid import Solid
from meltzone.materials.viscosity import CarreauArrhenius

ZERO = 273.15
# Invented data, for these tests only.
OWN: dict[str, Any] = {
    "kind": "polymer",
    "conductivity": {"temperature": [23, 200], "values": [0.2, 0.25], "unit": "W/m/K", "source": "own measurement"},
    "heat_capacity": "2.0 J/g/K",
    "density": {"value": "1.1 g/cm3"},
    "softening_temperature": "70 degC",
    "flow_temperature": "453.15 K",
    "degradation_temperature": "482 degF",
}
SOLID: dict[str, Any] = {
    "kind": "solid",
    "conductivity": "50 W/m/K",
    "heat_capacity": "500 J/kg/K",
    "density": "7800 kg/m3",
    "emissivity": 0.3,
}


def own(**changes: Any) -> dict[str, Any]:
    mapping = copy.deepcopy(OWN) | changes
    return {key: value for key, value in mapping.items() if value is not None}


def error_of(mapping: dict[str, Any]) -> CardError:
    with pytest.raises(CardError) as caught:
        card_from_mapping("mine", mapping, "case.toml")
    message = str(caught.value)
    assert message.startswith("case.toml: ")
    assert caught.value.key in message
    assert caught.value.expected in message
    assert caught.value.hint in message
    assert "\n" not in message
    return caught.value


def test_a_whole_card() -> None:
    found = card_from_mapping("mine", own(), "case.toml")
    assert isinstance(found, Polymer)
    assert found.key == found.label == "mine"
    assert found.heat_capacity(300.0) == pytest.approx(2000.0)
    assert found.density(300.0) == pytest.approx(1100.0)
    assert found.flow_temperature == pytest.approx(180 + ZERO)
    assert found.degradation_temperature == pytest.approx(250 + ZERO)
    assert found.sources["conductivity"] == "own measurement"
    assert found.sources["density"] == found.sources["flow_temperature"] == "given in the case file"
    assert found.melting_enthalpy == 0.0


def test_a_solid() -> None:
    found = card_from_mapping("mine", SOLID, "case.toml")
    assert isinstance(found, Solid)
    assert found.emissivity == 0.3
    assert found.service_limit is None


def test_like_takes_the_rest_from_a_shipped_card() -> None:
    found = card_from_mapping("my pla", {"like": "PLA", "conductivity": "0.16 W/m/K"}, "case.toml")
    assert isinstance(found, Polymer)
    assert found.conductivity(450.0) == pytest.approx(0.16)
    assert found.sources["conductivity"] == "given in the case file"
    shipped = polymer("pla")
    assert found.label == "my pla"
    assert found.flow_temperature == shipped.flow_temperature
    assert found.sources["flow_temperature"] == shipped.sources["flow_temperature"]
    np.testing.assert_array_equal(found.density.values, shipped.density.values)


# Factors by hand: 1 cal = 4.184 J (thermochemical), 1 lb/ft3 = 0.45359237 kg / 0.3048^3 m3, 1 BTU/h/ft/degF = 1.730735
# W/m/K.
@pytest.mark.parametrize(
    ("key", "entry", "value"),
    [
        ("conductivity", "200 mW/m/K", 0.2),
        ("conductivity", "0.2 W/(m K)", 0.2),
        ("conductivity", "0.2 W/(m*K)", 0.2),
        ("conductivity", "0.2 W m^-1 K^-1", 0.2),
        ("conductivity", "0.1 BTU/hour/foot/delta_degF", 0.1730735),
        ("heat_capacity", "0.5 cal/g/K", 2092.0),
        ("heat_capacity", "2 kJ/kg/K", 2000.0),
        ("density", "1100 kg/m^3", 1100.0),
        ("density", "1.1 g/cm**3", 1100.0),
        ("density", "1.1 g/cm³", 1100.0),
        ("density", "70 lb/ft3", 70 * 0.45359237 / 0.3048**3),
    ],
)
def test_other_units(key: str, entry: str, value: float) -> None:
    found = card_from_mapping("mine", own(**{key: entry}), "case.toml")
    assert getattr(found, key)(300.0) == pytest.approx(value, rel=1e-5)


def test_tables_with_units_in_every_entry() -> None:
    entry = {"temperature": ["300 K", "200 degC"], "values": ["0.2 W/m/K", "250 mW/m/K"]}
    found = card_from_mapping("mine", own(conductivity=entry), "case.toml")
    np.testing.assert_allclose(found.conductivity.temperatures, [300.0, 473.15])
    np.testing.assert_allclose(found.conductivity.values, [0.2, 0.25])


def test_a_melting_peak_and_its_default_width() -> None:
    found = card_from_mapping("mine", own(melting_enthalpy="20 J/g", melting_peak="160 degC"), "case.toml")
    assert isinstance(found, Polymer)
    assert (found.melting_enthalpy, found.melting_width) == (20e3, 20.0)
    assert "assumed" in found.sources["melting_width"]


def test_a_viscosity_law() -> None:
    entry = {
        "n": 0.3,
        "tau_star": "100 kPa",
        "D1": "1e10 Pa s",
        "D2": "100 degC",
        "A1": 20,
        "A2": "51.6 K",
        "source": "own measurement",
    }
    found = card_from_mapping("mine", own(viscosity=entry), "case.toml")
    assert isinstance(found, Polymer)
    assert found.viscosity is not None
    assert found.viscosity.tau_star == 1e5
    assert found.sources["viscosity"] == "own measurement"
    assert error_of(own(viscosity=entry | {"n": None, "m": 0.3})).key == "viscosity.m"
    assert error_of(own(viscosity=entry | {"law": "Carreau"})).key == "viscosity.law"
    assert error_of(own(viscosity=entry | {"measured_rates": [100, 1]})).key == "viscosity.measured_rates"


def test_a_law_of_the_other_kind_and_where_it_was_measured() -> None:
    entry = {
        "law": "Carreau-Arrhenius",
        "n": 0.4,
        "tau_star": "60 kPa",
        "rest": "3000 Pa s",
        "T0": "210 degC",
        "E": "70 kJ/mol",
    }
    found = card_from_mapping("mine", own(viscosity=entry | {"measured_temperatures": [190, 230]}), "case.toml")
    assert isinstance(found, Polymer)
    law = found.viscosity
    assert isinstance(law, CarreauArrhenius) and law.temperatures == (463.15, 503.15) and law.rates is None
    assert (law.rest, law.T0, law.E) == (3000.0, 483.15, 70e3)


@pytest.mark.parametrize(
    ("changes", "key", "in_hint"),
    [
        ({"conductivity": "0.2 J/m/K"}, "conductivity", "W/m/K"),
        ({"conductivity": "0.2 furlongs"}, "conductivity", "W/m/K"),
        ({"conductivity": "0.2 W/(("}, "conductivity", "W/m/K"),
        ({"conductivity": "-0.2 W/m/K"}, "conductivity", "unit"),
        ({"conductivity": 0.2}, "conductivity", "unit"),
        ({"conductivity": "fast"}, "conductivity", "unit"),
        ({"conductivity": True}, "conductivity", "spelling"),
        ({"conductivity": {"value": "0.2 W/m/K", "sorce": "x"}}, "conductivity.sorce", "source"),
        ({"conductivity": {"value": "0.2 W/m/K", "source": 3}}, "conductivity.source", "quotation"),
        (
            {"conductivity": {"temperature": [200, 23], "values": [1, 2], "unit": "W/m/K"}},
            "conductivity.temperature",
            "Sort",
        ),
        (
            {"conductivity": {"temperature": [23, 23], "values": [1, 2], "unit": "W/m/K"}},
            "conductivity.temperature",
            "Sort",
        ),
        (
            {"conductivity": {"temperature": [23, 99], "values": [1], "unit": "W/m/K"}},
            "conductivity.values",
            "values = [...]",
        ),
        (
            {"conductivity": {"temperature": [23, 99], "values": [1, 2, 3], "unit": "W/m/K"}},
            "conductivity.values",
            "Count",
        ),
        ({"conductivity": {"temperature": [23, 99], "values": [1, 2]}}, "conductivity.values", "unit"),
        (
            {"conductivity": {"temperature": [23, 99], "values": [1, -2], "unit": "W/m/K"}},
            "conductivity.values",
            "Check",
        ),
        ({"conductivity": {"value": "1 W/m/K", "values": [1, 2]}}, "conductivity.value", "one of the two"),
        ({"conductivity": {"unit": "W/m/K"}}, "conductivity.temperature", "value"),
        ({"conductivity": {"value": "1 W/m/K", "valid_range": [200, 20]}}, "conductivity.valid_range", "Such as"),
        ({"conductivity": None}, "conductivity", "like"),
        ({"heat_capacity": "2 J/kg/K"}, "heat_capacity", "Check the number"),
        ({"density": "1.1 kg/m3"}, "density", "Check the number"),
        ({"density": float("nan")}, "density", "unit"),
        ({"flow_temperature": "180"}, "flow_temperature", "unit"),
        ({"flow_temperature": "1800 mm"}, "flow_temperature", "not a unit of temperature"),
        ({"softening_temperature": "200 degC"}, "softening_temperature", "softens before"),
        ({"melting_enthalpy": "20 J/g"}, "melting_peak", "like"),
        ({"melting_width": "20 degC"}, "melting_width", "difference"),
        (
            {"melting_enthalpy": "101 J/g", "melting_peak": "160 degC", "melting_width": "2 K"},
            "melting_width",
            "full width",
        ),
        ({"conductivty": "0.2 W/m/K"}, "conductivty", "conductivity"),
        ({"emissivity": 0.9}, "emissivity", ""),
        ({"kind": "metal"}, "kind", "properties"),
        ({"kind": "air"}, "kind", "Air"),
        ({"kind": None}, "kind", "properties"),
        ({"fumes": 3}, "fumes", "quotation"),
        ({"viscosity": "thick"}, "viscosity", ""),
    ],
)
def test_bad_cards(changes: dict[str, Any], key: str, in_hint: str) -> None:
    error = error_of(own(**changes))
    assert error.key == key
    assert in_hint.lower() in error.hint.lower()


@pytest.mark.parametrize(
    "entry",
    [
        "110 W/m/K**9**9**9",
        "110 W/m/K^9^9^9",
        f"110 {'m' * 20_000}",
        f"110{' ' * 20_000}x",
        f"{'1' * 20_000} W/m/K",
        {"value": 110, "unit": f"W/m/K{' * K' * 9_000}"},
        {"temperature": [23, 200], "values": [1, 2], "unit": "W/m/K**9**9**9"},
    ],
)
def test_what_would_keep_a_unit_library_busy_never_reaches_it(entry: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Towers of powers would be evaluated, endless names looked up; the message stays short too."""

    def reached() -> None:
        raise AssertionError("the unit library was asked")

    monkeypatch.setattr(units, "_registry", reached)
    error = error_of(own(conductivity=entry))
    assert error.key.startswith("conductivity") and len(str(error)) < 500


@pytest.mark.parametrize(("like", "hint"), [("plaa", "pla"), ("brass2", "brass"), (7, "")])
def test_like_a_card_that_is_not_there(like: Any, hint: str) -> None:
    error = error_of({"like": like})
    assert error.key == "like"
    assert hint in error.hint


def test_like_with_another_kind() -> None:
    assert error_of({"like": "pla", "kind": "solid"}).key == "kind"


@pytest.mark.parametrize(
    ("entry", "key"), [(1.2, "emissivity"), (-0.1, "emissivity"), ("0.3 W", "emissivity"), (None, "emissivity")]
)
def test_bad_emissivity(entry: Any, key: str) -> None:
    mapping = {k: v for k, v in (SOLID | {"emissivity": entry}).items() if v is not None}
    assert error_of(mapping).key == key


junk = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
words = st.sampled_from(["value", "values", "temperature", "unit", "source", "sources", "note", "valid_range"])


@given(
    st.sampled_from([*OWN, "fumes", "label", "like", "viscosity", "melting_width"]), junk | st.dictionaries(words, junk)
)
def test_anything_at_all_is_either_read_or_refused_with_one_error(key: str, entry: Any) -> None:
    try:
        found = card_from_mapping("mine", copy.deepcopy(OWN) | {key: entry}, "case.toml")
    except CardError as error:
        assert str(error).startswith("case.toml: ")
    else:
        assert isinstance(found, Polymer)


@given(st.floats(0.01, 1.0), st.floats(500.0, 4000.0), st.floats(500.0, 3000.0))
def test_numbers_come_back_as_written(k: float, c: float, rho: float) -> None:
    mapping = own(conductivity=f"{k!r} W/m/K", heat_capacity=f"{c!r} J/kg/K", density=f"{rho!r} kg/m3")
    found = card_from_mapping("mine", mapping, "case.toml")
    assert (found.conductivity(400.0), found.heat_capacity(400.0), found.density(400.0)) == (k, c, rho)
