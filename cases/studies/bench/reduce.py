"""Weighed samples to onset, ceiling and shortfall with their uncertainties, series by series and against each other."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import false_discovery_control

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.statistics.broken_line import (
    FEWEST_FLOWS,
    FEWEST_SAMPLES,
    UNKNOWNS,
    BrokenLine,
    FittedLine,
    Refine,
    fit,
    one_by_one,
    relative_misses,
)
from meltzone.cases.statistics.resample import Estimate, difference, interval, resampled
from meltzone.cases.statistics.robust import OUTLYING
from meltzone.cases.statistics.side_by_side import side_by_side
from meltzone.cases.studies.bench.delivered import Delivered, check_reference, delivered_of
from meltzone.cases.studies.bench.samples import SampleFile, Series
from meltzone.fem.progress import Reporter

TOLERANCE = 0.05  # the usual shortfall that is accepted [-]
RESAMPLES = 499
DRAWN = 0.9  # a plateau that fewer of the resampled fits find within the flows tried is not established
MANY = 6  # beyond so many series their fits are made side by side, and those that plainly do not differ are dealt less often
FIRST_DEALS = 99
SLACK = 1e-4  # a turn this close to the highest flow, relative, is the end of the data


@dataclass(frozen=True, eq=False)
class Reduced:
    """One series: flows with uncertainty, the fitted line, and what follows from it [mm3/s].

    `onset` and `turn` are commanded flows: where under-delivery begins and where the plateau does. `ceiling` is the delivered
    flow of the plateau, `tolerated` the commanded flow at which the shortfall passes the tolerance. `reached` tells whether the
    samples reach the plateau; if not, the ceiling is a lower bound. Intervals are statistical alone; what density and diameter
    leave uncertain is in `delivered` and in `ceiling_uncertainty`. `scores` are robust z, shape (n,).
    """

    series: Series
    delivered: Delivered
    fitted: FittedLine
    gain: Estimate
    onset: Estimate
    turn: Estimate
    ceiling: Estimate
    tolerated: Estimate
    reached: bool
    scores: np.ndarray

    @property
    def ceiling_uncertainty(self) -> float:
        """Standard uncertainty of the ceiling [mm3/s]: statistical, and the density's share, which is common to all."""
        return math.hypot(self.ceiling.uncertainty, self.delivered.common_share * self.ceiling.value)

    @property
    def shortfall(self) -> np.ndarray:
        """Share missing in every sample against the reference line [-], shape (n,)."""
        return 1.0 - self.delivered.flow / (self.fitted.curve.gain * self.delivered.commanded)

    @property
    def outliers(self) -> np.ndarray:
        """Which samples lie far off the line, shape (n,)."""
        return np.abs(self.scores) > OUTLYING

    @property
    def common_gain(self) -> float:
        """What density and diameter together leave uncertain in the slope of the reference line [-]."""
        return self.gain.value * math.hypot(self.delivered.common_share, self.delivered.commanded_share)


@dataclass(frozen=True)
class Compared:
    """A series against the first: difference of the ceilings [mm3/s] and its uncertainty, probabilities, those adjusted.

    `shared` tells whether both are of one filament, so that density and diameter do not set them apart.
    """

    name: str
    base: str
    change: float
    uncertainty: float
    p_ceiling: float
    p_curve: float
    adjusted_ceiling: float
    adjusted_curve: float
    shared: bool


@dataclass(frozen=True, eq=False)
class Reduction:
    """All series of a file, with the shortfall `tolerance` [-], the number of `resamples` and the `seed` behind them."""

    samples: SampleFile
    series: tuple[Reduced, ...]
    compared: tuple[Compared, ...]
    tolerance: float
    resamples: int
    seed: int


