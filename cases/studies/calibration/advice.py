"""What to measure next: how far one or two more rows, of variants of the hot end, would part numbers not told apart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.statistics.identify import CONFOUNDED, after_one_more
from meltzone.cases.studies.bench.balance import USUAL_RESOLUTION, Balance
from meltzone.cases.studies.bench.filament import filament_of
from meltzone.cases.studies.bench.plan import Wanted, minutes_about
from meltzone.cases.studies.bench.rows import CeilingRow, CurveRow
from meltzone.cases.studies.bench.samples import CUBIC_MM
from meltzone.cases.studies.calibration.calibration import Calibration
from meltzone.cases.studies.calibration.models import RowModels, derivatives, values_of
from meltzone.cases.studies.calibration.row_cases import Values
from meltzone.fem.problem import Problem
from meltzone.materials.units import LENGTH, TEMPERATURE, show

HOTTER, COLDER, LONGER, WIDER = 25.0, -15.0, 8e-3, 1.5  # [K], [K], [m], factor of the orifice
COMMANDED = np.array([0.8, 1.0, 1.1, 1.25, 1.5, 2.0, 2.5])  # of the ceiling: a curve is weighed there
SHOWN = 2
USUAL_BENCH = Wanted(Balance(USUAL_RESOLUTION), 0.01, 3, 60.0, 0)  # how meltzone plan lays weighings out
BETTER = 0.8  # of the best single row's width: two rows that leave no less are not worth their time
USELESS = 0.9  # of the interval's width: a row that leaves as much is no advice
HOTTEST = 573.15  # no variant is asked for above this [K]


@dataclass(frozen=True)
class _Tried:
    """Variants in `words` and what they would leave: `widths` of the intervals as shares of now, and the `correlation`.

    `minutes` is what weighing them takes at the bench, as `meltzone plan` lays it out.
    """

    words: str
    minutes: float
    widths: tuple[float, ...]
    correlation: float

    @property
    def worst(self) -> float:
        return max(self.widths)


def advice(found: Calibration, keys: Sequence[str]) -> tuple[str, ...]:
    """Sentences on the variants that part the numbers `keys` best, by their predicted sensitivities; a few solves each."""
    places = [place for place, number in enumerate(found.numbers) if number.free.key in keys]
    base = found.observed.rows[0]
    share, filament = _share(found, base), filament_of(problem_of(found.models.cases.case(base)))
    rows: list[tuple[str, np.ndarray, float]] = []
    for words, row in _variants(found, base):
        try:
            slopes, ceiling = _slopes(found.models, row, base, found.fit.values[: len(found.numbers)])
        except CaseError:  # the variant does not go together
            continue
        rows.append((words, slopes / share, minutes_about(ceiling, filament, USUAL_BENCH)))
    tried = [_tried(found, places, [each]) for each in rows]
    best = [each for each in sorted(tried, key=lambda each: each.worst) if each.worst < USELESS][:SHOWN]
    pairs = sorted((_tried(found, places, list(two)) for two in combinations(rows, 2)), key=lambda each: each.worst)
    if pairs and pairs[0].worst < BETTER * min((each.worst for each in best), default=USELESS):
        best.append(pairs[0])
    if not best:
        return ("None of the variants tried (setpoint, length of the melt zone, orifice) would part them.",)
    kind = "a curve" if isinstance(base, CurveRow) else "a ceiling"
    return tuple(
        f"To part them, measure {kind} with {each.words}, as uncertain as now ({100 * share:.2g} %): predicted to bring the "
        f"correlation to {each.correlation:+.2f}{_still(each)} and the intervals to {_listed(found, places, each)} of their "
        f"width; about {each.minutes:.0f} min at the bench."
        for each in best
    )


def _tried(found: Calibration, places: Sequence[int], rows: Sequence[tuple[str, np.ndarray, float]]) -> _Tried:
    """What `rows` (words, slopes, minutes) would leave of the numbers at `places`, measured one after the other."""
    after = found.covariance
    for _, slopes, _ in rows:
        after = after_one_more(after, slopes)
    widths = np.sqrt(np.diag(after)[places] / np.diag(found.covariance)[places])
    one, other = places[0], places[1]
    correlation = float(after[one, other] / np.sqrt(after[one, one] * after[other, other]))
    words = ", and another with ".join(words for words, _, _ in rows)
    return _Tried(words, sum(minutes for _, _, minutes in rows), tuple(map(float, widths)), correlation)


def _still(tried: _Tried) -> str:
    return " (still not apart)" if abs(tried.correlation) > CONFOUNDED else ""


def _listed(found: Calibration, places: Sequence[int], tried: _Tried) -> str:
    parts = [
        f"{100 * width:.2g} % ({found.numbers[place].free.key})"
        for place, width in zip(places, tried.widths, strict=True)
    ]
    return " and ".join(parts)


def _share(found: Calibration, base: CeilingRow | CurveRow) -> float:
    """The standard uncertainty of what is measured like `base` [-]."""
    if isinstance(base, CeilingRow):
        return base.uncertainty / base.ceiling
    samples = next(each for each in found.observed.curves if each.row is base)
    return float(np.hypot(np.median(samples.spread / samples.commanded), samples.density))


def _variants(found: Calibration, base: CeilingRow | CurveRow) -> Iterator[tuple[str, CeilingRow | CurveRow]]:
    """The row with another setpoint, a longer melt zone, a wider orifice; a curve also as it is, further beyond."""
    cases = found.models.cases
    changes = _changes(problem_of(cases.case(base)))
    if isinstance(base, CurveRow):
        changes = {"more samples, up to 2.5 times the ceiling, all else the same": {}, **changes}
    freed = {free.key for free in cases.free}
    for words, change in changes.items():
        if not freed & set(change):
            yield words, replace(base, name=f"{base.name} | {words}", overrides={**base.overrides, **change})


def _changes(problem: Problem) -> dict[str, dict[str, Any]]:
    setpoint, nozzle = problem.operation.setpoint, problem.arrangement.nozzle
    longer = {
        "nozzle.length": show(nozzle.length + LONGER, LENGTH),
        "nozzle.exposed": show(nozzle.exposed + LONGER, LENGTH),
    }
    orifice = show(WIDER * nozzle.orifice, LENGTH)
    found: dict[str, dict[str, Any]] = {}
    for change in (HOTTER, COLDER):
        if setpoint + change <= HOTTEST:
            written = show(setpoint + change, TEMPERATURE)
            found[f"the setpoint at {written}"] = {"heater.setpoint": written}
    found[f"a melt zone {show(LONGER, LENGTH)} longer (nozzle.length and nozzle.exposed)"] = longer
    found[f"an orifice of {orifice}"] = {"nozzle.orifice": orifice}
    return found


def _slopes(
    models: RowModels, row: CeilingRow | CurveRow, base: CeilingRow | CurveRow, coordinates: np.ndarray
) -> tuple[np.ndarray, float]:
    """Derivatives of the logarithm of what would be measured by the `coordinates`, (1 or more, k), and the ceiling [m3/s]."""
    models.borrow(row, base)
    ceiling = models.at(row, values_of(models.cases, coordinates)).ceiling
    if not ceiling:
        raise CaseError(row.name, None, None, None, "a hot end that melts", "It does not.")

    def measured(values: Values) -> np.ndarray:
        model = models.at(row, values)
        flows = model.delivered(COMMANDED * ceiling) if isinstance(row, CurveRow) else np.array([model.ceiling])
        return np.asarray(np.log(np.maximum(CUBIC_MM * flows, 1e-3)))

    return derivatives(measured, models.cases, coordinates)[1], ceiling
