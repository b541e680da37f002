"""What is shown of the cautions of a case alone: all of them, in full."""

from __future__ import annotations

from meltzone.cases.outputs.grid import Cell, Grid, Row, words
from meltzone.cases.outputs.page import SEVERITY, Head, Page, Words, by_severity
from meltzone.cases.studies.cautions import BURNS, without_deference
from meltzone.cases.studies.results import Result
from meltzone.materials.limits import DEFERENCE


def page(result: Result) -> Page:
    """Every caution of the case, the gravest first, and what counts for every hot end."""
    rows: list[Row] = [
        (Cell(SEVERITY[each.severity], style="warn" if each.severity != "note" else ""), without_deference(each))
        for each in by_severity(result.safety)
    ]
    grid = Grid("Cautions", words("", ""), (*rows, ("burns", BURNS)))
    return Page((Head(result.title, result.case.file), grid, Words(DEFERENCE)), "cautions of a case")