def reduce(
    samples: SampleFile,
    tolerance: float = TOLERANCE,
    resamples: int = RESAMPLES,
    seed: int = 0,
    report: Reporter | None = None,
) -> Reduction:
    """Reduce all series of `samples`; `tolerance` [-] is the shortfall looked for.

    Raises CaseError where a series has too few flows or samples for its line, or delivers nothing at its lowest flows.
    """
    for each in samples.series:
        _check_enough(samples.file, each)
        check_reference(samples.file, each)
    rng, say = np.random.default_rng(seed), report or (lambda _: None)
    many = len(samples.series) > MANY
    refine = side_by_side if many else one_by_one
    stages = (FIRST_DEALS, resamples - FIRST_DEALS) if many else (resamples,)
    reduced = []
    for each in samples.series:
        say(f"{each.name}: fitting {resamples} resampled series")
        reduced.append(_reduced(each, tolerance, resamples, rng, refine))
    compared = _compared(reduced, stages, rng, refine, say)
    return Reduction(samples, tuple(reduced), compared, tolerance, resamples, seed)


def _check_enough(file: str, series: Series) -> None:
    flows = len({round(sample.commanded, 15) for sample in series.samples})
    if flows < FEWEST_FLOWS or len(series.samples) < FEWEST_SAMPLES:
        line = min([each.line for each in series.samples] + [each.line for each in series.left_out])
        found = f"series {series.name}: {len(series.samples)} weighed samples at {flows} flows"
        expected = f"at least {FEWEST_SAMPLES} weighed samples at {FEWEST_FLOWS} flows in a series"
        hint = "Two flows well below the onset, one between, two beyond the ceiling; meltzone plan lays them out."
        raise CaseError(file, line, None, found, expected, hint)


def _reduced(series: Series, tolerance: float, resamples: int, rng: np.random.Generator, refine: Refine) -> Reduced:
    delivered = delivered_of(series)
    x, y = delivered.commanded, delivered.flow
    fitted = fit(x, y, delivered.random_share, refine)
    drawn = resampled(fitted, x, y, resamples, rng, refine)

    def of(read: Callable[[BrokenLine], float]) -> Estimate:
        return interval(read(fitted.curve), np.array([read(curve) for curve in drawn]), x.size - UNKNOWNS)

    last = float(x.max()) * (1.0 - SLACK)
    inside = np.mean([curve.turn < last for curve in drawn])
    return Reduced(
        series=series,
        delivered=delivered,
        fitted=fitted,
        gain=of(lambda curve: curve.gain),
        onset=of(lambda curve: curve.onset),
        turn=of(lambda curve: curve.turn),
        ceiling=of(lambda curve: curve.ceiling),
        tolerated=of(lambda curve: curve.flow_at(tolerance)),
        reached=fitted.curve.turn < last and bool(inside >= DRAWN),
        scores=relative_misses(fitted.curve, x, y) / fitted.scatter,
    )


def _compared(
    reduced: list[Reduced], stages: Sequence[int], rng: np.random.Generator, refine: Refine, report: Reporter
) -> tuple[Compared, ...]:
    """Every series but the first against it; probabilities adjusted for their number (Benjamini and Yekutieli, 2001)."""
    if len(reduced) < 2:
        return ()
    base, *others = reduced
    found = []
    for other in others:
        report(f"{other.series.name} against {base.series.name}")
        sides = [(each.delivered.commanded, each.delivered.flow) for each in (base, other)]
        least = max(each.delivered.random_share for each in (base, other))
        found.append(difference(sides[0], sides[1], least, stages, rng, refine))
    adjusted = [
        false_discovery_control([getattr(each, name) for each in found], method="by")
        for name in ("p_ceiling", "p_curve")
    ]
    rows = []
    for other, each, p_ceiling, p_curve in zip(others, found, *adjusted, strict=True):
        change, uncertainty, shared = _change(base, other)
        rows.append(
            Compared(
                other.series.name, base.series.name, change, uncertainty, each.p_ceiling, each.p_curve,
                float(p_ceiling), float(p_curve), shared,
            )
        )  # fmt: skip
    return tuple(rows)


def _change(base: Reduced, other: Reduced) -> tuple[float, float, bool]:
    """Difference of the ceilings [mm3/s], its standard uncertainty, and whether one filament fed both."""
    change = other.ceiling.value - base.ceiling.value
    shared = base.series.filament == other.series.filament
    parts = [base.ceiling.uncertainty, other.ceiling.uncertainty]
    if shared:
        parts.append(base.delivered.common_share * change)
    else:
        parts += [each.delivered.common_share * each.ceiling.value for each in (base, other)]
    return change, math.hypot(*parts), shared
