"""The page of the shipped materials, generated from their cards."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from meltzone.cases.outputs.material_rows import card_rows, doubts
from meltzone.cases.studies.validation.compared import compared
from meltzone.materials.air import Air
from meltzone.materials.curves import REFERENCE_TEMPERATURE, Curve
from meltzone.materials.library import air, names, polymer, solid
from meltzone.materials.limits import DEFERENCE
from meltzone.materials.polymer import Polymer
from meltzone.materials.solid import Solid
from meltzone.materials.units import ZERO_CELSIUS

PAGE = Path(__file__).resolve().parents[1] / "materials.md"
HOT = 473.15  # the second temperature of the overviews [K]

INTRODUCTION = f"""# The materials

The cards that come with the program, with the source of every number. This page is generated from the cards
(`python docs/regenerate.py`); `meltzone materials NAME` shows one in the terminal, with a picture by `--to`.

Between the points of a table runs a monotone cubic; outside the table the end value holds
(`meltzone.materials.curves.Curve`). "From memory" means that the number was written down without the publication at hand:
check it before you build on it. Each of them has a range, its own or one assumed from the kind of the source. Grades differ; a
card of your own takes the place of any number here, see [extending](extending.md).

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
    return _card(melt, [f"Ventilate. {melt.fumes}"])


def _solid_card(metal: Solid) -> str:
    return _card(metal, [text for text in (metal.limit_reason, *metal.cautions) if text])


def _air_card(gas: Air) -> str:
    lines = ["## air", "", "At 101325 Pa, for the convection correlations and the gas gap.", ""]
    return "\n".join([*lines, *_table(gas), *_notes(gas.notes)]) + "\n"


def _card(material: Polymer | Solid, cautions: list[str]) -> str:
    lines = [f"## {material.key}", "", f"{material.label}.", ""]
    lines += _table(material)
    ranges = "; ".join(f"{words} {span} ({known})" for words, span, known in doubts(material))
    told = ["", f"*ranges, nine times in ten*: {ranges}", "", _compared(material.key)]
    return "\n".join([*lines, *_notes(material.notes), *told, *(f"\n> {text}" for text in cautions)]) + "\n"


def _compared(key: str) -> str:
    """Where the card was compared with measurements, in a sentence."""
    rows = compared(key)
    files = {row.measured: sum(each.measured == row.measured for each in rows) for row in rows}
    if not files:
        return "*compared with measurements*: nowhere among the shipped ones."
    told = ", ".join(f"{name} ({count} rows)" if count > 1 else f"{name} (1 row)" for name, count in files.items())
    return f"*compared with measurements*: {told}; see [validation](validation.md)."


def _table(material: Polymer | Solid | Air) -> list[str]:
    head = ["| property | value | source |", "|---|---|---|"]
    return [*head, *(_cells(row.name, row.value, material.sources.get(row.key, "-")) for row in card_rows(material))]


def _notes(notes: Mapping[str, str]) -> list[str]:
    return [f"\n*{key.replace('_', ' ')}*: {' '.join(note.split())}" for key, note in notes.items()]


def _cells(*texts: str) -> str:
    return "| " + " | ".join(" ".join(text.split()).replace("|", "\\|") for text in texts) + " |"


def _link(material: Polymer | Solid) -> str:
    return f"[{material.key}](#{material.key})"


def _two_values(curve: Curve) -> str:
    return ", ".join(f"{float(curve(t)):.3g}" for t in (REFERENCE_TEMPERATURE, HOT))


def _celsius(temperature: float | None) -> str:
    return "-" if temperature is None else f"{temperature - ZERO_CELSIUS:.0f}"
