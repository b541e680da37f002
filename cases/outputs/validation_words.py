"""A validation in words: what was calibrated, and the errors."""

from __future__ import annotations

import math
from collections.abc import Sequence

from meltzone.cases.outputs.calibration_words import interval_words, standing
from meltzone.cases.studies.validation.outcome import PredictedForce, Validation

LONGEST_LINE = 118


def sentences(validation: Validation) -> list[str]:
    """The errors in words."""
    found = []
    worst, change = validation.worst, validation.worst_change
    if worst is not None and validation.mean_error is not None:
        count = len(validation.judged)
        found.append(
            f"Over {count} predicted row{'s' if count > 1 else ''}: mean error {validation.mean_error:.1f} %, worst "
            f"{worst.error:+.1f} % ({worst.row.name})."
        )
    elif not validation.judged_forces and not [each for each in validation.curves if not each.row.calibrates]:
        found.append("No row is left to be predicted: all of them calibrate.")
    found += [
        f"{each.row.name}: samples missed by {each.mean_miss:.1f} % on average."
        for each in validation.curves
        if not each.row.calibrates
    ]
    if validation.judged_forces:
        factors = [each.factor for each in validation.judged_forces]
        least = max(validation.judged_forces, key=lambda each: each.factor)
        together = "that set one factor together" if least.row.calibrates else "predicted"
        found.append(
            f"Over {len(factors)} force{'s' if len(factors) > 1 else ''} {together}: missed by a factor of "
            f"{geometric(factors):.2f} on average, at worst {least.factor:.2f} ({least.row.name})."
        )
    if change is not None and change.miss is not None:
        found.append(
            f"Changes: the worst is missed by {change.miss:+.1f} percentage points ({change.row.row.name} against "
            f"{change.base.row.name})."
        )
    return found


def factor_words(force: PredictedForce) -> str:
    """What lies between measured and predicted forces, from any of them."""
    if force.row.relative:
        return f"A measured 1 stands for {force.whole:.1f} N, as the rows that calibrate ask."
    if force.whole == 1.0:
        return "Forces as they are: no row calibrates."
    return f"Predicted forces are divided by {force.whole:.3g}, as the rows that calibrate ask."


def geometric(values: Sequence[float]) -> float:
    """The geometric mean [-]."""
    return math.exp(sum(map(math.log, values)) / len(values))


def headlines(validation: Validation) -> list[str]:
    """What stands below the title of a picture: what was calibrated, and the errors."""
    return [shortened(line, LONGEST_LINE) for line in _calibrated(validation)] + sentences(validation)


def shortened(text: str, longest: int) -> str:
    """`text`, with dots at the end where it is longer than `longest` characters."""
    return text if len(text) <= longest else text[: longest - 3] + "..."


def _calibrated(validation: Validation) -> list[str]:
    found = validation.calibration
    if found is None:
        return ["not calibrated: the number of each case as it stands"]
    return [
        f"{each.free.key} = {each.free.words(each.value)}; 95 %: {interval_words(each)}"
        + (f"; {said}" if (said := standing(found, each)) else "")
        for each in found.numbers
    ]
