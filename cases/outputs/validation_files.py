"""The files of a validation: validation.json, its pictures and calibrated.toml, all that there is to write or none."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from meltzone.cases.outputs.calibrated_text import CALIBRATED, calibrated_text
from meltzone.cases.outputs.calibration_figure import curves_figure
from meltzone.cases.outputs.calibration_record import curve_record, joint_record
from meltzone.cases.outputs.calibration_words import verdicts
from meltzone.cases.outputs.figures import save
from meltzone.cases.outputs.keyed import as_json, rounded
from meltzone.cases.outputs.record import versions
from meltzone.cases.outputs.validation_figure import headlines, validation_figure
from meltzone.cases.outputs.validation_tables import sentences
from meltzone.cases.outputs.writing import staged_folder
from meltzone.cases.studies.bench.rows import Measured
from meltzone.cases.studies.calibration.calibration import Calibration
from meltzone.cases.studies.calibration.row_cases import Overrides
from meltzone.cases.studies.validation.outcome import Change, Predicted, Validation
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
        **_calibrated(validation.calibration),
        "rows": [_row(row) for row in validation.rows],
        "curves": [curve_record(curve) for curve in validation.curves],
        "changes": [_change(change) for change in validation.changes],
        "mean_error_percent": validation.mean_error,
        "worst_error_percent": None if worst is None else worst.error,
        "worst_row": None if worst is None else worst.row.name,
        "worst_change_points": None if change is None else change.miss,
        "statements": sentences(validation),
    }


def _calibrated(found: Calibration | None) -> dict[str, Any]:
    """One number on ceilings under one key, several, or any on curves, under another; the key without is null."""
    if found is None or found.single is None:
        return {"calibration": None, "joint": None if found is None else joint_record(found)}
    number, words = found.single, found.single.free.words
    ends = {"low": number.low, "high": number.high}
    record = {
        "key": number.free.key,
        "value": words(number.value),
        **{f"{name}_95": None if end is None else words(end) for name, end in ends.items()},
        "searched": [words(limit) for limit in number.limits],
        "chi_square": found.fit.chi_square,
        "rows": found.observed.count,
        "statements": verdicts(found),
    }
    return {"calibration": record, "joint": None}


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
