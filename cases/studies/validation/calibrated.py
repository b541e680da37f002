"""The small file that carries calibrated numbers into other cases, and the words for one number and its interval."""

from __future__ import annotations

from textwrap import fill

from meltzone.cases.inputs.fields import Ratio
from meltzone.cases.inputs.free_number import FreeNumber
from meltzone.cases.studies.calibration.joint import Joint
from meltzone.cases.studies.calibration.words import interval_words, standing
from meltzone.cases.studies.interval import NORMAL_95
from meltzone.cases.studies.validation.outcome import Calibration, Validation

CALIBRATED = "calibrated.toml"


def verdict_words(calibration: Calibration) -> list[str]:
    """What a reader of the number must know: what it cannot reach, and where its data say little."""
    found = [text + "." for text in calibration.unreached]
    if calibration.edge is not None:
        side = "greatest" if calibration.edge == "high" else "least"
        found.append(
            f"Chi-square is least at the {side} value tried: the number given is that limit, not an estimate. Something else "
            "than this number keeps the ceiling away from the measured one."
        )
    elif calibration.high is None or calibration.low is None:
        found.append(
            "Beyond some value the ceiling no longer answers to this number, so the rows bound it on one side only at most."
        )
    return found


def taken_in(path: str) -> str:
    """How a case takes in the file at `path`, in words."""
    return f'Take it into a case with: extends = ["{path}", "short-block"]'


def calibrated_text(validation: Validation) -> str | None:
    """The file as TOML: the numbers in the tables of a case, what they rest on in comments, no title and no setpoint.

    Numbers that the data do not tell are left out; None where there is nothing to carry on.
    """
    if validation.joint is not None:
        return _joint_text(validation, validation.joint)
    calibration = validation.calibration
    if calibration is None:
        return None
    free = calibration.free
    rows = [row.row.name for row in validation.rows if row.row.calibrates]
    lines = [
        f"{free.key} = {free.words(calibration.value)}, calibrated on {'; '.join(rows)} ({validation.measured.name}).",
        f"95 % confidence interval: {interval_words(calibration)}.",
        *verdict_words(calibration),
    ]
    return _text(lines, [(free, _carried(free, calibration.value, calibration.low, calibration.high))])


def _joint_text(validation: Validation, joint: Joint) -> str | None:
    told = joint.told
    if not told:
        return None
    rows = [row.name for row in joint.observed.rows]
    lines = [
        f"Calibrated on {'; '.join(rows)} ({validation.measured.name}).",
        *(
            f"{each.free.key} = {each.free.words(each.value)}, 95 % confidence interval: {interval_words(each)}."
            for each in told
        ),
        *(f"{each.free.key}: {standing(joint, each)}, no value is given." for each in joint.untold),
    ]
    return _text(lines, [(each.free, _carried(each.free, each.value, each.low, each.high)) for each in told])


def _carried(free: FreeNumber, value: float, low: float | None, high: float | None) -> str:
    """The value as TOML, with a quarter of the 95 % interval as its tolerance where that has two ends and a unit.

    So that explanations and gains of cases that take it in have an interval; a ratio cannot carry one.
    """
    if isinstance(free.measure, Ratio):
        return f"{value:.6g}"
    if low is None or high is None:
        return f'"{free.words(value)}"'
    deviation = (high - low) / (2.0 * NORMAL_95)
    written = f"{deviation:.2g} K" if free.is_temperature else free.words(float(f"{deviation:.2g}"))
    return f'"{free.words(value)} +/- {written}"'


def _text(lines: list[str], numbers: list[tuple[FreeNumber, str]]) -> str:
    """Comments, then the numbers table by table."""
    lines = [*lines, taken_in(CALIBRATED)]
    found = [fill(line, 118, initial_indent="# ", subsequent_indent="#   ") for line in lines]
    tables = dict.fromkeys(free.key.partition(".")[0] for free, _ in numbers)
    for table in tables:
        found += ["", f"[{table}]"]
        for free, value in numbers:
            own, _, name = free.key.partition(".")
            if own == table:
                found.append(f"{name} = {value}")
    return "\n".join(found) + "\n"
