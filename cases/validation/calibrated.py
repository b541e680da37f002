"""The small file that carries a calibrated number into other cases, and the words for the number and its interval."""

from __future__ import annotations

from textwrap import fill

from meltzone.cases.validation.outcome import Calibration, Validation

CALIBRATED = "calibrated.toml"


def interval_words(calibration: Calibration) -> str:
    """The 95 % confidence interval in words, with what bounds it."""
    free, (least, most) = calibration.free, calibration.limits
    low, high = calibration.low, calibration.high
    if low is not None and high is not None:
        return f"{free.words(low)} to {free.words(high)}"
    if low is not None:
        return f"from {free.words(low)}, no upper bound (sought up to {free.words(most)})"
    if high is not None:
        return f"up to {free.words(high)}, no lower bound (sought down to {free.words(least)})"
    return f"no bound on either side (sought from {free.words(least)} to {free.words(most)})"


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


def calibrated_text(validation: Validation) -> str:
    """The file as TOML: the number in the table of a case, what it rests on in comments, no title and no setpoint."""
    calibration = validation.calibration
    assert calibration is not None
    free = calibration.free
    table, _, name = free.key.partition(".")
    value = free.exact(calibration.value)
    shown = free.words(calibration.value)
    rows = [row.row.name for row in validation.rows if row.row.calibrates]
    lines = [
        f"{free.key} = {shown}, calibrated on {'; '.join(rows)} ({validation.measured.name}).",
        f"95 % confidence interval: {interval_words(calibration)}.",
        *verdict_words(calibration),
        taken_in(CALIBRATED),
    ]
    comments = [fill(line, 118, initial_indent="# ", subsequent_indent="#   ") for line in lines]
    written = f'"{shown}"' if isinstance(value, str) else f"{value:.6g}"
    return "\n".join([*comments, "", f"[{table}]", f"{name} = {written}"]) + "\n"
