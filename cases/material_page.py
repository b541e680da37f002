"""The page of the shipped materials, generated from their cards; run as a module it rewrites docs/materials.md."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from meltzone.materials.air import Air
from meltzone.materials.curves import REFERENCE_TEMPERATURE, Curve
from meltzone.materials.library import air, names, polymer, solid
from meltzone.materials.limits import DEFERENCE
from meltzone.materials.polymer import CrossWLF, Polymer
from meltzone.materials.solid import Solid

PAGE = Path(__file__).resolve().parent.parent / "docs" / "materials.md"
ZERO_CELSIUS = 273.15
HOT = 473.15  # the second temperature of the overviews [K]
Row = tuple[str, str, str]  # key in the card, what the page calls it, its value

INTRODUCTION = f"""# The materials

The cards that come with the program, with the source of every number. This page is generated from the cards
(`python -m meltzone.cases.material_page`); `meltzone materials NAME` shows one in the terminal, with a picture by `--out`.

Between the points of a table runs a monotone cubic; outside the table the end value holds
(`meltzone.materials.curves.Curve`). "From memory" means that the number was written down without the publication at hand:
check it before you build on it. Grades differ; a card of your own takes the place of any number here, see
[extending](extending.md).

> **Caution.** Limits on this page are figures for a calculation, not permissions. {DEFERENCE}
"""

POLYMERS = """## Polymers

| name | what | k at 23 and 200 degC [W/m/K] | softens [degC] | flows [degC] | degrades within minutes [degC] |
|---|---|---|---|---|---|
"""

SOLIDS = """## Solids

| name | what | k at 23 and 200 degC [W/m/K] | emissivity [-] | service limit [degC] | not to be used from [degC] |
|---|---|---|---|---|---|
"""


def material_page() -> str:
    """The whole page as Markdown."""
    melts, metals = [polymer(name) for name in names("polymer")], [solid(name) for name in names("solid")]
    return "\n".join(
        [
            INTRODUCTION,
            POLYMERS + "\n".join(map(_polymer_row, melts)) + "\n",
            SOLIDS + "\n".join(map(_solid_row, metals)) + "\n",
            *map(_polymer_card, melts),
            *map(_solid_card, metals),
            _air_card(air()),
        ]
    )


def _polymer_row(melt: Polymer) -> str:
    softens, flows, spoils = melt.softening_temperature, melt.flow_temperature, melt.degradation_temperature
    return _cells(_link(melt), melt.label, _two_values(melt.conductivity), *map(_celsius, (softens, flows, spoils)))


def _solid_row(metal: Solid) -> str:
    limits = map(_celsius, (metal.service_limit, metal.refusal_temperature))
    return _cells(_link(metal), metal.label, _two_values(metal.conductivity), f"{metal.emissivity:g}", *limits)


def _polymer_card(melt: Polymer) -> str:
    rows = [row for curve in (melt.conductivity, melt.heat_capacity, melt.density) for row in _curve_rows(curve, melt)]
    rows.append(("melting_enthalpy", "melting enthalpy", f"{1e-3 * melt.melting_enthalpy:g} J/g"))
    if melt.melting_enthalpy:
        rows.append(("melting_peak", "melting peak", _degrees(melt.melting_peak)))
        rows.append(("melting_width", "melting peak, foot to foot", f"{melt.melting_width:g} K"))
    for word in ("softening", "flow", "degradation", "decomposition"):
        key = f"{word}_temperature"
        rows.append((key, key.replace("_", " "), _degrees(getattr(melt, key))))
    if melt.viscosity is not None:
        rows.append(("viscosity", "viscosity", _viscosity(melt.viscosity)))
    return _card(melt, rows, [f"Ventilate. {melt.fumes}"])


def _solid_card(metal: Solid) -> str:
    curves = (metal.conductivity, metal.heat_capacity, metal.density)
    rows = [row for curve in curves for row in _curve_rows(curve, metal)]
    rows.append(("emissivity", "emissivity", f"{metal.emissivity:g}"))
    rows.append(("warning_temperature", "caution from", _degrees(metal.warning_temperature)))
    rows.append(("service_limit", "limit for continuous service", _degrees(metal.service_limit)))
    rows.append(("refusal_temperature", "not to be used from", _degrees(metal.refusal_temperature)))
    return _card(metal, rows, [text for text in (metal.limit_reason, *metal.cautions) if text])


def _air_card(gas: Air) -> str:
    curves = (gas.conductivity, gas.kinematic_viscosity, gas.prandtl)
    lines = ["## air", "", "At 101325 Pa, for the convection correlations and the gas gap.", ""]
    rows = (row for curve in curves for row in _curve_rows(curve, gas))
    return "\n".join([*lines, *_table(rows, gas.sources), *_notes(gas.notes)]) + "\n"


def _card(material: Polymer | Solid, rows: list[Row], cautions: list[str]) -> str:
    lines = [f"## {material.key}", "", f"{material.label}.", ""]
    lines += _table((row for row in rows if row[2]), material.sources)
    return "\n".join([*lines, *_notes(material.notes), *(f"\n> {text}" for text in cautions)]) + "\n"


def _curve_rows(curve: Curve, material: Polymer | Solid | Air) -> Iterator[Row]:
    """One row for each point that has a source of its own, else one for the whole curve."""
    name, unit = curve.name.replace("_", " "), curve.unit or "-"
    if curve.is_constant:
        yield curve.name, name, f"{curve.values[0]:g} {unit}"
        return
    points = [
        (f"{t - ZERO_CELSIUS:g} degC", f"{value:g}") for t, value in zip(curve.temperatures, curve.values, strict=True)
    ]
    if all(f"{curve.name} at {at}" in material.sources for at, _ in points):
        yield from ((f"{curve.name} at {at}", f"{name} at {at}", f"{value} {unit}") for at, value in points)
        return
    yield curve.name, f"{name} [{unit}]", "; ".join(f"{value} at {at}" for at, value in points)


def _table(rows: Iterator[Row], sources: Mapping[str, str]) -> list[str]:
    head = ["| property | value | source |", "|---|---|---|"]
    return [*head, *(_cells(name, value, sources.get(key, "-")) for key, name, value in rows)]


def _notes(notes: Mapping[str, str]) -> list[str]:
    return [f"\n*{key.replace('_', ' ')}*: {' '.join(note.split())}" for key, note in notes.items()]


def _viscosity(law: CrossWLF) -> str:
    numbers = (
        f"n {law.n:g}, tau* {law.tau_star:g} Pa, D1 {law.D1:g} Pa s, D2 {law.D2:g} K, A1 {law.A1:g}, A2 {law.A2:g} K"
    )
    return f"Cross-WLF: {numbers}"


def _cells(*texts: str) -> str:
    return "| " + " | ".join(" ".join(text.split()).replace("|", "\\|") for text in texts) + " |"


def _link(material: Polymer | Solid) -> str:
    return f"[{material.key}](#{material.key})"


def _two_values(curve: Curve) -> str:
    return ", ".join(f"{float(curve(t)):.3g}" for t in (REFERENCE_TEMPERATURE, HOT))


def _celsius(temperature: float | None) -> str:
    return "-" if temperature is None else f"{temperature - ZERO_CELSIUS:.0f}"


def _degrees(temperature: float | None) -> str:
    return "" if temperature is None else f"{temperature - ZERO_CELSIUS:.0f} degC"


if __name__ == "__main__":
    PAGE.write_text(material_page(), encoding="utf-8")
