"""The dictionary behind explain.json: the explanation as plain types, units in the keys' names."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from meltzone.cases.outputs.keyed import rounded
from meltzone.cases.outputs.record import in_words, inputs_of, versions
from meltzone.cases.studies.bottleneck import ordered
from meltzone.cases.studies.explain import Explained, LeverEffect
from meltzone.cases.studies.interval import Contribution, Interval, Sampled
from meltzone.materials.limits import DEFERENCE

FORM = 1  # raised when a key changes its name, its unit or its meaning


def explained_record(explained: Explained) -> dict[str, Any]:
    """The whole record; what does not exist is None. docs/explain.md tells what the keys mean."""
    result, explanation = explained.result, explained.explanation
    return rounded(
        {
            "form": FORM,
            "versions": versions(),
            "case": {"name": result.case.name, "title": result.case.model.title},
            "inputs": inputs_of(result.case),
            "answer": result.statement,
            "bottleneck": explained.bottleneck,
            "governs": result.governs,
            "ceiling_mm3_per_s": result.flow_ceiling,
            "budget_percent": None
            if explanation is None
            else {name: 100.0 * share for name, share in ordered(dict(explanation.budget)).items()},
            "drops_K": None if explanation is None else dict(explanation.drops),
            "design_levers": [_lever(effect) for effect in explained.strongest("design")],
            "data_levers": [_lever(effect) for effect in explained.strongest("data")],
            "interval": explained.interval and _interval(explained.interval),
            "samples": explained.sampled and _samples(explained.sampled),
            "notes": list(explained.notes),
            "warnings": list(result.warnings),
            "cautions": [in_words(found) for found in result.cautions],
            "cautions_if_hotter": [in_words(found) for found in explained.hotter],
            "deference": DEFERENCE,
        }
    )


def _lever(effect: LeverEffect) -> dict[str, Any]:
    return {
        "key": effect.key,
        "words": effect.words,
        "now": effect.now,
        "step": effect.step,
        "change_mm3_per_s": effect.change,
        "change_percent": effect.percent,
    }


def _interval(interval: Interval) -> dict[str, Any]:
    low, high = interval.bounds
    return {
        "centre_mm3_per_s": interval.centre,
        "deviation_mm3_per_s": interval.deviation,
        "low_95_mm3_per_s": low,
        "high_95_mm3_per_s": high,
        "contributions": _contributions(interval.contributions),
        "left_out": dict(interval.skipped),
        "other_ceiling_within": interval.other_within,
    }


def _samples(sampled: Sampled) -> dict[str, Any]:
    enough = len(sampled.flows) >= 2
    low, high = sampled.bounds if enough else (None, None)
    return {
        "asked": sampled.asked,
        "solved": len(sampled.flows),
        "failed": dict(sampled.failed),
        "governed": dict(sampled.governed),
        "mean_mm3_per_s": sampled.mean if enough else None,
        "deviation_mm3_per_s": sampled.deviation if enough else None,
        "low_95_mm3_per_s": low,
        "high_95_mm3_per_s": high,
        "contributions": _contributions(sampled.contributions),
        "ceilings_mm3_per_s": sampled.flows.tolist(),
    }


def _contributions(parts: tuple[Contribution, ...]) -> list[dict[str, Any]]:
    renamed = {"words": "tolerance", "change": "change_for_one_deviation_mm3_per_s", "share": "share_of_variance"}
    return [{renamed.get(name, name): value for name, value in asdict(part).items()} for part in parts]
