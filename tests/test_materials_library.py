"""The library: every card complete, sourced and within physical bounds; names and near misses; cost of loading."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from importlib import resources
from typing import Any

import numpy as np
import pytest

from meltzone.cases.outputs.material_rows import doubts
from meltzone.materials import library
from meltzone.materials.polymer import Polymer
from meltzone.materials.reading import DEFAULT_SOURCE
from meltzone.materials.solid import Solid

ZERO = 273.15
SOLIDS = {
    "brass", "copper", "plated_steel", "carbon_steel", "tool_steel", "stainless_steel", "aluminium", "titanium",
    "tungsten_carbide", "silicone_rubber", "polyimide", "ptfe", "ceramic_fibre",
}  # fmt: skip
METALS = SOLIDS - {"silicone_rubber", "polyimide", "ptfe", "ceramic_fibre", "tungsten_carbide"}
CARDS = [*library.names(), "air"]


def material(name: str) -> Polymer | Solid:
    return library.polymer(name) if name in library.names("polymer") else library.solid(name)


def written(name: str) -> dict[str, Any]:
    text = (resources.files("meltzone.materials.cards") / f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@pytest.mark.parametrize("name", library.names())
def test_every_number_from_memory_has_a_range(name: str) -> None:
    """On its card, or assumed from the kind of its source and shown as a row of the material's page."""
    found = material(name)
    shown = {words for words, _, _ in doubts(found)}
    remembered = {place.split(" at ")[0] for place, source in found.sources.items() if "from memory" in source}
    assert [key for key in sorted(remembered - set(found.ranges)) if key.replace("_", " ") not in shown] == []


def test_names() -> None:
    assert set(library.names("solid")) == SOLIDS
    assert library.names() == sorted(library.names("solid") + library.names("polymer"))


@pytest.mark.parametrize("name", CARDS)
def test_every_number_of_a_card_has_its_source(name: str) -> None:
    for key, entry in written(name).items():
        if not isinstance(entry, dict):
            assert not isinstance(entry, int | float), f"{key} is a number without a source"
            continue
        rows = entry.get("sources")
        assert rows or entry.get("source"), f"{key} has no source"
        if rows:
            assert len(rows) == len(entry["values"])
            assert all(len(row) > 5 for row in rows)


@pytest.mark.parametrize("name", library.names())
def test_sources_reach_the_material(name: str) -> None:
    found = material(name)
    assert all(source and source != DEFAULT_SOURCE for source in found.sources.values())
    for key, entry in written(name).items():
        if isinstance(entry, dict):
            assert key in found.sources
            for celsius in entry["temperature"] if "sources" in entry else ():
                assert f"{key} at {celsius:g} degC" in found.sources
            if "note" in entry:
                assert found.notes[key] == entry["note"]


@pytest.mark.parametrize("name", library.names())
def test_no_number_outside_physical_bounds(name: str) -> None:
    found = material(name)
    T = np.linspace(250.0, 900.0, 200)
    # From gases in fibre (0.02) to silver (430 W/m/K); Dulong-Petit and hydrogen-rich polymers bound the heat capacity;
    # from a light blanket to solid tungsten carbide (15,700 kg/m3).
    assert 0.02 < found.conductivity(T).min() <= found.conductivity(T).max() < 430
    assert 120 < found.heat_capacity(T).min() <= found.heat_capacity(T).max() < 3500
    assert 50 < found.density(T).min() <= found.density(T).max() < 15700
    if isinstance(found, Solid):
        assert 0.02 < found.emissivity < 1.0


@pytest.mark.parametrize("name", sorted(METALS))
def test_metals_reach_from_freezing_to_600_degc(name: str) -> None:
    low, high = library.solid(name).valid_range
    assert low <= ZERO
    assert high >= 600.0 + ZERO


