"""A page as Markdown: headings, tables with pipes, lists; pictures are left out."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from meltzone.cases.outputs.grid import Bar, Cell, Grid
from meltzone.cases.outputs.page import (
    SEVERITY,
    Answer,
    Beside,
    Beware,
    Cautions,
    Head,
    Listing,
    Page,
    Picture,
    Section,
    Warnings,
    Words,
    by_severity,
)
from meltzone.cases.outputs.plain_text import printable
from meltzone.cases.studies.cautions import BURNS, without_deference
from meltzone.materials.limits import DEFERENCE


def markdown(page: Page) -> str:
    """The page as Markdown text, a blank line between blocks."""
    return "\n\n".join(text for block in page.blocks if (text := _MADE[type(block)](block))) + "\n"


def table(grid: Grid) -> str:
    """The table proper, numbers at the right, bars left out."""
    kept = [k for k, column in enumerate(grid.columns) if column.side != "bar"]
    heads = [grid.columns[k] for k in kept]
    lines = ["| " + " | ".join(escaped(column.title) for column in heads) + " |"]
    lines.append("|" + "|".join("---:" if column.side == "number" else "---" for column in heads) + "|")
    for row in filter(None, grid.rows):
        cells = [_cell(row[k]) if k < len(row) else "" for k in kept]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


def escaped(text: str) -> str:
    """`text` with what Markdown and HTML take for markup made plain, on one line."""
    clean = re.sub(r"([\\`*_{}\[\]<>|#])", r"\\\1", printable(text))
    return " ".join(clean.split())


def _cell(cell: str | Cell | Bar) -> str:
    if isinstance(cell, Bar):
        return ""
    if isinstance(cell, str):
        return escaped(cell)
    text = escaped(cell.text)
    if cell.style == "strong" and text:
        text = f"**{text}**"
    return " ".join(filter(None, (text, escaped(cell.badge) and f"**{escaped(cell.badge)}**", escaped(cell.note))))


def _grid(grid: Grid) -> str:
    caption = f"**{escaped(grid.caption)}**" if grid.caption else ""
    return "\n\n".join(filter(None, (caption, table(grid), *map(escaped, grid.notes))))


def _lines(text: str) -> str:
    return "\n\n".join(escaped(line) for line in text.splitlines() if line.strip())


def _cautions(cautions: Cautions) -> str:
    found = [f"- **{SEVERITY[f.severity]}** {escaped(without_deference(f))}" for f in by_severity(cautions.findings)]
    return "\n".join([*found, f"- **burns** {escaped(BURNS)}"]) + f"\n\n{escaped(DEFERENCE)}"


def _listing(listing: Listing) -> str:
    return "\n".join(f"    {line}" for line in printable(listing.text).splitlines())


_MADE: dict[type, Callable[[Any], str]] = {
    Head: lambda head: "\n\n".join(filter(None, (f"# {escaped(head.title)}", *map(escaped, head.lines)))),
    Answer: lambda answer: _lines(answer.text),
    Words: lambda words: _lines(words.text),
    Grid: _grid,
    Beside: lambda beside: "\n\n".join(map(_grid, beside.grids)),
    Warnings: lambda warnings: "\n".join(f"- **{warnings.word}** {escaped(text)}" for text in warnings.texts),
    Cautions: _cautions,
    Beware: lambda _: "",
    Section: lambda section: f"## {escaped(section.title)}",
    Picture: lambda _: "",
    Listing: _listing,
}
