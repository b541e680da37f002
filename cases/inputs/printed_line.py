"""Printed lines as people write them, "0.2 mm x 0.45 mm"; print speeds."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import BeforeValidator

from meltzone.cases.inputs.fields import bad_value
from meltzone.geometry.printed_line import PrintedLine
from meltzone.materials.units import LENGTH, SPEED, UnitError, in_shown, parse, show

ACROSS = LENGTH.within(1e-5, 1e-2)  # wider than any line that is printed, to catch slips of the unit
EXPECTED = 'layer height x width, as in "0.2 mm x 0.45 mm"'
EXAMPLE = "0.2 mm x 0.45 mm"
_TIMES = re.compile(r"\s*[x×*]\s*")
_UNIT = re.compile(r"[^\W\d]+\s*$")
FASTEST = 10.0  # [m/s] beyond any machine, and a sign of a slipped unit


def printed_line(written: object) -> PrintedLine:
    """The line of a text such as "0.2 mm x 0.45 mm", whose unit may stand once at its end; raises UnitError."""
    parts = _TIMES.split(written.strip()) if isinstance(written, str) and len(written) <= 60 else []
    if len(parts) != 2:
        raise UnitError(EXPECTED, "Give the height first, an x, then the width, each with its unit.")
    unit = _UNIT.search(parts[1])
    if unit and not _UNIT.search(parts[0]):
        parts[0] += f" {unit.group()}"
    height, width = (parse(part, ACROSS) for part in parts)
    if width < height:
        raise UnitError(f"{EXPECTED}, no narrower than it is high", "Give the layer's height first, then the width.")
    return PrintedLine(height, width)


def line_words(line: PrintedLine) -> str:
    """The line as a case file has it."""
    return f"{show(line.height, LENGTH)} x {show(line.width, LENGTH)}"


def short_words(line: PrintedLine) -> str:
    """The line as a heading has it: "0.2 x 0.45 mm"."""
    return f"{in_shown(line.height, LENGTH):.4g} x {in_shown(line.width, LENGTH):.4g} mm"


def _sizes(value: object) -> tuple[str, ...]:
    """Every line in one spelling; raises PydanticCustomError."""
    written = [value] if isinstance(value, str) else value
    if not isinstance(written, list | tuple):
        raise bad_value(f"a list of lines, each {EXPECTED}", f'Write it in brackets, as in ["{EXAMPLE}"].')
    try:
        return tuple(dict.fromkeys(line_words(printed_line(each)) for each in written))
    except UnitError as error:
        raise bad_value(error.expected, error.hint) from error


LineSizes = Annotated[tuple[str, ...], BeforeValidator(_sizes)]


def speed_of(written: str) -> float | None:
    """The print speed [m/s] of a text such as "60 mm/s"; None for what is no speed."""
    try:
        return parse(written, SPEED.within(0.0, FASTEST))
    except UnitError:
        return None
