"""Fits the free numbers, one or several, to ceilings and samples together: search, intervals, what is confounded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.free_number import value_in
from meltzone.cases.inputs.parameters import Parameter
from meltzone.cases.statistics.identify import confounded, correlation_of, without_influence
from meltzone.cases.statistics.least_squares import FitResult, LeastSquares, fit, interval_end, widened
from meltzone.cases.statistics.multistart import multistart
from meltzone.cases.statistics.robust import OUTLYING
from meltzone.cases.studies.bench.rows import CeilingRow, CurveRow
from meltzone.cases.studies.bench.samples import CUBIC_MM
from meltzone.cases.studies.calibration.advice import advice
from meltzone.cases.studies.calibration.calibration import (
    CalibratedNumber,
    Calibration,
    CommonError,
    ConfoundedNumbers,
    Edge,
    Outlier,
    confounded_numbers,
    natural,
)
from meltzone.cases.studies.calibration.models import ModelOfRow, RowModels, by_full_search, step_of, values_of
from meltzone.cases.studies.calibration.observations import Observed, observed_curves
from meltzone.cases.studies.calibration.row_cases import RowCases
from meltzone.fem.progress import Reporter

TRIED_LOG = tuple(np.log([0.25, 0.5, 2.0, 4.0]))  # changes of the start, one number after the other
TRIED_KELVIN = (-20.0, -8.0, 8.0, 20.0)
ANCHORINGS = 3  # at most; as long as the numbers move by more than the steps of derivatives
IMPOSSIBLE = 1e3  # a residual where a value does not go with a case
AT_LIMIT = 1e-3  # of the range: this close to its end counts as the end
REACHED = 1e-3  # a ceiling this close to the measured one, as a share, counts as reached


def calibrate(cases: RowCases, rows: Sequence[CeilingRow], curves: Sequence[CurveRow], report: Reporter) -> Calibration:
    """Fit the free numbers of `cases` to ceilings in `rows` and samples in `curves`.

    One number on ceilings alone is fitted to those of the full search, its interval by the stated uncertainties: the rows are
    of several hot ends, and what sets those apart is no noise. Raises CaseError where there are fewer measured values than
    numbers, or where a case does not have a number.
    """
    observed = Observed(tuple(rows), observed_curves(curves))
    _check_enough(cases, observed)
    models = RowModels(cases)
    single = len(cases.free) == 1 and not curves
    problem = _problem(cases, by_full_search(cases) if single else models.at, observed, report)
    best = multistart(problem, [TRIED_KELVIN if free.is_temperature else TRIED_LOG for free in cases.free])
    best = _on_own_mesh(cases, problem, best, rows) if single else best
    for _ in range(ANCHORINGS if models.pushes else 0):
        report("searching the force ceiling in full")
        models.anchor(observed.rows, values_of(cases, best.values[: len(cases.free)]))
        before, best = best, fit(replace(problem, start=best.values))
        if np.all(np.abs(best.values - before.values) < problem.step):
            break
    best = best if single else widened(problem, best)
    numbers = tuple(_number(problem, best, place, free, report) for place, free in enumerate(cases.free))
    found = Calibration(
        numbers=numbers,
        correlation=correlation_of(best.covariance[: len(numbers), : len(numbers)]),
        covariance=_within_search(problem, best, len(numbers)),
        confounded=_confounded(numbers, best),
        fit=best,
        observed=observed,
        commons=_commons(observed, best.values[len(numbers) :]),
        outliers=_outliers(observed, best),
        models=models,
        unreached=_unreached(cases, numbers, rows) if single else (),
    )
    if not found.confounded:
        return found
    report("looking for what would part the numbers")
    return replace(
        found, confounded=tuple(replace(group, advice=advice(found, group.keys)) for group in found.confounded)
    )


def _on_own_mesh(cases: RowCases, problem: LeastSquares, best: FitResult, rows: Sequence[CeilingRow]) -> FitResult:
    """The fit once more, the coarser mesh of the search set right by the case's own where the first one ended."""
    for row in rows:
        cases.meet(row, values_of(cases, best.values))
    return fit(replace(problem, start=best.values))


def _check_enough(cases: RowCases, observed: Observed) -> None:
    names = [free.key for free in cases.free]
    if observed.count < len(names):
        values = f"{observed.count} measured value{'s' if observed.count > 1 else ''}"
        found = f"{len(names)} freed numbers ({', '.join(names)}) for {values}"
        expected = "at least as many measured values that calibrate as freed numbers"
        hint = "Free fewer, or mark more rows with calibrates = true; of a curve every sample counts."
        raise CaseError(cases.measured.file, None, "free", found, expected, hint)


