"""Quantities as outputs show them: JSON text, rows of the documented tables, and tables of several sources."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from meltzone.cases.outputs.grid import NONE, Cell, Column, Grid, Row, banded, number
from meltzone.cases.outputs.plain_text import printable
from meltzone.cases.studies.quantities import Quantity, Source, chosen, flat, nested, present, rounded
from meltzone.materials.units import spelled

__all__ = [
    "Quantity", "as_json", "by_quantity", "by_source", "chosen", "column", "documented", "flat", "named", "nested",
    "people", "present", "rounded", "shown",
]  # fmt: skip


def as_json(value: Any) -> str:
    """`value` as JSON text with a line break at the end; raises ValueError on numbers that JSON does not know."""
    return printable(json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False)) + "\n"


def documented(quantities: Iterable[Quantity[Any]]) -> str:
    """The `quantities` as rows of a table in Markdown: key, unit, meaning."""
    return "".join(f"| `{each.path}` | {each.unit or '-'} | {each.meaning} |\n" for each in quantities)


def people(unit: str) -> str:
    """A documented `unit` as people write it."""
    return spelled(unit)


def column(quantity: Quantity[Any]) -> Column:
    """The quantity's column: its heading and unit, numbers at the right."""
    return Column(quantity.heading, people(quantity.unit), "number" if quantity.unit else "words")


def named(quantity: Quantity[Any]) -> str:
    """The quantity's heading with its unit, for the beginning of a row or an axis of a picture."""
    return column(quantity).title


def shown(quantity: Quantity[Source], source: Source) -> str:
    """What `quantity` reads off `source`, as tables show it: words, or a number with so many digits; a dash for None."""
    value = quantity.read(source)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        ends = None if quantity.band is None else quantity.band(source)
        if ends is not None:
            return banded(value, ends)
        return number(value, quantity.digits)
    return NONE if value is None else str(value)


def by_source(
    caption: str, quantities: Sequence[Quantity[Source]], sources: Sequence[Source], strong: str = ""
) -> Grid:
    """A table with a row for each source and a column for each quantity; the one whose path is `strong` stands out."""
    rows = tuple(tuple(_cell(quantity, source, strong) for quantity in quantities) for source in sources)
    return Grid(caption, tuple(map(column, quantities)), rows)


def by_quantity(
    caption: str, quantities: Sequence[Quantity[Source]], sources: Sequence[tuple[str, Source]], strong: str = ""
) -> Grid:
    """A table with a row for each quantity and a column for each of the named `sources`."""
    columns = (Column(""), *(Column(name, side="number") for name, _ in sources))
    rows: list[Row] = [
        (named(quantity), *(_cell(quantity, source, strong) for _, source in sources)) for quantity in quantities
    ]
    return Grid(caption, columns, tuple(rows))


def _cell(quantity: Quantity[Source], source: Source, strong: str) -> str | Cell:
    text = shown(quantity, source)
    return Cell(text, style="strong") if quantity.path == strong else text
