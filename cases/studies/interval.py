"""The ceiling's interval from the tolerances of the inputs: linear by the adjoint, or by sampling with whole solves."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.uncertain import Uncertain, problem_at, refused, spread, uncertain_inputs
from meltzone.fem.adjoint import Adjoint
from meltzone.fem.ceiling import Ceilings, find_ceilings
from meltzone.fem.progress import Reporter

CUBIC_MM = 1e9
NORMAL_95 = 1.959964  # 95 % of a normal distribution lie within so many standard deviations
STEP = 1e-4  # of a standard deviation: what an input is moved by for its derivative
SEED = 20  # of the samples: the same case gives the same interval


@dataclass(frozen=True)
class Contribution:
    """What one input does: its `key`, its tolerance in `words`, the `change` of the ceiling for one standard deviation
    [mm3/s], and its first-order `share` of the variance [-].
    """

    key: str
    words: str
    change: float
    share: float


@dataclass(frozen=True)
class Interval:
    """The ceiling's linear interval: `centre` and one standard `deviation` [mm3/s], contributions, the largest first.

    `skipped` are inputs without a derivative, by key with the reason: the interval leaves them out. `other_within` says whether
    the other ceiling lies so near that it may govern within the interval, which no derivative sees.
    """

    centre: float
    deviation: float
    contributions: tuple[Contribution, ...]
    skipped: Mapping[str, str]
    other_within: bool

    @property
    def bounds(self) -> tuple[float, float]:
        """The 95 % interval of a normal distribution [mm3/s], not below 0."""
        reach = NORMAL_95 * self.deviation
        return max(self.centre - reach, 0.0), self.centre + reach


@dataclass(frozen=True, eq=False)
class Sampled:
    """The ceilings [mm3/s] of the samples that have one, `flows` (n,), and the standard normal inputs behind them, (n, d).

    `asked` samples were drawn; `failed` counts those that gave no ceiling, by reason; `governed` counts the limits.
    `contributions`, from the plane through the samples, are empty where there are too few of them.
    """

    asked: int
    flows: np.ndarray
    normals: np.ndarray
    failed: Mapping[str, int]
    governed: Mapping[str, int]
    contributions: tuple[Contribution, ...] = field(default=())

    @property
    def mean(self) -> float:
        """Mean of the ceilings [mm3/s]."""
        return float(np.mean(self.flows))

    @property
    def deviation(self) -> float:
        """Standard deviation of the ceilings [mm3/s]."""
        return float(np.std(self.flows, ddof=1))

    @property
    def bounds(self) -> tuple[float, float]:
        """Between these lie the middle 95 % of the samples [mm3/s]."""
        low, high = np.quantile(self.flows, [0.025, 0.975])
        return float(low), float(high)


def linear_interval(case: Case, found: Ceilings, adjoint: Adjoint) -> Interval | None:
    """The interval of the governing ceiling to first order, None where no input carries a tolerance; raises CaseError."""
    inputs = uncertain_inputs(case)
    if not inputs or found.field is None:
        return None
    changes: dict[str, float] = {}
    skipped: dict[str, str] = {}
    for item in inputs:
        try:
            changes[item.key] = float(CUBIC_MM * _slope(case, adjoint, item) * item.deviation)
        except CaseError as error:
            raise refused(case, item, error) from error
        except ValueError as fault:
            skipped[item.key] = str(fault)
    deviation = math.sqrt(sum(change**2 for change in changes.values()))
    parts = [
        Contribution(
            item.key, item.words, changes[item.key], (changes[item.key] / deviation) ** 2 if deviation else 0.0
        )
        for item in inputs
        if item.key in changes
    ]
    parts.sort(key=lambda part: -part.share)
    centre = CUBIC_MM * found.field.flow
    others = [field for field in found.found.values() if field is not found.field]
    near = any(CUBIC_MM * other.flow < centre + NORMAL_95 * deviation for other in others)
    return Interval(centre, deviation, tuple(parts), skipped, near)


def _slope(case: Case, adjoint: Adjoint, item: Uncertain) -> float:
    """dQ by the input's own unit [m3/s per unit]."""
    step = STEP * item.deviation
    low, high = (problem_at(case, {item.key: item.value + move}) for move in (-step, step))
    return adjoint.change(low, high) / (2.0 * step)


def sampled_interval(case: Case, count: int, report: Reporter | None = None) -> Sampled | None:
    """Solve `count` samples of the inputs, normal and independent, by Latin hypercube; None without tolerances."""
    from scipy.special import ndtri  # few calls need them
    from scipy.stats import qmc

    inputs = uncertain_inputs(case)
    if not inputs:
        return None
    normals = ndtri(qmc.LatinHypercube(d=len(inputs), seed=SEED).random(count))
    flows, kept = [], []
    failed: Counter[str] = Counter()
    governed: Counter[str] = Counter()
    for number, row in enumerate(normals):
        if report is not None:
            report(f"sample {number + 1} of {count}")
        found, reason = _one(case, inputs, row)
        if found is None:
            failed[reason] += 1
            continue
        governed[found.governs] += 1
        flows.append(CUBIC_MM * found.flow)
        kept.append(row)
    result = Sampled(count, np.array(flows), np.array(kept).reshape(-1, len(inputs)), failed, governed)
    return Sampled(count, result.flows, result.normals, failed, governed, _by_regression(inputs, result))


def _one(case: Case, inputs: tuple[Uncertain, ...], row: np.ndarray) -> tuple[Ceilings | None, str]:
    """The ceilings of one sample, or the reason why it has none."""
    values = spread(inputs, list(row))
    for item in inputs:
        least, most = item.bounds
        if not least <= values[item.key] <= most:
            return None, f"{item.key} beyond what a case accepts"
    try:
        found = find_ceilings(problem_at(case, values))
    except CaseError as error:
        return None, f"{error.key} impossible"
    if found.field is not None:
        return found, ""
    if found.heater_too_weak:
        return None, "the heater is too weak"
    return None, "no steady state found" if found.failed else "nothing melts"


def _by_regression(inputs: tuple[Uncertain, ...], sampled: Sampled) -> tuple[Contribution, ...]:
    """Changes and first-order shares of the variance from the least-squares plane through the samples."""
    count = len(sampled.flows)
    if count < len(inputs) + 2 or np.ptp(sampled.flows) == 0.0:
        return ()
    columns = np.column_stack([np.ones(count), sampled.normals])
    slopes = np.linalg.lstsq(columns, sampled.flows, rcond=None)[0][1:]
    shares = (slopes / sampled.deviation) ** 2
    parts = [
        Contribution(item.key, item.words, float(slope), float(share))
        for item, slope, share in zip(inputs, slopes, shares, strict=True)
    ]
    return tuple(sorted(parts, key=lambda part: -part.share))
