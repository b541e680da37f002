"""Tables as data, before any markup: columns, cells, bars, and badges that say where a number comes from."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Side = Literal["words", "short", "number", "bar"]
Style = Literal["", "strong", "good", "bad", "quiet", "warn"]
NONE = "-"
WIDEST = 100.0  # a bar across its whole cell [%]
LONGEST_VALUE = 20  # characters that fit a column on paper


@dataclass(frozen=True)
class Column:
    """A column: `heading` and `unit`, and whether it holds words, short words that stay on one line, numbers or bars."""

    heading: str
    unit: str = ""
    side: Side = "words"

    @property
    def title(self) -> str:
        """The heading with its unit in brackets."""
        return f"{self.heading} [{self.unit}]".strip() if self.unit else self.heading


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
    style: Style = ""


Row = Sequence[str | Cell | Bar]


@dataclass(frozen=True)
class Grid:
    """A table with its caption; the first cell of a row names it. A `stacked` one shows its rows as blocks on a narrow screen.

    A `long` table may be broken between rows on paper, others stay on one page. A row of a single cell heads the rows below
    it. `notes` stand below the table.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    stacked: bool = False
    long: bool = False
    notes: tuple[str, ...] = ()


def words(*titles: str) -> tuple[Column, ...]:
    """Columns of words; those whose title ends with a unit in brackets hold numbers."""
    return tuple(_column(title) for title in titles)


def _column(title: str) -> Column:
    found = re.fullmatch(r"(.*?) ?\[([^\]]+)\]", title)
    return Column(found.group(1), found.group(2), "number") if found else Column(title)


def number(value: float | None, digits: int) -> str:
    """`value` with so many decimals; a dash for None."""
    return NONE if value is None else f"{value:.{digits}f}"


def within(value: float, low: float, high: float) -> tuple[str, str]:
    """`value` and its band, "13" and "11 to 15", with as many decimals as half of the band has."""
    half = (high - low) / 2.0
    digits = max(0, -math.floor(math.log10(half))) if half > 0.0 else 2
    return f"{value:.{digits}f}", f"{low:.{digits}f} to {high:.{digits}f}"


def banded(value: float, ends: Sequence[float]) -> str:
    """`value` with its band, as in "13 (8 to 16)"."""
    return "{} ({})".format(*within(value, *ends))


def signed(value: float | None, digits: int) -> str:
    """`value` with its sign and so many decimals, never minus zero; a dash for None."""
    return NONE if value is None else f"{round(value, digits) + 0.0:+.{digits}f}"


def counted(number: int, noun: str) -> str:
    """A `number` of things, as in "1 round" and "3 rounds"."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def on_one_line(value: str) -> str:
    """`value` with its unit kept on its line, where it is short enough for that."""
    return value.replace(" ", "\u00a0") if len(value) <= LONGEST_VALUE else value


def signed_bars(values: Sequence[float]) -> list[Bar]:
    """Bars of `values` left and right of a common zero, scaled to fill the cell."""
    low, high = min([0.0, *values]), max([0.0, *values])
    scale = WIDEST / ((high - low) or 1.0)
    return [Bar(scale * abs(value), scale * (min(value, 0.0) - low), value < 0.0) for value in values]
