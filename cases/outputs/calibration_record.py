"""A joint calibration and its curves as plain types, for validation.json."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from meltzone.cases.outputs.calibration_words import method_words, standing, verdicts
from meltzone.cases.statistics.identify import Tangle
from meltzone.cases.studies.calibration.joint import Common, Joint, Number
from meltzone.cases.studies.validation.outcome import PredictedCurve


def joint_record(joint: Joint) -> dict[str, Any]:
    """Numbers, correlations, what cannot be told apart, common errors and samples that lie off."""
    answer = joint.answer
    return {
        "numbers": [_number(joint, number) for number in joint.numbers],
        "correlation": [list(map(float, row)) for row in joint.correlation],
        "tangled": [_tangle(each) for each in joint.tangles],
        "chi_square": answer.chi_square,
        "degrees_of_freedom": answer.freedom,
        "misfit": answer.misfit,
        "widened": answer.widened,
        "ceilings": len(joint.observed.ceilings),
        "samples": joint.observed.count - len(joint.observed.ceilings),
        "filaments": [_filament(each) for each in joint.commons],
        "outliers": [asdict(each) for each in joint.pulls],
        "method": method_words(joint),
        "statements": verdicts(joint),
    }


def _tangle(tangle: Tangle) -> dict[str, Any]:
    return {
        "keys": list(tangle.keys),
        "correlation": tangle.correlation,
        "statement": tangle.statement,
        "advice": list(tangle.advice),
    }


def _filament(common: Common) -> dict[str, Any]:
    return {
        "series": list(common.series),
        "density_error_percent": 100.0 * common.density * common.density_share,
        "density_uncertainty_percent": 100.0 * common.density_share,
        "commanded_error_percent": 100.0 * common.diameter * common.diameter_share,
        "commanded_uncertainty_percent": 100.0 * common.diameter_share,
    }


def _number(joint: Joint, number: Number) -> dict[str, Any]:
    free = number.free
    return {
        "key": free.key,
        "value": free.words(number.value),
        "low_95": None if number.low is None else free.words(number.low),
        "high_95": None if number.high is None else free.words(number.high),
        "searched": [free.words(limit) for limit in number.limits],
        "told": number in joint.told,
        "standing": standing(joint, number) or None,
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
