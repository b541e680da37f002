"""Measured ceilings and curves against predicted ones: calibrate on the rows marked so, predict every row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.free_number import DEFAULT_FREE, free_number
from meltzone.cases.inputs.parameters import Parameter
from meltzone.cases.studies.bench.rows import CeilingRow, MeasuredFile
from meltzone.cases.studies.bench.samples import CUBIC_MM
from meltzone.cases.studies.calibration.calibrate import calibrate
from meltzone.cases.studies.calibration.calibration import Calibration
from meltzone.cases.studies.calibration.journal import Journal
from meltzone.cases.studies.calibration.models import RowModels
from meltzone.cases.studies.calibration.observations import observed_curves, weighing_shows
from meltzone.cases.studies.calibration.row_cases import FoundCeiling, Overrides, RowCases, in_row
from meltzone.cases.studies.validation.forces import predicted_forces
from meltzone.cases.studies.validation.measurements import load_measured
from meltzone.cases.studies.validation.outcome import CeilingChange, Predicted, PredictedCurve, Validation
from meltzone.cases.studies.versions import versions
from meltzone.fem.progress import Reporter

REACH, LINE = 1.04, 200  # of the highest flow, and points: how a curve is drawn


def validate(
    measured: MeasuredFile | str | Path,
    free: str | Sequence[str] | None = None,
    overrides: Overrides | None = None,
    report: Reporter | None = None,
    journal: Path | None = None,
) -> Validation:
    """Calibrate the numbers `free` on the rows marked so and predict all rows; nothing is written.

    `free` is a dotted key of a case, or several; by default what the measured file names, else contacts.bore_melt. `overrides`
    go on top of every row's case. Rows differ in nothing but their cases and their own values. Raises CaseError for anything in
    the files that cannot be used, before the first solve. What is solved is kept in the file `journal` until all is done, so
    that the same call goes on after an interruption.
    """
    read = measured if isinstance(measured, MeasuredFile) else load_measured(measured)
    say = report or (lambda _: None)
    numbers = _free_numbers(read, free)
    RowCases(read, numbers, overrides or {}).check()
    kept = Journal(journal, _meaning(read, numbers, overrides or {}))
    done = False
    try:
        found = _validated(RowCases(read, numbers, overrides or {}, kept), say)
        done = True
        return found
    finally:
        kept.close(done)


def _meaning(read: MeasuredFile, numbers: Sequence[Parameter], overrides: Overrides) -> str:
    """All that an answer kept for a calibration depends on: rows, their cases, the free numbers, the program's versions."""
    cases = RowCases(read, numbers, overrides)
    models = [cases.case(row).model.model_dump_json() for row in read.every]
    return repr((read.every, models, [free.key for free in numbers], dict(overrides), versions()))


def _validated(cases: RowCases, say: Reporter) -> Validation:
    read = cases.measured
    marked = [row for row in read.rows if row.calibrates]
    curves = [row for row in read.curves if row.calibrates]
    calibration = calibrate(cases, marked, curves, say) if marked or curves else None
    predicted = _predicted(cases, calibration, say)
    by_name = {each.row.name: each for each in predicted}
    changes = [
        CeilingChange(each, by_name[each.row.compared_with]) for each in predicted if each.row.compared_with is not None
    ]
    values = None if calibration is None else calibration.values
    forces = predicted_forces(cases, values, say)
    return Validation(read, calibration, predicted, tuple(changes), _laid_beside(cases, calibration), forces)


def _free_numbers(read: MeasuredFile, free: str | Sequence[str] | None) -> tuple[Parameter, ...]:
    asked = (free,) if isinstance(free, str) else tuple(free or ())
    where = "--free" if asked else read.file
    keys = asked or read.free or (DEFAULT_FREE,)
    for number, key in enumerate(keys):
        if key in keys[:number]:
            raise CaseError(where, None, "free", key, "each number once", "Remove the second one.")
    return tuple(free_number(key, where) for key in keys)


def _predicted(rows: RowCases, calibration: Calibration | None, report: Reporter) -> tuple[Predicted, ...]:
    """Every row at the values found, or as its case has it, with what the calibration leaves open [mm3/s]."""
    predicted = []
    every = rows.measured.rows
    for number, row in enumerate(every, start=1):
        report(f"predicting row {number} of {len(every)}: {row.name}")
        try:
            found = rows.ceiling(row, None if calibration is None else calibration.values)
            least, most = (CUBIC_MM * end for end in _interval(rows, calibration, row, found))
        except CaseError as error:
            raise in_row(error, rows.measured, row) from error
        predicted.append(Predicted(row, CUBIC_MM * found.flow, least, most, found.governs, found.cautions))
    return tuple(predicted)


def _interval(
    rows: RowCases, calibration: Calibration | None, row: CeilingRow, found: FoundCeiling
) -> tuple[float, float]:
    """Least and greatest ceiling of `row` [m3/s]: at the ends of one number's interval; by the covariance of several."""
    if calibration is None:
        return found.flow, found.flow
    if calibration.single is not None:
        flows = [found.flow, *(rows.searched(row, (end,)) for end in calibration.single.ends)]
        return min(flows), max(flows)
    centre, low, high = calibration.ceiling_range(row)
    return max(found.flow + low - centre, 0.0), max(found.flow + high - centre, 0.0)


def _laid_beside(rows: RowCases, calibration: Calibration | None) -> tuple[PredictedCurve, ...]:
    """Every series of samples with its predicted curve, at the values found or at the cases' own."""
    values = None if calibration is None else calibration.values
    rows = rows if values else RowCases(rows.measured, (), rows.overrides)
    models = RowModels(rows) if calibration is None else calibration.models
    found = []
    for each in observed_curves(rows.measured.curves):
        try:
            model, exact = models.at(each.row, values or ()), rows.ceiling(each.row, values)
        except CaseError as error:
            raise in_row(error, rows.measured, each.row) from error
        commanded = np.linspace(0.0, max(REACH * float(each.commanded.max()), 1e-3), LINE)[1:]
        commons = np.zeros(2 * each.spool + 2) if calibration is None else calibration.commons_for(each)
        drawn = weighing_shows(replace(each, commanded=commanded), model, commons)
        line = np.stack([commanded, CUBIC_MM * model.delivered(commanded / CUBIC_MM), drawn])
        shown = weighing_shows(each, model, commons)
        found.append(PredictedCurve(each, shown, line, CUBIC_MM * exact.flow, exact.governs, exact.cautions))
    return tuple(found)
