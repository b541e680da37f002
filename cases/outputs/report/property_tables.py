"""Every material property that went into a case, with its source, and a badge where that source is weak."""

from __future__ import annotations

from collections.abc import Mapping

from meltzone.cases.outputs.grid import Cell, Grid
from meltzone.cases.outputs.materials import Card, card_grid
from meltzone.cases.outputs.report.input_tables import written_at
from meltzone.cases.studies.cautions import materials_by_part
from meltzone.cases.studies.results import Result
from meltzone.materials.air import Air
from meltzone.materials.polymer import Polymer

GIVEN = ("flow_temperature", "softening_temperature")  # of the polymer, where the case has its own


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
    told = {key: f"the case: {at}" for key, at in given.items()}
    return card_grid(card, f"{label[:1].upper()}{label[1:]}: {', '.join(parts)}", told)


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
