"""The small file that carries calibrated numbers into other cases."""

from __future__ import annotations

from textwrap import fill

from meltzone.cases.inputs.parameters import Parameter
from meltzone.cases.inputs.seal import sealed
from meltzone.cases.outputs.calibration_words import interval_words, standing, verdicts_of
from meltzone.cases.studies.calibration.calibration import CalibratedNumber
from meltzone.cases.studies.interval import NORMAL_95
from meltzone.cases.studies.validation.outcome import Validation

CALIBRATED = "calibrated.toml"


def taken_in(path: str) -> str:
    """How a case takes in the file at `path`, in words."""
    return f'Take it into a case with: extends = ["{path}", "short-block"]'


def calibrated_text(validation: Validation) -> str | None:
    """The file as TOML: the numbers in the tables of a case, what they rest on in comments, no title and no setpoint.

    Numbers that the data do not tell are left out; None where there is nothing to carry on.
    """
    found = validation.calibration
    if found is None or not found.identifiable:
        return None
    rows = [row.name for row in found.observed.rows]
    lines = [
        f"Calibrated on {'; '.join(rows)} ({validation.measured.name}).",
        *(f"{text}." for text in found.unreached),
    ]
    for each in found.identifiable:
        lines.append(
            f"{each.free.key} = {each.free.words(each.value)}, 95 % confidence interval: {interval_words(each)}."
        )
        lines += verdicts_of(found, each)
    lines += [f"{each.free.key}: {standing(found, each)}, no value is given." for each in found.not_identifiable]
    return _text(lines, [(each.free, _carried(each)) for each in found.identifiable])


def _carried(number: CalibratedNumber) -> str:
    """The value as TOML, with a quarter of the 95 % interval as its tolerance where that has two ends.

    So that explanations and gains of cases that take it in have an interval.
    """
    free = number.free
    if number.low is None or number.high is None:
        if not free.kind.unit:
            return f"{number.value:.6g}"
        return f'"{free.words(number.value)}"'
    deviation = (number.high - number.low) / (2.0 * NORMAL_95)
    written = f"{deviation:.2g} K" if free.is_temperature else free.words(float(f"{deviation:.2g}"))
    value = free.words(number.value) if free.kind.unit else f"{number.value:.6g}"
    return f'"{value} +/- {written}"'


def _text(lines: list[str], numbers: list[tuple[Parameter, str]]) -> str:
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
    return sealed("\n".join(found) + "\n")
