"""Measured ceilings and curves against predicted ones: calibrate on the rows marked so, predict every row."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.free_number import DEFAULT_FREE, free_number, value_in
from meltzone.cases.inputs.parameters import Parameter
from meltzone.cases.statistics.chi_square import Fit, fit
from meltzone.cases.studies.calibration.joint import Joint
from meltzone.cases.studies.calibration.models import RowModels
from meltzone.cases.studies.calibration.observations import predicted as weighing_shows
from meltzone.cases.studies.calibration.observations import weighed
from meltzone.cases.studies.validation.measurements import load_measured
from meltzone.cases.studies.validation.outcome import (
    CUBIC_MM,
    Calibration,
    Change,
    Predicted,
    PredictedCurve,
    Validation,
)
from meltzone.cases.studies.validation.row_cases import Overrides, RowCases, Values, in_row
from meltzone.cases.studies.validation.rows import Measured, Row

Reporter = Callable[[str], None]

STEP_LOG, TOLERANCE_LOG = 0.7, 1e-3  # first step of the search and its end, in the logarithm: factors of 2 and 1.001
STEP_KELVIN, TOLERANCE_KELVIN = 10.0, 0.02
REACH, LINE = 1.04, 200  # of the highest flow, and points: how a curve is drawn
REACHED = 1e-3  # a ceiling this close to the measured one, as a share, counts as reached


def validate(
    measured: Measured | str | Path,
    free: str | Sequence[str] | None = None,
    overrides: Overrides | None = None,
    report: Reporter | None = None,
) -> Validation:
    """Calibrate the numbers `free` on the rows marked so and predict all rows; nothing is written.

    `free` is a dotted key of a case, or several; by default what the measured file names, else contacts.bore_melt. One number
    on ceilings alone is found where chi-square is least; several, or any on weighed samples, by `calibrate`. `overrides` go on
    top of every row's case. Rows differ in nothing but their cases and their own values. Raises CaseError for anything in
    the files that cannot be used, before the first solve.
    """
    read = measured if isinstance(measured, Measured) else load_measured(measured)
    say = report or _silent
    cases = RowCases(read, _free_numbers(read, free), overrides or {})
    cases.check()
    marked = [row for row in read.rows if row.calibrates]
    curves = [row for row in read.curves if row.calibrates]
    joint = calibration = None
    if curves or (marked and len(cases.free) > 1):
        from meltzone.cases.studies.calibration.fitting import calibrate  # noqa: PLC0415  one number on ceilings needs none of it

        joint = calibrate(cases, marked, curves, say)
    elif marked:
        calibration = _calibrated(cases, marked, say)
    predicted = _predicted(cases, calibration, say) if joint is None else _predicted_jointly(cases, joint, say)
    by_name = {each.row.name: each for each in predicted}
    changes = [
        Change(each, by_name[each.row.compared_with]) for each in predicted if each.row.compared_with is not None
    ]
    return Validation(read, calibration, predicted, tuple(changes), joint, _laid_beside(cases, joint, calibration))


def _free_numbers(read: Measured, free: str | Sequence[str] | None) -> tuple[Parameter, ...]:
    asked = (free,) if isinstance(free, str) else tuple(free or ())
    where = "--free" if asked else read.file
    keys = asked or read.free or (DEFAULT_FREE,)
    for number, key in enumerate(keys):
        if key in keys[:number]:
            raise CaseError(where, None, "free", key, "each number once", "Remove the second one.")
    return tuple(free_number(key, where) for key in keys)


def _silent(_: str) -> None:
    pass


def _calibrated(rows: RowCases, marked: Sequence[Row], report: Reporter) -> Calibration:
    """Least chi-square over the `marked` rows in the coordinate of the free number."""
    (free,) = rows.free
    cases = [rows.case(row) for row in marked]
    start = value_in(free, cases[0], problem_of(cases[0]))
    limits = free.limits(start)
    highest = dict.fromkeys((row.name for row in marked), 0.0)

    def chi_square(coordinate: float) -> float:
        value = free.value(coordinate)
        try:
            ceilings = [rows.ceiling(row, (value,)).flow for row in marked]
        except CaseError:  # the value does not go with the rest of the case
            return float("inf")
        for row, ceiling in zip(marked, ceilings, strict=True):
            highest[row.name] = max(highest[row.name], ceiling)
        misses = [(ceiling - row.ceiling) / row.uncertainty for row, ceiling in zip(marked, ceilings, strict=True)]
        total = float(np.sum(np.square(misses)))
        report(f"calibrating {free.key}: {free.words(value)} gives chi-square {total:.3g}")
        return total

    step, tolerance = (STEP_KELVIN, TOLERANCE_KELVIN) if free.is_temperature else (STEP_LOG, TOLERANCE_LOG)
    least, most = (free.coordinate(limit) for limit in limits)
    found: Fit = fit(chi_square, free.coordinate(start), least, most, step, tolerance)
    low, high = (None if end is None else free.value(end) for end in (found.low, found.high))
    unreached = tuple(
        f"No value of {free.key} from {free.words(limits[0])} to {free.words(limits[1])} reaches the measured "
        f"{CUBIC_MM * row.ceiling:.4g} mm3/s of {row.name}: at most {CUBIC_MM * highest[row.name]:.4g} mm3/s"
        for row in marked
        if highest[row.name] < (1.0 - REACHED) * row.ceiling and found.edge is not None
    )
    best = free.value(found.best)
    return Calibration(free, best, low, high, found.chi_square, len(marked), limits, found.edge, unreached)


def _predicted(rows: RowCases, calibration: Calibration | None, report: Reporter) -> tuple[Predicted, ...]:
    """Every row at the calibrated value and at the ends of its interval, or as its case has it."""
    tried = () if calibration is None else (calibration.value, *calibration.ends)
    values: tuple[Values | None, ...] = tuple((value,) for value in tried) or (None,)
    predicted = []
    every = rows.measured.rows
    for number, row in enumerate(every, start=1):
        report(f"predicting row {number} of {len(every)}: {row.name}")
        try:
            found = [rows.ceiling(row, value) for value in values]
        except CaseError as error:
            raise in_row(error, rows.measured, row) from error
        ceilings = [CUBIC_MM * each.flow for each in found]
        predicted.append(Predicted(row, ceilings[0], min(ceilings), max(ceilings), found[0].governs, found[0].cautions))
    return tuple(predicted)


def _predicted_jointly(rows: RowCases, joint: Joint, report: Reporter) -> tuple[Predicted, ...]:
    """Every row at the values found, with the interval that their covariance leaves it."""
    predicted = []
    every = rows.measured.rows
    for number, row in enumerate(every, start=1):
        report(f"predicting row {number} of {len(every)}: {row.name}")
        try:
            found = rows.ceiling(row, joint.values)
            centre, low, high = joint.ceiling_range(row)
        except CaseError as error:
            raise in_row(error, rows.measured, row) from error
        least, most = (CUBIC_MM * max(found.flow + end - centre, 0.0) for end in (low, high))
        predicted.append(Predicted(row, CUBIC_MM * found.flow, least, most, found.governs, found.cautions))
    return tuple(predicted)


def _laid_beside(rows: RowCases, joint: Joint | None, calibration: Calibration | None) -> tuple[PredictedCurve, ...]:
    """Every series of samples with its predicted curve, at the values found or at the cases' own."""
    values: Values | None = None
    if joint is not None:
        models, values = joint.models, joint.values
    else:
        values = None if calibration is None else (calibration.value,)
        rows = rows if values else RowCases(rows.measured, (), rows.overrides)
        models = RowModels(rows)
    found = []
    for each in weighed(rows.measured.curves):
        try:
            model, exact = models.at(each.row, values or ()), rows.ceiling(each.row, values)
        except CaseError as error:
            raise in_row(error, rows.measured, each.row) from error
        commanded = np.linspace(0.0, max(REACH * float(each.commanded.max()), 1e-3), LINE)[1:]
        commons = np.zeros(2 * each.spool + 2) if joint is None else joint.commons_for(each)
        drawn = weighing_shows(replace(each, commanded=commanded), model, commons)
        line = np.stack([commanded, CUBIC_MM * model.delivered(commanded / CUBIC_MM), drawn])
        shown = weighing_shows(each, model, commons)
        found.append(PredictedCurve(each, shown, line, CUBIC_MM * exact.flow, exact.governs, exact.cautions))
    return tuple(found)
