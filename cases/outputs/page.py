"""What a verb shows, as blocks in their order, said once for the terminal, HTML and Markdown."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from meltzone.cases.outputs.grid import Grid
from meltzone.materials.limits import Finding

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SEVERITY = {"refuse": "DO NOT", "warning": "warning", "note": "note"}  # the gravest first


@dataclass(frozen=True)
class Head:
    """The title, the `file` it was read from, and notes below."""

    title: str
    file: str = ""
    notes: tuple[str, ...] = ()

    @property
    def lines(self) -> tuple[str, ...]:
        """What stands below the title."""
        return tuple(filter(None, (self.file, *self.notes)))


@dataclass(frozen=True)
class Answer:
    """The outcome in words; `strong`, a part of `text`, stands out, in a `good` or a bad light."""

    text: str
    strong: str = ""
    good: bool = True


@dataclass(frozen=True)
class Words:
    """A paragraph, one line or several; a `quiet` one is no news."""

    text: str
    quiet: bool = False


@dataclass(frozen=True)
class Beside:
    """Tables that stand side by side where there is room."""

    grids: tuple[Grid, ...]


@dataclass(frozen=True)
class Warnings:
    """What a reader of the numbers must know, one text each after a `word`; nothing is shown where there are none."""

    texts: tuple[str, ...]
    word: str = "warning"


@dataclass(frozen=True)
class Cautions:
    """What the temperatures mean for materials and people, the gravest first, with the sentences that come with all of it."""

    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Beware:
    """A frame beside the answer of an HTML page: `text`, and the grave ones of `findings`. Other media show cautions alone."""

    text: str
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Section:
    """The beginning of a section; `short` names it among the links of a page, where the title is long.

    What a `folded` one holds is seen on a screen once it is opened, and on paper.
    """

    title: str
    short: str = ""
    folded: bool = False


@dataclass(frozen=True)
class Picture:
    """A figure made when the page is; `alt` tells its content to those who cannot see it. Terminals leave it out."""

    draw: Callable[[], Figure]
    caption: str
    alt: str
    format: Literal["png", "svg"] = "png"


@dataclass(frozen=True)
class Listing:
    """Text that is to be copied as it stands, such as a case file; `label` says what it is. Terminals leave it out."""

    text: str
    label: str


Block = Head | Answer | Words | Grid | Beside | Warnings | Cautions | Beware | Section | Picture | Listing


@dataclass(frozen=True)
class Page:
    """All blocks of a page; `kind` says in a few words what such a page is about."""

    blocks: tuple[Block, ...]
    kind: str = ""

    @property
    def head(self) -> Head:
        """The first block that is a head."""
        return next(block for block in self.blocks if isinstance(block, Head))


def by_severity(findings: Iterable[Finding]) -> list[Finding]:
    """The findings, the gravest first."""
    order = list(SEVERITY)
    return sorted(findings, key=lambda finding: order.index(finding.severity))


def hottest(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Of findings on one material against one limit, that at the highest temperature; notes that say the same count as one."""
    kept: dict[tuple, Finding] = {}
    for finding in sorted(findings, key=lambda finding: finding.temperature):
        said = finding.text.partition(": " if finding.severity == "note" else " degC: ")[2]
        kept[finding.material, finding.severity, said] = finding
    return tuple(kept.values())
