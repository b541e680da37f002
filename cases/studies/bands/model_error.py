"""The model's own error: what it missed of measured ceilings and gains that it did not know, and its velocity profile."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache

import numpy as np

from meltzone.cases.statistics.independent import Ends
from meltzone.cases.studies.bands.compared import Compared, evidence
from meltzone.cases.studies.bands.effects import Effect
from meltzone.cases.studies.bands.reach import conditions_of, like_orifice
from meltzone.fem.problem import Problem

MODEL, PROFILE, DIVIDED = "model: its error", "model: velocity profile", "model: divided length"
# What heat solved in three dimensions through splitting and joining leaves of a ceiling with channels, the worst of four
# sectors: the page on three dimensions, held against its figures by a test
SOLID = Ends(math.log(0.933), 0.0)
SMALL_GAIN = 0.1  # logarithm of a measured gain below which what is missed of it counts as the floor


def of_ceiling(problem: Problem) -> tuple[Effect, ...]:
    """The model's error as effects on a ceiling: what comparisons missed, and the other velocity profiles."""
    rows = like_orifice(conditions_of(problem), evidence().rows) or list(evidence().rows)
    half = missed(rows)
    percent = f"{100.0 * math.expm1(half):.0f} %"
    count = len({(row.file, row.arrangement) for row in rows})
    known = f"by {count} arrangements, each predicted by the others"
    error = Effect(MODEL, "the model itself", f"+/- {percent}", known, Ends(-half, half))
    own = (error, _of_profile(problem.operation.profile))
    return own if problem.arrangement.channels is None else (*own, _of_division())


def _of_division() -> Effect:
    low, high = (100.0 * math.expm1(end) for end in (SOLID.low, SOLID.high))
    words = f"{low:+.0f} to {high:+.0f} %"
    return Effect(
        DIVIDED, "splitting and joining of the stream", words, "by solving sectors in three dimensions", SOLID
    )


def _of_profile(own: str) -> Effect:
    """From the profile with the least to that with the greatest ceiling, counted from the problem's `own`."""
    logs = evidence().profile
    low, high = min(logs.values()) - logs[own], max(logs.values()) - logs[own]
    words = " to ".join(
        f"{percent:+.0f}" if round(percent) else "0" for percent in (100.0 * math.expm1(low), 100.0 * math.expm1(high))
    )
    return Effect(PROFILE, "velocity profile of the melt", f"{words} %", "by solving with each", Ends(low, high))


def missed(rows: Sequence[Compared]) -> float:
    """Half of the range of 90 % of what predictions miss, as a logarithm [-].

    The mean square over arrangements, each weighed by the uncertainty that its measurements state, times Student's factor for
    the number of arrangements that there are in all.
    """
    squares: dict[tuple[str, int], list[tuple[float, float]]] = {}
    for row in rows:
        squares.setdefault((row.file, row.arrangement), []).append((row.error**2, row.uncertainty**-2))
    means = [np.mean(pairs, axis=0) for pairs in squares.values()]
    square = sum(error * weight for error, weight in means) / sum(weight for _, weight in means)
    return _student() * math.sqrt(square)


def of_gain(log_gain: float) -> Ends:
    """What the model itself may miss of a gain, the logarithm of the ratio of two ceilings [-]."""
    floor, share = missed_of_gains()
    half = _student() * math.hypot(floor, share * log_gain)
    return Ends(-half, half)


@cache
def missed_of_gains() -> tuple[float, float]:
    """What predictions miss of measured gains, one standard deviation: of small ones [-], and as a share of the others [-].

    Least squares through zero of what is missed on the predicted gain, weighed by the uncertainty of the measured one.
    """
    rows = [
        (
            math.log(row.predicted / base.predicted),
            row.error - base.error,
            math.hypot(row.uncertainty, base.uncertainty),
        )
        for row, base in evidence().gains
    ]
    small = [miss for gain, miss, _ in rows if abs(gain) < SMALL_GAIN]
    floor = math.sqrt(sum(miss**2 for miss in small) / len(small))
    squares = sum((miss / weight) ** 2 for _, miss, weight in rows)
    share = math.sqrt(squares / sum((gain / weight) ** 2 for gain, _, weight in rows))
    return floor, share


@cache
def _student() -> float:
    """Student's factor for 90 % and as many arrangements as were compared."""
    from scipy.special import stdtrit

    return float(stdtrit(len({(row.file, row.arrangement) for row in evidence().rows}), 0.95))
