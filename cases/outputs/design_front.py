"""What is shown of the front of a design: its points, both ends in words, and which cannot be told from the best."""

from __future__ import annotations

from meltzone.cases.outputs.grid import NONE, Column, Grid
from meltzone.cases.outputs.quantities import chosen, shown
from meltzone.cases.outputs.record_head import of_result
from meltzone.cases.outputs.result import gained
from meltzone.cases.studies.design.front import FrontPoint
from meltzone.cases.studies.design.run import Designed
from meltzone.cases.studies.quantities import Quantity, with_ends


def _ends_behind(held: tuple[Designed, FrontPoint]) -> tuple[float, float] | None:
    behind = held[1].behind
    return None if behind is None else (behind.low, behind.high)


FRONT: tuple[Quantity[tuple[Designed, FrontPoint]], ...] = (
    Quantity("choice", "", "What was chosen, by key.", lambda p: dict(p[1].choice)),
    Quantity("written", "", "The keys of its case.", lambda p: dict(p[1].written)),
    Quantity("against", "", "What it is held against, by name, in the unit of that output.",
             lambda p: {each.name: value for each, value in zip(p[0].design.against, p[1].against, strict=True)}),
    *with_ends(of_result("ceilings.flow_mm3_per_s", lambda p: p[1].result, "ceiling_mm3_per_s")),
    *with_ends(Quantity("gain_percent", "%", "Its ceiling over the highest of the front, less one; null for that itself.",
             lambda p: p[1].behind and p[1].behind.value, band=_ends_behind)),
    Quantity("tied", "", "Whether no measurement could tell its ceiling from the highest of the front.", lambda p: p[1].tied),
)  # fmt: skip


def front_words(found: Designed) -> str:
    """Both ends of the front, and the least that cannot be told from its best."""
    first, last, names = found.front[0], found.front[-1], found.design.against
    ends = " to ".join(f"{_at(found, point)} melts {point.result.flow_ceiling:.1f}" for point in (first, last))
    tied = [point for point in found.front if point.tied]
    said = f" {_at(found, tied[0])} cannot be told from the best." if tied else ""
    return f"Front against {' and '.join(each.words for each in names)}: {ends} mm³/s.{said}"


def _behind(point: FrontPoint) -> str:
    return "" if point.behind is None else gained(point.behind.value, point.behind)


def _at(found: Designed, point: FrontPoint) -> str:
    return ", ".join(each.told(value) for each, value in zip(found.design.against, point.against, strict=True))


def front_table(found: Designed) -> Grid:
    """The front point by point, with ties."""
    [ceiling] = chosen(FRONT, "ceiling_mm3_per_s")
    keys = list(dict.fromkeys(key for point in found.front for key in point.written))
    rows = tuple(
        (
            *(f"{value:.1f}" for value in point.against), shown(ceiling, (found, point)), _behind(point),
            *(str(point.written.get(key, NONE)) for key in keys), 
        )
        for point in found.front
    )  # fmt: skip
    columns = (
        *(Column(each.words, each.unit, "number") for each in found.design.against),
        Column("ceiling", "mm³/s", "number"), Column("on the best", "%", "number"),
        *(Column(key, side="number") for key in keys),
    )  # fmt: skip
    return Grid("Front", columns, rows, notes=("A tie: no difference of the ceilings that could be measured.",))
