"""Every material property that went into a case, with its source, and a badge where that source is weak."""

from __future__ import annotations

from collections.abc import Mapping

from meltzone.cases.outputs.grid import Cell, Grid, Row, on_one_line, words
from meltzone.cases.outputs.material_rows import card_rows
from meltzone.cases.outputs.report.input_tables import written_at
from meltzone.cases.studies.cautions import materials_by_part
from meltzone.cases.studies.results import Result
from meltzone.materials.air import Air
from meltzone.materials.polymer import Polymer
from meltzone.materials.solid import Solid

Card = Polymer | Solid | Air
GIVEN = ("flow_temperature", "softening_temperature")  # of the polymer, where the case has its own
# What a source may say of itself, with the badge for it; the first that fits counts.
WEAK = (
    ("from memory", "from memory"),
    ("no source", "no source"),
    ("invented", "invented"),
    ("estimate", "estimate"),
    ("assumed", "estimate"),
    ("calculated", "estimate"),
)


def property_grids(result: Result) -> list[Grid]:
    """One table for each material, with the parts made of it; air last."""
    homes: dict[int, tuple[Card, list[str]]] = {}
    for part, material in materials_by_part(result.problem).items():
        homes.setdefault(id(material), (material, []))[1].append("filament" if part == "polymer" else part)
    homes[id(result.problem.materials.air)] = (result.problem.materials.air, ["gas gap", "films"])
    given = {key: at for key in GIVEN if (at := written_at(result.case, f"polymer.{key}"))}
    return [_grid(card, parts, given if isinstance(card, Polymer) else {}) for card, parts in homes.values()]


def _grid(card: Card, parts: list[str], given: Mapping[str, str]) -> Grid:
    label = "air" if isinstance(card, Air) else card.label
    noted: set[str] = set()
    rows = tuple(_row(card, key, name, value, given, noted) for key, name, value in card_rows(card))
    caption = f"{label[:1].upper()}{label[1:]}: {', '.join(parts)}"
    return Grid(caption, words("property", "value", "source"), rows, stacked=True, long=True)


def _row(card: Card, key: str, name: str, value: str, given: Mapping[str, str], noted: set[str]) -> Row:
    """One property; a note on a curve stands at its first point only."""
    value = on_one_line(value)
    if key in given:
        return name, value, f"the case: {given[key]}"
    source = " ".join(card.sources.get(key, "").split())
    curve = key.partition(" at ")[0]
    note = "" if curve in noted else " ".join(card.notes.get(curve, "").split())
    noted.add(curve)
    return name, value, Cell(source or "none given", note=note, badge=badge_of(source))


def badge_of(source: str) -> str:
    """The badge for a source that is weak by its own words, '' for a publication or data sheet."""
    said = source.lower()
    return next((badge for word, badge in WEAK if word in said), "") if said else "no source"


def weak_count(grids: list[Grid]) -> dict[str, int]:
    """How many rows carry each badge, and how many none, under ''."""
    found: dict[str, int] = {}
    for grid in grids:
        for row in grid.rows:
            badge = row[-1].badge if isinstance(row[-1], Cell) else ""
            found[badge] = found.get(badge, 0) + 1
    return found


def weak_words(grids: list[Grid]) -> str:
    """How many numbers carry a badge, and what that means, in words."""
    counts = weak_count(grids)
    told = ", ".join(f"{n} {'is' if n == 1 else 'are'} marked as {badge}" for badge, n in counts.items() if badge)
    return (
        f'Of {sum(counts.values())} numbers {told or "none is marked as weak"}. "From memory" means that it was written down '
        "without the publication at hand: check such numbers before building on them."
    )
