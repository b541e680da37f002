"""The files of a validation: validation.json, its pictures and calibrated.toml, all that there is to write or none."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from meltzone.cases.outputs.calibration_figure import curves_figure
from meltzone.cases.outputs.calibration_record import curve_record, joint_record
from meltzone.cases.outputs.figures import save
from meltzone.cases.outputs.keyed import as_json, rounded
from meltzone.cases.outputs.record import versions
from meltzone.cases.outputs.validation_figure import headlines, validation_figure
from meltzone.cases.outputs.validation_tables import sentences
from meltzone.cases.outputs.writing import staged_folder
from meltzone.cases.studies.validation.calibrated import CALIBRATED, calibrated_text, verdict_words
from meltzone.cases.studies.validation.outcome import Calibration, Change, Predicted, Validation
from meltzone.cases.studies.validation.row_cases import Overrides
from meltzone.cases.studies.validation.rows import Measured
from meltzone.cases.studies.validation.validate import Reporter, validate

RECORD, PICTURE, CURVES = "validation.json", "validation.png", "curves.png"
OURS = (RECORD, PICTURE, CURVES, CALIBRATED)
FORM = 1  # raised when a key changes its name, its unit or its meaning


def validate_into(
    folder: str | os.PathLike[str],
    measured: Measured | str | Path,
    free: str | Sequence[str] | None = None,
    overrides: Overrides | None = None,
    report: Reporter | None = None,
) -> Validation:
    """As `validate`, and write the files into `folder`; raises CaseError for a folder that cannot be written, before it."""
    with staged_folder(Path(folder), OURS) as temporary:
        found = validate(measured, free, overrides, report)
        if report is not None:
            report("writing")
        if found.rows:
            save(validation_figure(found), temporary / PICTURE)
        if found.curves:
            title = found.measured.title or found.measured.name
            save(curves_figure(found.curves, title, [*found.invented, *headlines(found)]), temporary / CURVES)
        carried = calibrated_text(found)
        if carried is not None:
            (temporary / CALIBRATED).write_text(carried, encoding="utf-8")
        (temporary / RECORD).write_text(as_json(rounded(record_of(found))), encoding="utf-8")
    return found


def record_of(validation: Validation) -> dict[str, Any]:
    """The whole validation as plain types; flows in mm3/s, changes in percent and percentage points."""
    worst, change = validation.worst, validation.worst_change
    return {
        "form": FORM,
        "versions": versions(),
        "measured": {
            "name": validation.measured.name,
            "title": validation.measured.title,
            "source": validation.measured.source,
        },
        "calibration": None if validation.calibration is None else _calibration(validation.calibration),
        "joint": None if validation.joint is None else joint_record(validation.joint),
        "rows": [_row(row) for row in validation.rows],
        "curves": [curve_record(curve) for curve in validation.curves],
        "changes": [_change(change) for change in validation.changes],
        "mean_error_percent": validation.mean_error,
        "worst_error_percent": None if worst is None else worst.error,
        "worst_row": None if worst is None else worst.row.name,
        "worst_change_points": None if change is None else change.miss,
        "statements": sentences(validation),
    }


def _calibration(calibration: Calibration) -> dict[str, Any]:
    free = calibration.free
    ends = {"low": calibration.low, "high": calibration.high}
    return {
        "key": free.key,
        "value": free.words(calibration.value),
        **{f"{name}_95": None if end is None else free.words(end) for name, end in ends.items()},
        "searched": [free.words(limit) for limit in calibration.limits],
        "chi_square": calibration.chi_square,
        "rows": calibration.rows,
        "statements": verdict_words(calibration),
    }


def _row(row: Predicted) -> dict[str, Any]:
    return {
        "name": row.row.name,
        "case": row.row.case,
        "set": dict(row.row.overrides),
        "calibrates": row.row.calibrates,
        "note": row.row.note,
        "measured_mm3_per_s": row.measured,
        "uncertainty_mm3_per_s": row.uncertainty,
        "predicted_mm3_per_s": row.ceiling,
        "low_95_mm3_per_s": row.low,
        "high_95_mm3_per_s": row.high,
        "error_percent": row.error,
        "governs": row.governs,
    }


def _change(change: Change) -> dict[str, Any]:
    return {
        "row": change.row.row.name,
        "against": change.base.row.name,
        "measured_percent": change.measured,
        "uncertainty_points": change.uncertainty,
        "predicted_percent": change.predicted,
        "missed_by_points": change.miss,
    }
