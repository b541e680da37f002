"""A joint calibration in words: intervals, what was done, what the data cannot tell, samples that lie off."""

from __future__ import annotations

from typing import Protocol

from meltzone.cases.inputs.free_number import FreeNumber
from meltzone.cases.statistics.least_squares import KNEE
from meltzone.cases.studies.calibration.joint import Joint, Number


class Bounded(Protocol):
    """A number that was freed, with the ends of its 95 % interval and the limits of the search [SI]."""

    @property
    def free(self) -> FreeNumber:
        """The number."""

    @property
    def low(self) -> float | None:
        """Lower end, None where there is none."""

    @property
    def high(self) -> float | None:
        """Upper end, None where there is none."""

    @property
    def limits(self) -> tuple[float, float]:
        """Least and greatest value tried."""


def interval_words(number: Bounded) -> str:
    """The 95 % confidence interval of a number in words, with what bounds it."""
    free, (least, most) = number.free, number.limits
    if number.low is not None and number.high is not None:
        return f"{free.words(number.low)} to {free.words(number.high)}"
    if number.low is not None:
        return f"from {free.words(number.low)}, no upper bound (sought up to {free.words(most)})"
    if number.high is not None:
        return f"up to {free.words(number.high)}, no lower bound (sought down to {free.words(least)})"
    return f"no bound on either side (sought from {free.words(least)} to {free.words(most)})"


def standing(joint: Joint, number: Number) -> str:
    """How a number stands, in a word or two; empty where the data tell it."""
    if any(number.free.key in tangle.keys for tangle in joint.tangles):
        return "not told apart"
    if number.blind:
        return "data are blind to it"
    if number.open:
        return "not determined"
    return "at the limit" if number.edge else ""


def method_words(joint: Joint) -> str:
    """What was fitted, to what, and how the errors were counted."""
    observed = joint.observed
    parts = []
    if observed.ceilings:
        parts.append(f"{len(observed.ceilings)} ceiling{'s' if len(observed.ceilings) > 1 else ''}")
    if observed.curves:
        samples = sum(each.flow.size for each in observed.curves)
        parts.append(f"{samples} samples of {len(observed.curves)} series")
    chi_square = f"chi-square {joint.answer.chi_square:.3g}, {joint.answer.freedom} degrees of freedom"
    if joint.pulls:
        chi_square += f"; without outliers the misses are {joint.answer.misfit:.2f} times those stated"
    text = f"Fitted to {' and '.join(parts)}; {chi_square}."
    if observed.curves:
        text += (
            f" Samples count by their random uncertainty, or by their scatter about their own broken line where that is more; "
            f"beyond {KNEE:g} standard deviations they pull no harder (robust loss, Huber). Density and diameter err alike in "
            "all samples of a filament: they are unknowns with their stated uncertainty, not scatter."
        )
    return text


def verdicts(joint: Joint) -> list[str]:
    """What a reader of the numbers must know."""
    found = []
    for tangle in joint.tangles:
        found += [tangle.statement, *tangle.advice]
    for number in joint.numbers:
        found += _verdicts_of(joint, number)
    if joint.answer.widened:
        found.append(
            f"The misses are {joint.answer.misfit:.1f} times as large as the stated uncertainties allow: the model does not "
            "have the shape of the data (a real curve has no corner), or the uncertainties are too small. All intervals are "
            "widened by that."
        )
    found += [_pull(joint, number) for number in range(len(joint.pulls))]
    found += [
        f"{each.row.name}: too few samples to know their scatter; they count by weighing alone."
        for each in joint.observed.curves
        if not each.scattered
    ]
    return found


def _verdicts_of(joint: Joint, number: Number) -> list[str]:
    key, found = number.free.key, []
    if any(key in tangle.keys for tangle in joint.tangles):
        return []
    if number.blind:
        found.append(
            f"The data are blind to {key}: at the value found no measured value answers to it, so that it is no estimate. "
            f"{_cure(key)}"
        )
    elif number.open:
        found.append(f"The data do not bound {key} on either side: no value is found.")
    elif number.edge:
        found.append(
            f"{key} stands at the limit of the search, which is no estimate: something else keeps prediction and "
            "measurement apart."
        )
    elif number.low is None or number.high is None:
        found.append(f"Beyond some value the data no longer answer to {key}: they bound it on one side only.")
    return found


def _cure(key: str) -> str:
    if key.startswith("feeder."):
        return "No sample slips on the feeder: weigh where the grip limits, hotter, or with a longer melt zone."
    return "Measure where it matters, or do not free it."


def _pull(joint: Joint, number: int) -> str:
    pull = joint.pulls[number]
    noted = f", noted: {pull.note}" if pull.note else ""
    return (
        f"{pull.row}: the sample of line {pull.line} lies {pull.deviations:+.1f} standard deviations off{noted}; it is kept, "
        f"with {100.0 * pull.weight:.0f} % of its weight."
    )


def common_words(joint: Joint) -> list[str]:
    """What the fit makes of density and diameter, filament by filament."""
    return [
        f"Filament of {', '.join(each.series)}: delivered flow {_signed(100 * each.density * each.density_share)} % by density "
        f"(uncertain by {100 * each.density_share:.2g} %), commanded flow {_signed(100 * each.diameter * each.diameter_share)} "
        f"% by diameter (uncertain by {100 * each.diameter_share:.2g} %)."
        for each in joint.commons
    ]


def _signed(value: float) -> str:
    return f"{round(value, 2) + 0.0:+.2f}"
