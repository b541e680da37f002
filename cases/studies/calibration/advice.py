"""What to measure next: how far one more row, of a variant of the hot end, would part numbers that cannot be told apart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.statistics.identify import CONFOUNDED, after_one_more
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
USELESS = 0.9  # of the interval's width: a row that leaves as much is no advice
HOTTEST = 573.15  # no variant is asked for above this [K]


@dataclass(frozen=True)
class _Tried:
    """A variant in `words` and what it would leave: `widths` of the intervals as shares of now, and the `correlation`."""

    words: str
    widths: tuple[float, ...]
    correlation: float

    @property
    def worst(self) -> float:
        return max(self.widths)


def advice(found: Calibration, keys: Sequence[str]) -> tuple[str, ...]:
    """Sentences on the variants that part the numbers `keys` best, by their predicted sensitivities; a few solves each."""
    places = [place for place, number in enumerate(found.numbers) if number.free.key in keys]
    base = found.observed.rows[0]
    share = _share(found, base)
    tried = []
    for words, row in _variants(found, base):
        try:
            slopes = _slopes(found.models, row, base, found.fit.values[: len(found.numbers)]) / share
        except CaseError:  # the variant does not go together
            continue
        after = after_one_more(found.covariance, slopes)
        widths = np.sqrt(np.diag(after)[places] / np.diag(found.covariance)[places])
        one, other = places[0], places[1]
        correlation = float(after[one, other] / np.sqrt(after[one, one] * after[other, other]))
        tried.append(_Tried(words, tuple(map(float, widths)), correlation))
    best = [each for each in sorted(tried, key=lambda each: each.worst) if each.worst < USELESS][:SHOWN]
    if not best:
        return ("None of the variants tried (setpoint, length of the melt zone, orifice) would part them.",)
    kind = "a curve" if isinstance(base, CurveRow) else "a ceiling"
    return tuple(
        f"To part them, measure {kind} with {each.words}, as uncertain as now ({100 * share:.2g} %): predicted to bring the "
        f"correlation to {each.correlation:+.2f}{_still(each)} and the intervals to {_listed(found, places, each)} of their "
        "width."
        for each in best
    )


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
) -> np.ndarray:
    """Derivatives of the logarithm of what would be measured by the `coordinates`, (1 or more, k)."""
    models.borrow(row, base)
    ceiling = models.at(row, values_of(models.cases, coordinates)).ceiling
    if not ceiling:
        raise CaseError(row.name, None, None, None, "a hot end that melts", "It does not.")

    def measured(values: Values) -> np.ndarray:
        model = models.at(row, values)
        flows = model.delivered(COMMANDED * ceiling) if isinstance(row, CurveRow) else np.array([model.ceiling])
        return np.asarray(np.log(np.maximum(CUBIC_MM * flows, 1e-3)))

    return derivatives(measured, models.cases, coordinates)[1]
