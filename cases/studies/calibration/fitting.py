"""Fits the free numbers to ceilings and samples together: start, search, intervals, what cannot be told apart."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.free_number import value_in
from meltzone.cases.inputs.parameters import Parameter
from meltzone.cases.statistics.identify import Tangle, blind_to, tangles_of
from meltzone.cases.statistics.least_squares import Answer, Question, answer, interval_end
from meltzone.cases.studies.bench.reduce import OUTLYING
from meltzone.cases.studies.calibration.joint import Common, Joint, Number, Pull, step_of
from meltzone.cases.studies.calibration.models import RowModels, values_of
from meltzone.cases.studies.calibration.observations import Observed, weighed
from meltzone.cases.studies.calibration.separating import advice
from meltzone.cases.studies.calibration.starting import sought
from meltzone.cases.studies.validation.row_cases import RowCases
from meltzone.cases.studies.validation.rows import CurveRow, Row

Reporter = Callable[[str], None]

TRIED_LOG = tuple(np.log([0.25, 0.5, 2.0, 4.0]))  # changes of the start, one number after the other
TRIED_KELVIN = (-20.0, -8.0, 8.0, 20.0)
ANCHORINGS = 3  # at most; as long as the numbers move by more than the steps of derivatives
IMPOSSIBLE = 1e3  # a residual where a value does not go with a case
AT_LIMIT = 1e-3  # of the range: this close to its end counts as the end


def calibrate(cases: RowCases, rows: Sequence[Row], curves: Sequence[CurveRow], report: Reporter) -> Joint:
    """Fit the free numbers of `cases` to ceilings in `rows` and samples in `curves`.

    Raises CaseError where there are fewer measured values than numbers, or where a case does not have a number.
    """
    observed = Observed(tuple(rows), weighed(curves))
    _check_enough(cases, observed)
    models = RowModels(cases)
    question = _question(models, observed, observed.rows[0], report)
    best = sought(question, [TRIED_KELVIN if free.is_temperature else TRIED_LOG for free in cases.free])
    for _ in range(ANCHORINGS if models.pushes else 0):
        report("searching the force ceiling in full")
        models.anchor(observed.rows, values_of(models, best.values[: len(cases.free)]))
        before, best = best, answer(replace(question, start=best.values))
        if np.all(np.abs(best.values - before.values) < question.step):
            break
    numbers = tuple(_number(question, best, place, free, report) for place, free in enumerate(cases.free))
    joint = Joint(
        numbers=numbers,
        correlation=best.correlation[: len(numbers), : len(numbers)],
        covariance=_within_search(question, best, len(numbers)),
        tangles=_tangles(numbers, best),
        answer=best,
        observed=observed,
        commons=_commons(observed, best.values[len(numbers) :]),
        pulls=_pulls(observed, best),
        models=models,
    )
    report("looking for what would part the numbers")
    parted = tuple(replace(tangle, advice=advice(joint, tangle.keys)) for tangle in joint.tangles)
    return replace(joint, tangles=parted)


def _check_enough(cases: RowCases, observed: Observed) -> None:
    names = [free.key for free in cases.free]
    if observed.count < len(names):
        values = f"{observed.count} measured value{'s' if observed.count > 1 else ''}"
        found = f"{len(names)} freed numbers ({', '.join(names)}) for {values}"
        expected = "at least as many measured values that calibrate as freed numbers"
        hint = "Free fewer, or mark more rows with calibrates = true; of a curve every sample counts."
        raise CaseError(cases.measured.file, None, "free", found, expected, hint)


def _question(models: RowModels, observed: Observed, first: Row | CurveRow, report: Reporter) -> Question:
    """Unknowns: the free numbers' coordinates, then the common errors in standard uncertainties."""
    free, commons = models.cases.free, observed.commons
    case = models.cases.case(first)
    problem = problem_of(case)
    values = [value_in(each, case, problem) for each in free]
    limits = [each.limits(value) for each, value in zip(free, values, strict=True)]
    told: set[tuple[float, ...]] = set()

    def residuals(unknowns: np.ndarray) -> np.ndarray:
        values = values_of(models, unknowns[: len(free)])
        try:
            found = {row.name: models.at(row, values) for row in observed.rows}
        except CaseError:
            return np.full(observed.count + commons, IMPOSSIBLE)
        misses = observed.residuals(found, unknowns[len(free) :])
        if values not in told:
            told.add(values)
            words = ", ".join(f"{each.key} {each.words(value)}" for each, value in zip(free, values, strict=True))
            report(f"calibrating: {words} gives chi-square {float(np.square(misses).sum()):.4g}")
        return misses

    return Question(
        residuals,
        np.array([*(each.coordinate(value) for each, value in zip(free, values, strict=True)), *np.zeros(commons)]),
        np.array(
            [*(each.coordinate(low) for each, (low, _) in zip(free, limits, strict=True)), *np.full(commons, -np.inf)]
        ),
        np.array(
            [*(each.coordinate(high) for each, (_, high) in zip(free, limits, strict=True)), *np.full(commons, np.inf)]
        ),
        np.array([*map(step_of, free), *np.full(commons, 0.1)]),
        observed.robust,
    )


