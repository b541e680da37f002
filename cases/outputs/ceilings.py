"""Ceilings of several cases side by side; gains count from the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from meltzone.cases.outputs.grid import NONE, Column, words
from meltzone.cases.outputs.page import Cautions, Page, Warnings, hottest
from meltzone.cases.outputs.printing import MARGIN
from meltzone.cases.outputs.quantities import by_source, present
from meltzone.cases.outputs.result import GAIN, evidence, gained, outside, remarks
from meltzone.cases.outputs.verdict import ranked
from meltzone.cases.studies.bands.gain import gain_band
from meltzone.cases.studies.printing import lines_of_all
from meltzone.cases.studies.result_quantities import CASES, by_line, shown_in
from meltzone.cases.studies.results import Result


def page_of_all(results: Sequence[Result]) -> Page:
    """Several cases side by side; gains count from the first."""
    lines = lines_of_all(results)
    quantities = [*present(shown_in(CASES), results), *(each for line in lines for each in by_line(line))]
    grid = by_source("", quantities, results, strong="ceilings.flow_mm3_per_s")
    gains = [] if len(results) == 1 else [_gain(result, results) for result in results]
    rows = [
        (r.case.name, row[0], *gains[k : k + 1], *row[1:])
        for k, (r, row) in enumerate(zip(results, grid.rows, strict=True))
    ]
    gain = words(f"{GAIN} [%]") if gains else ()
    table = replace(
        grid,
        columns=(Column("case"), grid.columns[0], *gain, *grid.columns[1:]),
        rows=tuple(rows),
        notes=(MARGIN,) if lines else (),
    )
    notes = tuple(f"{result.case.name}: {text}" for result in results for text in remarks(result))
    heed = hottest(found for result in results for found in result.cautions)
    return Page((outside(results), ranked(results), table, evidence(results), Warnings(notes), Cautions(heed)))


def _gain(result: Result, results: Sequence[Result]) -> str:
    if result is results[0]:
        return ""
    gain = result.gain_on(results[0])
    return NONE if gain is None else gained(gain, gain_band(result.band, results[0].band))
