"""A page for the terminal: tables without frames, bars of block characters, styles for what must not be overlooked."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.grid import Bar, Cell, Column, Grid
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

HEADING, QUIET = "bold", "dim"
STYLES = {"": "", "strong": "bold", "good": "green", "bad": "red", "quiet": QUIET, "warn": "yellow"}
GRAVE = {"refuse": "bold red", "warning": "yellow", "note": ""}
BAR = 24  # characters for a bar across its whole cell
WIDEST_NAME = 40  # characters of a first column that are kept on one line
MOST_COLUMNS = 6  # with more of them, units stand below headings and names are broken
NARROW = 12  # characters of a name that heads one of many columns


def rendered(page: Page) -> Group:
    """The page as the terminal shows it: a blank line after each block, pictures left out."""
    shown: list[RenderableType] = []
    above: RenderableType | None = None
    for block in page.blocks:
        made = _MADE[type(block)](block)
        if made is None:
            continue
        if isinstance(block, Section):
            above = made
            continue
        shown.append(made if above is None else Group(above, made))
        above = None
    return Group(*(Padding(block, (0, 0, 1, 0), expand=False) for block in shown))


def _text(words: str, style: str = "") -> Text:
    return Text(printable(words), style)


def _head(head: Head) -> Text:
    lines = [_text(head.title, HEADING), *(_text(line, QUIET) for line in head.lines)]
    return Text("\n").join(lines)


def _answer(answer: Answer) -> Text:
    before, strong, after = printable(answer.text).partition(answer.strong) if answer.strong else (answer.text, "", "")
    return Text.assemble(printable(before), (strong, "bold green" if answer.good else "bold red"), after)


def _words(words: Words) -> Text:
    return _text(words.text, QUIET if words.quiet else "")


def _beside(beside: Beside) -> Table:
    table = Table.grid(padding=(0, 6))
    table.add_row(*map(_grid, beside.grids))
    return table


def _grid(grid: Grid) -> RenderableType:
    above = [_text(grid.caption, HEADING)] if grid.caption else []
    below = [_text(note, QUIET) for note in grid.notes]
    table = _table(grid)
    return Group(*above, table, *below) if above or below else table


def _table(grid: Grid) -> Table:
    """The table proper; a column without heading, unit and content is none."""
    crowded = len(grid.columns) > MOST_COLUMNS
    table = Table(box=None, header_style=QUIET, pad_edge=False, padding=(0, 1, 0, 0) if crowded else (0, 1))
    for k, column in enumerate(grid.columns):
        at_right = column.side == "number"
        table.add_column(
            _text(_heading(column, crowded and k > 0)),
            justify="right" if at_right else "left",
            vertical="top",
            overflow="fold",
            min_width=min(_widest(grid.rows), WIDEST_NAME) if k == 0 else None,
        )
    for row in grid.rows:
        table.add_row(*map(_cell, row))
    return table


def _heading(column: Column, crowded: bool) -> str:
    if column.side == "number" and " " not in column.heading:  # a name of a case
        return _broken(column.title)
    return f"{column.heading}\n[{column.unit}]" if crowded and column.unit else column.title


def _broken(name: str) -> str:
    """A long name over lines of at most `NARROW` characters, broken after hyphens, dots and low lines where there are any."""
    if len(name) <= NARROW:
        return name
    lines, line = [], ""
    for piece in re.sub(r"([-._])", r"\1 ", name).split():
        for k in range(0, len(piece), NARROW):
            part = piece[k : k + NARROW]
            if line and len(line) + len(part) > NARROW:
                lines.append(line)
                line = ""
            line += part
    return "\n".join([*lines, line])


def _widest(rows: Sequence[Sequence[Any]]) -> int:
    firsts = [row[0] for row in rows if len(row) > 1]
    return max((len(cell.text if isinstance(cell, Cell) else str(cell)) for cell in firsts), default=0)


def _cell(cell: str | Cell | Bar) -> Text:
    if isinstance(cell, Bar):
        blocks = " " * round(BAR * cell.start / 100.0) + "█" * round(BAR * cell.width / 100.0)
        return Text(blocks, "blue" if cell.loss else "yellow")
    if isinstance(cell, str):
        return _text(cell)
    badge = cell.badge and (f" ({cell.badge})" if cell.text else cell.badge)
    note = f"\n{cell.note}" if cell.note else ""
    return Text.assemble(_text(cell.text, STYLES[cell.style]), _text(badge, "yellow"), _text(note, QUIET))


def _warnings(warnings: Warnings) -> Table | None:
    if not warnings.texts:
        return None
    table = Table.grid(padding=(0, 2))
    for text in warnings.texts:
        table.add_row(Text(warnings.word, "yellow"), _text(text))
    return table


def _cautions(cautions: Cautions) -> Group:
    table = Table.grid(padding=(0, 2))
    for finding in by_severity(cautions.findings):
        style = GRAVE[finding.severity]
        table.add_row(Text(SEVERITY[finding.severity], style), _text(without_deference(finding), style))
    table.add_row("burns", BURNS)
    return Group(Text("Cautions", HEADING), table, Text(DEFERENCE, QUIET))


_MADE: dict[type, Callable[[Any], RenderableType | None]] = {
    Head: _head,
    Answer: _answer,
    Words: _words,
    Grid: _grid,
    Beside: _beside,
    Warnings: _warnings,
    Cautions: _cautions,
    Beware: lambda _: None,
    Section: lambda section: _text(section.title, HEADING),
    Picture: lambda _: None,
    Listing: lambda _: None,
}
