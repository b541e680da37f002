"""What was understood of a table of samples, shown before anything is computed from it."""

from __future__ import annotations

from meltzone.cases.outputs.grid import Grid, words
from meltzone.cases.outputs.page import Block, Head, Page, Warnings
from meltzone.cases.studies.bench.samples import CUBIC_MM, SampleFile, Series
from meltzone.cases.studies.bench.samples_table import READ_OVER, Understood

SHOWN = 3  # samples of every series


def understood_page(read: SampleFile) -> Page:
    """Columns as headed and as read, the first samples in one set of units, what was left out and what was assumed."""
    blocks: list[Block] = [Head("Understood", read.file)]
    if read.table is not None:
        blocks.append(_columns(read.table))
    blocks.append(_samples(read))
    told = [
        f"{each.name}: line {gone.line} is left out, {gone.reason}." for each in read.series for gone in each.left_out
    ]
    told += [f"Assumed: {each}." for each in read.assumed]
    return Page((*blocks, Warnings(tuple(told), "note")), "Weighed samples")


def _columns(table: Understood) -> Grid:
    rows = tuple(
        (headed or "(none)", "read over" if meant in ("", READ_OVER) else meant)
        for headed, meant in zip(table.headed, table.read_as, strict=False)
    )
    return Grid("", words("headed", "read as"), rows)


def _samples(read: SampleFile) -> Grid:
    columns = words("series", "line", "commanded [mm³/s]", "time [s]", "mass [g]", "")
    rows = []
    for each in read.series:
        for number, sample in enumerate(each.samples[:SHOWN]):
            told = _told(each) if number == 0 else ""
            figures = (f"{CUBIC_MM * sample.commanded:.3f}", f"{sample.time:.1f}", f"{1e3 * sample.mass:.3f}")
            rows.append((each.name if number == 0 else "", str(sample.line), *figures, told))
    return Grid("", columns, tuple(rows))


def _told(each: Series) -> str:
    flows = len({round(sample.commanded, 15) for sample in each.samples})
    return f"{len(each.samples)} samples at {flows} flows" + (f", case {each.case}" if each.case else "")
