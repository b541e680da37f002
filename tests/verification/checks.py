"""What a check is, and the register that pytest and the documentation page both read."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np

Measure = Literal["absolute", "relative", "at most", "at least"]


@dataclass(frozen=True)
class Check:
    """One claim: what an outside `source` expects, what the solver found, and how far apart they may be.

    `measure` says how `tolerance` is meant; for "at most" and "at least" `expected` is the bound and `tolerance` is not used.
    """

    id: str
    claim: str
    source: str
    expected: float
    found: float
    tolerance: float
    unit: str = "-"
    measure: Measure = "absolute"

    @property
    def deviation(self) -> float:
        """Distance from the expected figure, in `unit` or as a share."""
        apart = abs(self.found - self.expected)
        return apart / abs(self.expected) if self.measure == "relative" else apart

    @property
    def ok(self) -> bool:
        """Whether the claim holds; a figure that is not a number never does."""
        if self.measure == "at most":
            return self.found <= self.expected
        if self.measure == "at least":
            return self.found >= self.expected
        return self.deviation <= self.tolerance


@dataclass(frozen=True)
class Group:
    """Checks that share one set of solves, with the `title` and the `note` they carry on the page."""

    key: str
    title: str
    note: str
    compute: Callable[[], list[Check]]

    @cache  # noqa: B019 - one object a group, for the life of the process
    def checks(self) -> list[Check]:
        """Run the solves, once."""
        return self.compute()


GROUPS: dict[str, Group] = {}


def group(key: str, title: str) -> Callable[[Callable[[], list[Check]]], Group]:
    """Enter the decorated function in the register; its docstring is the note on the page."""

    def enter(compute: Callable[[], list[Check]]) -> Group:
        note = " ".join((compute.__doc__ or "").split())
        GROUPS[key] = Group(key, title, note, compute)
        return GROUPS[key]

    return enter


def worst(
    id: str,
    claim: str,
    source: str,
    where: Iterable[str],
    expected: Iterable[float],
    found: Iterable[float],
    tolerance: float,
    unit: str = "-",
    measure: Measure = "absolute",
) -> Check:
    """The row of a table that lies farthest from its source; the claim then names that row and how many there are."""
    rows = [
        Check(id, f"{claim} (worst of ROWS, at {place})", source, float(e), float(f), tolerance, unit, measure)
        for place, e, f in zip(where, expected, found, strict=True)
    ]
    row = rows[int(np.argmax([np.nan_to_num(r.deviation, nan=np.inf) for r in rows]))]
    return Check(
        id, row.claim.replace("ROWS", str(len(rows))), source, row.expected, row.found, tolerance, unit, measure
    )


def bound(
    id: str,
    claim: str,
    source: str,
    measure: Literal["at most", "at least"],
    limit: float,
    found: float,
    unit: str = "-",
) -> Check:
    """A figure that must not pass a limit."""
    return Check(id, claim, source, limit, float(found), 0.0, unit, measure)
