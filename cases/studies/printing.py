"""What a ceiling means for printing: the flow to use, print speeds of lines, and the time for a volume of plastic."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.printed_line import EXAMPLE, printed_line
from meltzone.cases.inputs.reader import Case
from meltzone.cases.studies.results import Result
from meltzone.geometry.printed_line import PrintedLine
from meltzone.materials.units import VOLUME, UnitError, parse

WORKING_WORDS = "the lower end of the ceiling's band"  # every flow to work at follows from it
SQUARE_MM, CUBIC_MM = 1e6, 1e9


def working_flow(result: Result) -> float | None:
    """The flow to use [mm3/s]: the lower end of the band of the ceiling, whatever the verb; None without a ceiling.

    Of a hundred such hot ends 95 melt more; what is measured narrows the band and raises the flow.
    """
    return None if result.band is None else result.band.low


def lines_of(case: Case) -> tuple[PrintedLine, ...]:
    """The printed lines of `case`."""
    return tuple(map(printed_line, case.model.line.sizes))


def lines_of_all(results: Iterable[Result]) -> tuple[PrintedLine, ...]:
    """The printed lines of all `results`, each once."""
    return tuple(dict.fromkeys(line for result in results for line in lines_of(result.case)))


def flow_at(speed: float, written: str, lines: Sequence[PrintedLine]) -> float:
    """The flow [m3/s] of a print `speed` [m/s], `written` so, with the one line there is; raises CaseError."""
    if len(lines) != 1:
        many = f"one printed line for a speed: {len(lines)} are given" if lines else "a printed line beside a speed"
        hint = f'Add --line "{EXAMPLE}", or give a volume flow as in "12 mm^3/s".'
        raise CaseError("flow", None, None, repr(written), many, hint)
    return speed * lines[0].section


def section_of(line: PrintedLine) -> float:
    """Section of a `line` [mm2]."""
    return SQUARE_MM * line.section


def speed_at(flow: float | None, line: PrintedLine) -> float | None:
    """Print speed [mm/s] at which a `line` takes up a `flow` [mm3/s]; None for None."""
    return None if flow is None else flow / section_of(line)


@dataclass(frozen=True)
class PrintTime:
    """Time [min] to extrude a volume at the flow to use, and what that saves against the first case [min], None for it."""

    minutes: float
    saved: float | None


def volume_of(written: str) -> float:
    """The volume [mm3] of a text such as "100 cm^3"; raises CaseError."""
    try:
        return CUBIC_MM * parse(written, VOLUME.within(1e-12, 1.0))
    except UnitError as error:
        raise CaseError("--volume", None, None, written, error.expected, error.hint) from error


def print_time(volume: float, result: Result, first: Result) -> PrintTime | None:
    """How long a `volume` [mm3] takes with `result`, against the `first`; None without a ceiling."""
    flow, before = working_flow(result), working_flow(first)
    if flow is None:
        return None
    minutes = volume / flow / 60.0
    return PrintTime(minutes, None if result is first or before is None else volume / before / 60.0 - minutes)