# Conductivity [W/m/K] at 20 degC and at 200 degC. 20 degC: data sheets (brass CuZn39Pb3, 6061-T6, Ti-6Al-4V), metal
# tables (copper: Jaluria, Design and Optimization of Thermal Systems, Table B.5; carbon steel 1345; 1.2344), Incropera
# Table A.1 from memory (304). 200 degC: copper from the same table; brass by the slope 0.17 %/K of 70/30 brass; 304
# between 16.6 (400 K) and 19.8 (600 K); steel 54 - 0.0333 T, EN 1993-1-2; 1.2344 between 19 (100) and 22.9 (250 degC).
CONDUCTIVITIES = {
    "brass": (123.0, 123.0 * (1 + 0.0017 * 180), 0.01),
    "copper": (386.0, 374.0, 1e-3),
    "aluminium": (167.0, None, 1e-3),
    "carbon_steel": (51.0, 47.3, 5e-3),
    "stainless_steel": (14.8, 17.8, 0.01),
    "titanium": (7.2, None, 1e-3),
    "tool_steel": (18.8, 21.6, 2e-3),
}


@pytest.mark.parametrize("name", CONDUCTIVITIES)
def test_conductivity_of_metals(name: str) -> None:
    cold, hot, tolerance = CONDUCTIVITIES[name]
    curve = library.solid(name).conductivity
    assert curve(293.15) == pytest.approx(cold, rel=tolerance)
    if hot is not None:
        assert curve(473.15) == pytest.approx(hot, rel=tolerance)


def test_heat_capacity_of_steel_is_that_of_the_fire_code() -> None:
    # EN 1993-1-2:2005, 3.4.1.2, for 20 <= T < 600 degC.
    t = np.linspace(30.0, 590.0, 29)
    code = 425 + 0.773 * t - 1.69e-3 * t**2 + 2.22e-6 * t**3
    np.testing.assert_allclose(library.solid("carbon_steel").heat_capacity(t + ZERO), code, rtol=0.01)


def test_heat_capacity_of_metals_against_dulong_petit() -> None:
    # Dulong-Petit: 3 R per mole, copper 63.55 g, titanium alloy about 46 g, iron 55.85 g; measured ones stay within 10
    # %.
    for name, molar in (("copper", 63.55e-3), ("aluminium", 26.98e-3), ("titanium", 46e-3), ("carbon_steel", 55.85e-3)):
        assert library.solid(name).heat_capacity(298.15) == pytest.approx(3 * 8.314 / molar, rel=0.10), name


def test_names_are_found_in_any_case_and_spelling() -> None:
    assert library.polymer("PLA") is library.polymer("PLA")
    assert library.polymer(" Pla ").key == "pla"
    assert library.solid("Stainless Steel").key == library.solid("stainless-steel").key == "stainless_steel"
    assert library.solid("aluminum").key == "aluminium"
    assert library.polymer("nylon-12").key == "pa12"


@pytest.mark.parametrize(
    ("wrong", "meant"), [("plaa", "pla"), ("pet-g", "petg"), ("PA-6", "pa6"), ("nylonn", "pa6"), ("polycarbonat", "pc")]
)
def test_near_misses_of_polymers(wrong: str, meant: str) -> None:
    with pytest.raises(library.UnknownMaterial) as caught:
        library.polymer(wrong)
    assert meant in caught.value.nearest
    assert caught.value.name == wrong
    assert "pla" in caught.value.known
    assert meant in str(caught.value)


@pytest.mark.parametrize(
    ("wrong", "meant"), [("bras", "brass"), ("aluminim", "aluminium"), ("ceramic fibr", "ceramic_fibre")]
)
def test_near_misses_of_solids(wrong: str, meant: str) -> None:
    with pytest.raises(LookupError) as caught:
        library.solid(wrong)
    assert caught.value.nearest[0] == meant  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", ["brass", "air", "", "../secrets", "xyzzy"])
def test_what_is_no_polymer_is_refused(name: str) -> None:
    with pytest.raises(library.UnknownMaterial):
        library.polymer(name)


def test_library_loads_without_the_slow_libraries() -> None:
    # pint costs 0.4 s and scipy.interpolate 0.2 s; reading a shipped card needs neither.
    code = (
        "import sys; from meltzone.materials import library; library.polymer('pla'); library.air();"
        "library.names('solid');print([m for m in ('pint', 'scipy.interpolate', 'matplotlib') if m in sys.modules])"
    )
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "[]"