def _problem(cases: RowCases, model_of: ModelOfRow, observed: Observed, report: Reporter) -> LeastSquares:
    """Unknowns: the free numbers' coordinates, then the common errors in standard uncertainties."""
    free, commons = cases.free, observed.commons
    case = cases.case(observed.rows[0])
    solvable = problem_of(case)
    values = [value_in(each, case, solvable) for each in free]
    limits = [each.limits(value) for each, value in zip(free, values, strict=True)]
    told: set[tuple[float, ...]] = set()

    def residuals(unknowns: np.ndarray) -> np.ndarray:
        values = values_of(cases, unknowns[: len(free)])
        try:
            found = {row.name: model_of(row, values) for row in observed.rows}
        except CaseError:
            return np.full(observed.count + commons, IMPOSSIBLE)
        misses = observed.residuals(found, unknowns[len(free) :])
        if values not in told:
            told.add(values)
            words = ", ".join(f"{each.key} {each.words(value)}" for each, value in zip(free, values, strict=True))
            report(f"calibrating: {words} gives chi-square {float(np.square(misses).sum()):.4g}")
        return misses

    def coordinates(of_free: Sequence[float], of_commons: float) -> np.ndarray:
        own = [each.coordinate(value) for each, value in zip(free, of_free, strict=True)]
        return np.array([*own, *np.full(commons, of_commons)])

    return LeastSquares(
        residuals,
        coordinates(values, 0.0),
        coordinates([low for low, _ in limits], -np.inf),
        coordinates([high for _, high in limits], np.inf),
        np.array([*map(step_of, free), *np.full(commons, 0.1)]),
        observed.robust,
    )


def _number(problem: LeastSquares, best: FitResult, place: int, free: Parameter, report: Reporter) -> CalibratedNumber:
    report(f"interval of {free.key}")
    least, most = float(problem.least[place]), float(problem.most[place])
    at = float(best.values[place])
    ends = [interval_end(problem, best, place, end) for end in (least, most)]
    low, high = (None if end is None else free.value(end) for end in ends)
    weighed_slopes = np.sqrt(best.weights) * best.slopes[:, place]
    distances: dict[Edge, float] = {"low": at - least, "high": most - at}
    return CalibratedNumber(
        free=free,
        value=free.value(at),
        low=low,
        high=high,
        limits=(free.value(least), free.value(most)),
        influences=not without_influence(weighed_slopes, natural(free)),
        edge=next((side for side, distance in distances.items() if distance < AT_LIMIT * (most - least)), None),
    )


def _confounded(numbers: Sequence[CalibratedNumber], best: FitResult) -> tuple[ConfoundedNumbers, ...]:
    seen = [place for place, number in enumerate(numbers) if number.influences]
    members = [numbers[place] for place in seen]
    changes = np.array([natural(number.free) for number in members])
    groups = confounded(best.covariance[np.ix_(seen, seen)], changes)
    return tuple(confounded_numbers(members, group) for group in groups)


def _unreached(cases: RowCases, numbers: Sequence[CalibratedNumber], rows: Sequence[CeilingRow]) -> tuple[str, ...]:
    """Ceilings that the one number reaches at no value, in sentences."""
    (number,) = numbers
    words, (least, most) = number.free.words, number.limits
    highest = {row.name: cases.highest(row) for row in rows}
    return tuple(
        f"No value of {number.free.key} from {words(least)} to {words(most)} reaches the measured "
        f"{CUBIC_MM * row.ceiling:.4g} mm³/s of {row.name}: at most {CUBIC_MM * highest[row.name]:.4g} mm³/s"
        for row in rows
        if number.edge is not None and highest[row.name] < (1.0 - REACHED) * row.ceiling
    )


def _within_search(problem: LeastSquares, best: FitResult, size: int) -> np.ndarray:
    """Covariance (k, k) of the free numbers, no wider than the search: its range counts as one more 95 % interval."""
    half = 0.5 * (problem.most[:size] - problem.least[:size]) / best.multiple
    shared = best.covariance[:size, :size]
    seen = np.isfinite(np.diag(shared))
    found = np.diag(half**2)
    prior = np.diag(half[seen] ** -2.0)
    inside = shared[np.ix_(seen, seen)]
    found[np.ix_(seen, seen)] = np.linalg.inv(np.linalg.inv(inside) + prior)
    return found


def _commons(observed: Observed, found: np.ndarray) -> tuple[CommonError, ...]:
    spools = sorted({each.spool for each in observed.curves})
    commons = []
    for spool in spools:
        members = [each for each in observed.curves if each.spool == spool]
        names = tuple(each.row.name for each in members)
        density, diameter = map(float, found[2 * spool : 2 * spool + 2])
        commons.append(CommonError(names, density, diameter, members[0].density, members[0].diameter))
    return tuple(commons)


def _outliers(observed: Observed, best: FitResult) -> tuple[Outlier, ...]:
    """Samples beyond what counts as an outlier in a reduction, about the fitted curve."""
    found, place = [], len(observed.ceilings)
    for each in observed.curves:
        for sample in each.row.series.samples:
            miss, weight = -float(best.residuals[place]), float(best.weights[place])
            if abs(miss) > OUTLYING:
                found.append(Outlier(each.row.name, sample.line, miss, weight, sample.note))
            place += 1
    return tuple(found)