def _number(question: Question, best: Answer, place: int, free: Parameter, report: Reporter) -> Number:
    report(f"interval of {free.key}")
    least, most = float(question.least[place]), float(question.most[place])
    at = float(best.values[place])
    ends = [interval_end(question, best, place, end) for end in (least, most)]
    low, high = (None if end is None else free.value(end) for end in ends)
    weighed_slopes = np.sqrt(best.weights) * best.slopes[:, place]
    return Number(
        free=free,
        value=free.value(at),
        low=low,
        high=high,
        limits=(free.value(least), free.value(most)),
        blind=blind_to(weighed_slopes, free),
        edge=bool(min(at - least, most - at) < AT_LIMIT * (most - least)),
    )


def _tangles(numbers: Sequence[Number], best: Answer) -> tuple[Tangle, ...]:
    seen = [place for place, number in enumerate(numbers) if not number.blind]
    shared = best.covariance[np.ix_(seen, seen)]
    return tangles_of([numbers[place].free for place in seen], shared, [numbers[place].bounded for place in seen])


def _within_search(question: Question, best: Answer, size: int) -> np.ndarray:
    """Covariance (k, k) of the free numbers, no wider than the search: its range counts as one more 95 % interval."""
    half = 0.5 * (question.most[:size] - question.least[:size]) / best.multiple
    shared = best.covariance[:size, :size]
    seen = np.isfinite(np.diag(shared))
    found = np.diag(half**2)
    prior = np.diag(half[seen] ** -2.0)
    inside = shared[np.ix_(seen, seen)]
    found[np.ix_(seen, seen)] = np.linalg.inv(np.linalg.inv(inside) + prior)
    return found


def _commons(observed: Observed, found: np.ndarray) -> tuple[Common, ...]:
    spools = sorted({each.spool for each in observed.curves})
    commons = []
    for spool in spools:
        members = [each for each in observed.curves if each.spool == spool]
        names = tuple(each.row.name for each in members)
        density, diameter = map(float, found[2 * spool : 2 * spool + 2])
        commons.append(Common(names, density, diameter, members[0].density, members[0].diameter))
    return tuple(commons)


def _pulls(observed: Observed, best: Answer) -> tuple[Pull, ...]:
    """Samples beyond what counts as an outlier in a reduction, about the fitted curve."""
    found, place = [], len(observed.ceilings)
    for each in observed.curves:
        for sample in each.row.series.samples:
            miss, weight = -float(best.residuals[place]), float(best.weights[place])
            if abs(miss) > OUTLYING:
                found.append(Pull(each.row.name, sample.line, miss, weight, sample.note))
            place += 1
    return tuple(found)
