"""What is shown of printing: the speed of every printed line at the ceiling, and the one to use."""

from __future__ import annotations

from meltzone.cases.inputs.printed_line import line_words, short_words
from meltzone.cases.outputs.grid import Grid, Row, number, words
from meltzone.cases.outputs.quantities import shown
from meltzone.cases.studies.printing import WORKING_WORDS, lines_of, section_of, working_flow
from meltzone.cases.studies.result_quantities import by_line
from meltzone.cases.studies.results import Result

MARGIN = f"To use: {WORKING_WORDS}. Cooling, motion and the part may ask for less."


def speed_words(result: Result) -> list[str]:
    """Print speeds of the lines of the case in a line, those to use first; nothing without lines or without a ceiling."""
    told = [
        f"{short_words(line)}: {shown(to_use, result)} mm/s to use, {shown(highest, result)} at the ceiling"
        for line in lines_of(result.case)
        for highest, to_use in [by_line(line)]
        if working_flow(result) is not None
    ]
    return [f"{'; '.join(told)}."] if told else []


def speeds(result: Result) -> list[Grid]:
    """Print speeds of the lines of the case; nothing without lines or without a ceiling."""
    flow = working_flow(result)
    rows: list[Row] = [
        (line_words(line), number(section_of(line), 3), *(shown(each, result) for each in by_line(line)))
        for line in lines_of(result.case)
    ]
    if flow is None or not rows:
        return []
    columns = words("line, height x width", "section [mm²]", "highest speed [mm/s]", "speed to use [mm/s]")
    return [Grid("Print speed", columns, tuple(rows), notes=(f"Flow to use {flow:.1f} mm³/s. {MARGIN}",))]
