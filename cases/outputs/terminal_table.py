"""Tables as wide as the terminal lets them be: headings wrapped first, then the table split, and never a digit cut."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.measure import Measurement
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.grid import Bar, Cell, Column, Grid

BAR = 24  # characters for a bar across its whole cell
WIDEST_NAME = 40  # characters of a first column that are kept on one line
LEAST_WORDS = 16  # characters that a column of words may be folded to
ROOMY, TIGHT = 2, 1  # blanks between columns
WHOLE = 1000  # characters: no heading is longer
FITS = ((ROOMY, WHOLE), (TIGHT, WHOLE), (ROOMY, 13), (TIGHT, 9), (TIGHT, 0))  # gap, and the room a heading is given
LEAST = 24  # characters of the narrowest table that is tried


@dataclass(frozen=True)
class Fitted:
    """A `grid` as a table that fits where it is shown; `shown` makes the text of a cell, `heading` that of a heading."""

    grid: Grid
    shown: Callable[[str | Cell | Bar], Text]
    heading: Callable[[str], Text]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """The table, or the tables that it is split into."""
        every = list(range(len(self.grid.columns)))
        for gap, room in FITS:
            if self._least(every, gap, room) <= options.max_width:
                yield self._table(every, gap, room, options.max_width)
                return
        for number, chosen in enumerate(self._split(options.max_width)):
            if number:
                yield Text("")
            yield self._table(chosen, TIGHT, 0, options.max_width)

    def __rich_measure__(self, console: Console, options: ConsoleOptions) -> Measurement:
        """From the narrowest table that holds all columns to that with nothing wrapped."""
        every = list(range(len(self.grid.columns)))
        widest = sum(self._width(k, WHOLE, whole=True) for k in every) + ROOMY * (len(every) - 1)
        least = min(self._least(every, TIGHT, 0), widest)
        return Measurement(max(min(least, options.max_width), 1), max(min(widest, options.max_width), 1))

    def _cells(self, k: int) -> Iterator[str]:
        """The lines of all cells of column `k`; a row of a single cell runs across."""
        for row in self.grid.rows:
            if len(row) > max(k, 1) or len(self.grid.columns) == 1:
                yield from self.shown(row[k]).plain.split("\n")

    def _content(self, k: int) -> int:
        return max((len(line) for line in self._cells(k)), default=0)

    def _heading_of(self, column: Column, width: int, room: int) -> str:
        return _wrapped(column.title, max(width, room))

    def _width(self, k: int, room: int, whole: bool = False) -> int:
        """Characters that column `k` needs: numbers and names all of theirs, words no more than what they fold to."""
        column, content = self.grid.columns[k], self._content(k)
        if column.side == "words" and k and not whole:
            longest = max((len(word) for line in self._cells(k) for word in line.split()), default=0)
            content = min(content, max(LEAST_WORDS, min(longest, WIDEST_NAME)))
        elif k == 0 and not whole:
            content = min(content, WIDEST_NAME)
        title = self._heading_of(column, content, room)
        return max(content, *(len(line) for line in title.split("\n")), 1)

    def _least(self, chosen: Sequence[int], gap: int, room: int) -> int:
        return sum(self._width(k, room) for k in chosen) + gap * (len(chosen) - 1)

    def _split(self, width: int) -> list[list[int]]:
        """Columns in groups that fit, the first column in each."""
        groups = [[0]]
        for k in range(1, len(self.grid.columns)):
            if len(groups[-1]) > 1 and self._least([*groups[-1], k], TIGHT, 0) > max(width, LEAST):
                groups.append([0])
            groups[-1].append(k)
        return groups

    def _widths(self, chosen: Sequence[int], gap: int, room: int, width: int) -> list[int]:
        """Characters of every chosen column within `width`: what it needs, and an even share of the rest where it folds."""
        widths = [self._width(k, room) for k in chosen]
        whole = [max(now, self._content(k)) if self._folds(k) else now for k, now in zip(chosen, widths, strict=True)]
        spare = width - sum(widths) - gap * (len(chosen) - 1)
        while spare > 0 and (short := [j for j in range(len(chosen)) if widths[j] < whole[j]]):
            for j in short:
                more = min(max(spare // len(short), 1), whole[j] - widths[j], spare)
                widths[j], spare = widths[j] + more, spare - more
        return widths

    def _folds(self, k: int) -> bool:
        return self.grid.columns[k].side == "words" or k == 0

    def _table(self, chosen: Sequence[int], gap: int, room: int, width: int) -> RenderableType:
        table = Table(box=None, header_style="dim", pad_edge=False, padding=(0, gap, 0, 0))
        for k, wide in zip(chosen, self._widths(chosen, gap, room, width), strict=True):
            column = self.grid.columns[k]
            table.add_column(
                self.heading(self._heading_of(column, self._width(k, room), room)),
                justify="right" if column.side == "number" else "left",
                vertical="top",
                overflow="fold",
                width=wide,
                no_wrap=not self._folds(k),
            )
        for row in self.grid.rows:
            table.add_row(*(self.shown(row[k]) for k in chosen if k < len(row)))
        return table


def _wrapped(title: str, width: int) -> str:
    """A heading over lines of at most `width` characters where its words allow it; names also after - . and _, numbers not."""
    lines: list[str] = []
    for piece in re.sub(r"(?<=\w)([-._])(?=[^\W\d])", r"\1\0", title).replace(" ", "\0 ").split("\0"):
        if lines and len(lines[-1]) + len(piece) <= width:
            lines[-1] += piece
        else:
            lines.append(piece.strip())
    return "\n".join(line for line in lines if line)
