"""A page for the terminal: tables without frames, bars of block characters, styles for what must not be overlooked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.measure import Measurement
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

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
from meltzone.cases.outputs.terminal_table import BAR, Fitted
from meltzone.cases.studies.cautions import ALWAYS, BURNS_BRIEF, without_deference
from meltzone.materials.limits import DEFERENCE

HEADING, QUIET = "bold", "dim"
STYLES = {"": "", "strong": "bold", "good": "green", "bad": "red", "quiet": QUIET, "warn": "yellow"}
GRAVE = {"refuse": "bold red", "warning": "yellow", "note": ""}

APART = 6  # blanks between tables side by side
IN_FULL = "In full: meltzone cautions CASE, the report, result.json."


def rendered(page: Page) -> Group:
    """The page as the terminal shows it: a blank line after each block, none between head and answer; pictures left out."""
    shown: list[RenderableType] = []
    above: list[RenderableType] = []
    for block, below in zip(page.blocks, (*page.blocks[1:], None), strict=True):
        made = _MADE[type(block)](block)
        if made is None:
            continue
        above.append(made)
        if isinstance(block, Section | Head) or isinstance(below, Answer):
            continue
        shown.append(Group(*above))
        above = []
    return Group(*(Padding(block, (0, 0, 1, 0), expand=False) for block in shown))


def _text(words: str, style: str = "") -> Text:
    return Text(printable(words), style)


def _head(head: Head) -> Text:
    title = Text.assemble(_text(head.title, HEADING), _text(f"  {head.file}" if head.file else "", QUIET))
    return Text("\n").join([title, *(_text(note, QUIET) for note in head.notes)])


def _answer(answer: Answer) -> Text:
    before, strong, after = printable(answer.text).partition(answer.strong) if answer.strong else (answer.text, "", "")
    return Text.assemble(printable(before), (strong, "bold green" if answer.good else "bold red"), after)


def _words(words: Words) -> Text:
    return _text(words.text, QUIET if words.quiet else "")


@dataclass(frozen=True)
class _SideBySide:
    """Tables side by side where they fit so, else one below the other."""

    tables: tuple[RenderableType, ...]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """A row of them, or all of them with a blank line between."""
        wanted = [Measurement.get(console, options, each) for each in self.tables]
        spare = options.max_width - APART * (len(wanted) - 1) - sum(each.minimum for each in wanted)
        if spare >= 0:
            row = Table.grid(padding=(0, APART, 0, 0), pad_edge=False)
            for span in wanted:
                width = min(span.maximum, span.minimum + spare)
                spare -= width - span.minimum
                row.add_column(width=width)
            row.add_row(*self.tables)
            yield row
            return
        for number, each in enumerate(self.tables):
            yield from ([Text("")] if number else [])
            yield each


def _beside(beside: Beside) -> RenderableType:
    return _SideBySide(tuple(map(_grid, beside.grids)))


def _grid(grid: Grid) -> RenderableType:
    above = [_text(grid.caption, HEADING)] if grid.caption else []
    below = [_text(note, QUIET) for note in grid.notes]
    table = Fitted(grid, _cell, lambda title: _text(title, QUIET))
    return Group(*above, table, *below) if above or below else table


def _cell(cell: str | Cell | Bar) -> Text:
    if isinstance(cell, Bar):
        blocks = " " * round(BAR * cell.start / 100.0) + "█" * round(BAR * cell.width / 100.0)
        return Text(blocks, "blue" if cell.loss else "yellow")
    if isinstance(cell, str):
        return _text(cell)
    said = bool(cell.badge) and cell.badge in cell.text.lower()  # as most such sources begin
    badge = "" if said else cell.badge and (f" ({cell.badge})" if cell.text else cell.badge)
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
    """The hazards of the case in a line each, what always counts by its names; pages and records hold them in full."""
    table = Table.grid(padding=(0, 2))
    found = by_severity(cautions.findings)
    grave = [finding for finding in found if finding.severity != "note"]
    for finding in grave:
        style = GRAVE[finding.severity]
        table.add_row(
            Text(SEVERITY[finding.severity], style), _text(finding.brief or without_deference(finding), style)
        )
    if not grave:
        table.add_row(Text("caution", GRAVE["warning"]), BURNS_BRIEF)
    standing = dict.fromkeys([*ALWAYS, *(each.brief or each.material for each in found if each.severity == "note")])
    table.add_row("standing", _text(f"{', '.join(standing)}. {IN_FULL}"))
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
