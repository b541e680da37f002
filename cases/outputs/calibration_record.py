"""A calibration and its curves as plain types, for validation.json."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from meltzone.cases.outputs.calibration_words import method_words, standing, verdicts
from meltzone.cases.studies.calibration.calibration import CalibratedNumber, Calibration, CommonError, ConfoundedNumbers
from meltzone.cases.studies.validation.outcome import PredictedCurve


def joint_record(found: Calibration) -> dict[str, Any]:
    """Numbers, correlations, what cannot be told apart, common errors and samples that lie off."""
    fit = found.fit
    return {
        "numbers": [_number(found, number) for number in found.numbers],
        "correlation": [list(map(float, row)) for row in found.correlation],
        "tangled": [_confounded(each) for each in found.confounded],
        "chi_square": fit.chi_square,
        "degrees_of_freedom": fit.freedom,
        "misfit": fit.misfit,
        "widened": fit.widened,
        "ceilings": len(found.observed.ceilings),
        "samples": found.observed.count - len(found.observed.ceilings),
        "filaments": [_filament(each) for each in found.commons],
        "outliers": [asdict(each) for each in found.outliers],
        "method": method_words(found),
        "statements": verdicts(found),
    }


def _confounded(group: ConfoundedNumbers) -> dict[str, Any]:
    return {
        "keys": list(group.keys),
        "correlation": group.correlation,
        "statement": group.statement,
        "advice": list(group.advice),
    }


def _filament(common: CommonError) -> dict[str, Any]:
    return {
        "series": list(common.series),
        "density_error_percent": 100.0 * common.density * common.density_share,
        "density_uncertainty_percent": 100.0 * common.density_share,
        "commanded_error_percent": 100.0 * common.diameter * common.diameter_share,
        "commanded_uncertainty_percent": 100.0 * common.diameter_share,
    }


def _number(found: Calibration, number: CalibratedNumber) -> dict[str, Any]:
    free = number.free
    return {
        "key": free.key,
        "value": free.words(number.value),
        "low_95": None if number.low is None else free.words(number.low),
        "high_95": None if number.high is None else free.words(number.high),
        "searched": [free.words(limit) for limit in number.limits],
        "told": number in found.identifiable,
        "standing": standing(found, number) or None,
    }


def curve_record(curve: PredictedCurve) -> dict[str, Any]:
    """A series with every sample, flows in mm3/s."""
    samples, row = curve.samples, curve.row
    columns = (samples.commanded, samples.flow, samples.spread, curve.predicted, curve.misses)
    keys = ("commanded_mm3_per_s", "delivered_mm3_per_s", "uncertainty_mm3_per_s", "predicted_mm3_per_s", "deviations")
    numbers = zip(*(map(float, column) for column in columns), strict=True)
    return {
        "name": row.name,
        "case": row.case,
        "set": dict(row.overrides),
        "samples_file": row.samples,
        "series": row.series.name,
        "calibrates": row.calibrates,
        "note": row.note,
        "ceiling_mm3_per_s": curve.ceiling,
        "governs": curve.governs,
        "mean_miss_percent": curve.mean_miss,
        "samples": [
            {"line": each.line, **dict(zip(keys, found, strict=True))}
            for each, found in zip(row.series.samples, numbers, strict=True)
        ],
    }
