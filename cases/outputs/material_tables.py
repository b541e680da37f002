"""What the terminal shows of the materials: the list of cards, and one card with its sources and limits."""

from __future__ import annotations

from rich.console import Group
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.tables import HEADING, NONE, QUIET, plain_table, spaced
from meltzone.materials.curves import REFERENCE_TEMPERATURE, Curve
from meltzone.materials.errors import UnknownMaterial
from meltzone.materials.library import names, polymer, solid
from meltzone.materials.limits import DEFERENCE
from meltzone.materials.polymer import Polymer
from meltzone.materials.solid import Solid

ZERO_CELSIUS = 273.15
HOT = 473.15  # the second temperature of the list [K]


def card(name: str) -> Polymer | Solid:
    """The shipped card of that name, polymer or solid; raises UnknownMaterial with names of either kind."""
    try:
        return polymer(name)
    except UnknownMaterial as missed:
        try:
            return solid(name)
        except UnknownMaterial as error:
            near = tuple(dict.fromkeys((*error.nearest, *missed.nearest)))
            raise UnknownMaterial(name, near, tuple(names())) from None


def material_list() -> Group:
    """All shipped cards: what they are called in a case file, conductivity, and the temperatures that matter."""
    plastics = plain_table(
        "name", "what", "k at 200 [W/m/K]", "softens [degC]", "flows [degC]", "degrades [degC]", title="Polymers"
    )
    for name in names("polymer"):
        melt = polymer(name)
        temperatures = (melt.softening_temperature, melt.flow_temperature, melt.degradation_temperature)
        plastics.add_row(name, melt.label, f"{float(melt.conductivity(HOT)):.3g}", *map(_celsius, temperatures))
    solids = plain_table("name", "what", "k at 23 [W/m/K]", "k at 200 [W/m/K]", "service limit [degC]", title="Solids")
    for name in names("solid"):
        metal = solid(name)
        values = (f"{float(metal.conductivity(t)):.3g}" for t in (REFERENCE_TEMPERATURE, HOT))
        solids.add_row(name, metal.label, *values, _celsius(metal.service_limit))
    hint = (
        "meltzone materials NAME shows a card with its sources. Own cards stand in a case file under [materials.NAME]."
    )
    return spaced([plastics, solids, Text(hint, QUIET)])


def material_card(material: Polymer | Solid) -> Group:
    """One card: curves, numbers, sources, notes, limits."""
    title = Text.assemble((material.label, HEADING), "\n", (f"name in a case file: {material.key}", QUIET))
    curves = [material.conductivity, material.heat_capacity, material.density]
    numbers = _polymer_numbers(material) if isinstance(material, Polymer) else _solid_numbers(material)
    return spaced([title, *(_curve(curve) for curve in curves), numbers, _sources(material), _limits(material)])


def _curve(curve: Curve) -> Table:
    table = Table.grid(padding=(0, 2))
    name = f"{curve.name.replace('_', ' ')} [{curve.unit}]"
    if curve.is_constant:
        table.add_row(Text(name, HEADING), f"{curve.values[0]:g}, held constant")
        return table
    table.add_row(Text("temperature [degC]", QUIET), *(f"{t - ZERO_CELSIUS:.0f}" for t in curve.temperatures))
    table.add_row(Text(name, HEADING), *(f"{value:g}" for value in curve.values))
    for column in table.columns[1:]:
        column.justify = "right"
    return table


def _polymer_numbers(melt: Polymer) -> Table:
    table = plain_table("number", "value")
    table.add_row("softens", _degrees(melt.softening_temperature))
    table.add_row("flows", _degrees(melt.flow_temperature))
    table.add_row("degrades within minutes", _degrees(melt.degradation_temperature))
    table.add_row("decomposes", _degrees(melt.decomposition_temperature))
    if melt.melting_enthalpy:
        peak, half = melt.melting_peak - ZERO_CELSIUS, melt.melting_width / 2.0
        table.add_row(
            "melting enthalpy",
            f"{1e-3 * melt.melting_enthalpy:g} J/g, from {peak - half:.0f} to {peak + half:.0f} degC",
        )
    else:
        table.add_row("melting enthalpy", "none: amorphous")
    return table


def _solid_numbers(material: Solid) -> Table:
    table = plain_table("number", "value")
    table.add_row("emissivity", f"{material.emissivity:g}")
    table.add_row("limit for continuous service", _degrees(material.service_limit))
    table.add_row("caution from", _degrees(material.warning_temperature))
    table.add_row("not to be used from", _degrees(material.refusal_temperature))
    return table


def _sources(material: Polymer | Solid) -> Table:
    table = plain_table("property", "source and notes", title="Sources")
    for key, source in material.sources.items():
        note = material.notes.get(key)
        told_by_point = any(other.startswith(f"{key} at ") for other in material.sources)
        lines = [text for text in (None if told_by_point else source, note) if text]
        if lines:
            table.add_row(key.replace("_", " "), "\n".join(lines))
    for key, note in material.notes.items():
        if key not in material.sources:
            table.add_row(key.replace("_", " "), note)
    return table


def _limits(material: Polymer | Solid) -> Group:
    lines = (
        _polymer_cautions(material) if isinstance(material, Polymer) else [material.limit_reason, *material.cautions]
    )
    return Group(Text("Cautions", HEADING), *(Text(line) for line in lines if line), Text(DEFERENCE, QUIET))


def _polymer_cautions(melt: Polymer) -> list[str]:
    return [f"Ventilate. {melt.fumes}"]


def _celsius(temperature: float | None) -> str:
    return NONE if temperature is None else f"{temperature - ZERO_CELSIUS:.0f}"


def _degrees(temperature: float | None) -> str:
    return "not stated" if temperature is None else f"{temperature - ZERO_CELSIUS:.0f} degC"
