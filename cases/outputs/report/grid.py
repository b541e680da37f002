"""Tables as data, before any markup: columns, cells, bars, and badges that say where a number comes from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Side = Literal["words", "short", "number", "bar"]
WIDEST = 100.0  # a bar across its whole cell [%]
LONGEST_VALUE = 20  # characters that fit a column on paper


@dataclass(frozen=True)
class Column:
    """A column: its `title`, and whether it holds words, short words that stay on one line, numbers or bars."""

    title: str
    side: Side = "words"


@dataclass(frozen=True)
class Bar:
    """A share drawn as a bar: `width` and its left end `start`, in percent of the cell; whether it is a `loss`."""

    width: float
    start: float = 0.0
    loss: bool = False


@dataclass(frozen=True)
class Cell:
    """Words or a number, a quiet `note` below, a `badge` that must not be overlooked; `code` for what stands in a file."""

    text: str
    note: str = ""
    badge: str = ""
    code: bool = False


Row = Sequence[str | Cell | Bar]


@dataclass(frozen=True)
class Grid:
    """A table with its caption; the first cell of a row names it. A `stacked` one shows its rows as blocks on a narrow screen.

    A `long` table may be broken between rows on paper, others stay on one page.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    stacked: bool = False
    long: bool = False


def words(*titles: str) -> tuple[Column, ...]:
    """Columns of words; those whose title names a unit in brackets hold numbers."""
    return tuple(Column(title, "number" if "[" in title else "words") for title in titles)


def on_one_line(value: str) -> str:
    """`value` with its unit kept on its line, where it is short enough for that."""
    return value.replace(" ", "\u00a0") if len(value) <= LONGEST_VALUE else value


def signed_bars(values: Sequence[float]) -> list[Bar]:
    """Bars of `values` left and right of a common zero, scaled to fill the cell."""
    low, high = min([0.0, *values]), max([0.0, *values])
    scale = WIDEST / ((high - low) or 1.0)
    return [Bar(scale * abs(value), scale * (min(value, 0.0) - low), value < 0.0) for value in values]
