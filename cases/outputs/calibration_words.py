"""A calibration in words: intervals, what was done, what the data cannot tell, samples that lie off."""

from __future__ import annotations

from meltzone.cases.outputs.grid import counted
from meltzone.cases.statistics.robust import KNEE
from meltzone.cases.studies.calibration.calibration import CalibratedNumber, Calibration, Outlier


def interval_words(number: CalibratedNumber) -> str:
    """The 95 % interval of a number, with what bounds it."""
    free, (least, most) = number.free, number.limits
    if number.low is not None and number.high is not None:
        return f"{free.words(number.low)} to {free.words(number.high)}"
    if number.low is not None:
        return f"from {free.words(number.low)}, no upper bound (sought up to {free.words(most)})"
    if number.high is not None:
        return f"up to {free.words(number.high)}, no lower bound (sought down to {free.words(least)})"
    return f"no bound on either side (sought from {free.words(least)} to {free.words(most)})"


def standing(found: Calibration, number: CalibratedNumber) -> str:
    """How a number stands, in a word or two; empty where the data tell it."""
    if any(number.free.key in group.keys for group in found.confounded):
        return "not told apart"
    if number.edge is not None:
        return "at the limit"
    if not number.influences:
        return "data are blind to it"
    return "not determined" if number.open else ""


def method_words(found: Calibration) -> str:
    """What was fitted, to what, and how the errors were counted."""
    observed = found.observed
    parts = []
    if observed.ceilings:
        parts.append(f"{len(observed.ceilings)} ceiling{'s' if len(observed.ceilings) > 1 else ''}")
    if observed.curves:
        samples = sum(each.flow.size for each in observed.curves)
        parts.append(f"{counted(samples, 'sample')} of {len(observed.curves)} series")
    chi_square = f"chi-square {found.fit.chi_square:.3g}, {found.fit.freedom} degrees of freedom"
    if found.outliers:
        chi_square += f"; without outliers the misses are {found.fit.misfit:.2f} times those stated"
    text = f"Fitted to {' and '.join(parts)}; {chi_square}."
    if observed.curves:
        text += (
            f" Samples count by their random uncertainty, or by their scatter about their own broken line where that is more; "
            f"beyond {KNEE:g} standard deviations they pull no harder (robust loss, Huber). Density and diameter err alike in "
            "all samples of a filament: they are unknowns with their stated uncertainty, not scatter."
        )
    return text


def verdicts(found: Calibration) -> list[str]:
    """What a reader of the numbers must know."""
    said = [f"{text}." for text in found.unreached]
    for group in found.confounded:
        said += [group.statement, *group.advice]
    for number in found.numbers:
        said += verdicts_of(found, number)
    if found.fit.widened:
        said.append(
            f"The misses are {found.fit.misfit:.1f} times as large as the stated uncertainties allow: the model does not "
            "have the shape of the data (a real curve has no corner), or the uncertainties are too small. All intervals are "
            "widened by that."
        )
    said += map(_outlier, found.outliers)
    said += [
        f"{each.row.name}: too few samples to know their scatter; they count by weighing alone."
        for each in found.observed.curves
        if not each.scattered
    ]
    return said


def verdicts_of(found: Calibration, number: CalibratedNumber) -> list[str]:
    """What must be known of one number, unless it is confounded with others."""
    key = number.free.key
    if any(key in group.keys for group in found.confounded):
        return []
    if number.edge is not None:
        side = "greatest" if number.edge == "high" else "least"
        return [
            f"{key} fits best at the {side} value tried: the number given is that limit, not an estimate. Something else "
            "than this number keeps prediction and measurement apart."
        ]
    if not number.influences:
        return [
            f"The data are blind to {key}: at the value found no measured value answers to it, so that it is no estimate. "
            f"{_cure(key)}"
        ]
    if number.open:
        return [f"The data do not bound {key} on either side: no value is found."]
    if not number.bounded:
        return [f"Beyond some value the data no longer answer to {key}: they bound it on one side only."]
    return []


def _cure(key: str) -> str:
    if key.startswith("feeder."):
        return "No sample slips on the feeder: weigh where the grip limits, hotter, or with a longer melt zone."
    return "Measure where it matters, or do not free it."


def _outlier(sample: Outlier) -> str:
    noted = f", noted: {sample.note}" if sample.note else ""
    return (
        f"{sample.row}: the sample of line {sample.line} lies {sample.deviations:+.1f} standard deviations off{noted}; it is "
        f"kept, with {100.0 * sample.weight:.0f} % of its weight."
    )


def common_words(found: Calibration) -> list[str]:
    """What the fit makes of density and diameter, filament by filament."""
    return [
        f"Filament of {', '.join(each.series)}: delivered flow {_signed(100 * each.density * each.density_share)} % by density "
        f"(uncertain by {100 * each.density_share:.2g} %), commanded flow {_signed(100 * each.diameter * each.diameter_share)} "
        f"% by diameter (uncertain by {100 * each.diameter_share:.2g} %)."
        for each in found.commons
    ]


def _signed(value: float) -> str:
    return f"{round(value, 2) + 0.0:+.2f}"
