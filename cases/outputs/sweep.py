"""What is shown and written of a sweep: progress with the time left, and at the end its range, effects, failures, cautions."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeElapsedColumn, TimeRemainingColumn
from rich.progress import Progress as Bar

from meltzone.cases.outputs.delimited import delimited
from meltzone.cases.outputs.files import write_table
from meltzone.cases.outputs.grid import NONE, Cell, Column, Grid, Row, banded, counted, number, words
from meltzone.cases.outputs.page import Answer, Block, Cautions, Head, Page, Words, hottest
from meltzone.cases.outputs.quantities import Quantity, named, people
from meltzone.cases.studies.sweep.plan import Axis
from meltzone.cases.studies.sweep.run import FLOW, Progress, ProgressReporter, Swept
from meltzone.cases.studies.sweep.store import Row as Point
from meltzone.cases.studies.sweep.work import BAND, COLUMNS
from meltzone.fem.limits import LIMITS

MOST_REASONS = 6
STATUSES = ("found", "no ceiling", "refused", "failed")
NOT_EXPORTED = ("findings", "overrides")
# Of the points that are shown, by the names of their columns; those that no point has are left out
SHOWN = ("governs", *(f"{name}_mm3_per_s" for name in LIMITS), "heater_power_W", "feeding_force_N")
BY_NAME: dict[str, Quantity[Any]] = {each.name: each for each in COLUMNS}


@contextmanager
def progress_bar() -> Iterator[ProgressReporter | None]:
    """Something that takes the progress and draws it on stderr; None where that is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    columns = (
        TextColumn("ceilings"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn(),
        TextColumn("left"), TimeRemainingColumn(elapsed_when_finished=False), TextColumn("{task.fields[without]}"),
    )  # fmt: skip
    with Bar(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=None, without="")

        def report(progress: Progress) -> None:
            without = f"{progress.without} without" if progress.without else ""
            if bar.tasks[0].total is None:  # so that earlier points do not count as speed
                bar.reset(task, total=progress.total, completed=progress.done, without=without)
            bar.update(task, completed=progress.done, without=without)

        yield report


def page(swept: Swept) -> Page:
    """Everything about a finished sweep."""
    sweep, counts = swept.sweep, swept.counts
    told = ", ".join(f"{counts[status]} {status}" for status in STATUSES if counts[status])
    points = f"{counted(len(swept.rows), 'point')}: {told}."
    head, said = Head(sweep.title or sweep.name), Answer("\n".join([*_answer(swept), points]))
    tables = [table for table in (_extremes(swept), _effects(swept), _failures(swept)) if table is not None]
    where = Words(f"{sweep.file} on {sweep.base.file}", quiet=True)
    blocks: list[Block] = [head, said, where, *tables, Words(_spent(swept), quiet=True)]
    return Page((*blocks, Cautions(hottest(swept.findings))), "sweep of ceilings")


def _answer(swept: Swept) -> Iterator[str]:
    """The range of the ceilings, and which key moves their mean most; nothing where no point has a ceiling."""
    flows = [row[FLOW] for row in swept.found]
    if not flows:
        return
    yield f"Ceilings from {min(flows):.2f} to {max(flows):.2f} {people(BY_NAME[FLOW].unit)}."
    moved = [(means, axis) for axis in swept.sweep.axes if len(means := _means(axis, swept.solved)) > 1]
    if moved:
        means, axis = max(moved, key=lambda each: each[0][-1][0] - each[0][0][0])
        (low, low_at), (high, high_at) = means[0], means[-1]
        yield f"{axis.column} moves the mean most: {low:.2f} at {low_at}, {high:.2f} at {high_at}."


def _extremes(swept: Swept) -> Grid | None:
    """The lowest and the highest ceiling with what they come with and the values that give them."""
    found = sorted(swept.found, key=lambda row: row[FLOW])
    if not found:
        return None
    ends = {"lowest": found[0], "median": found[len(found) // 2], "highest": found[-1]}
    rows: list[Row] = [(named(BY_NAME[FLOW]), *(Cell(_cell(FLOW, row), style="strong") for row in ends.values()))]
    for name in SHOWN:
        if any(row[name] is not None for row in found):
            rows.append((named(BY_NAME[name]), *(_cell(name, row) for row in ends.values())))
    for axis in swept.sweep.axes:
        rows.append((axis.column, *(_shown(row[axis.column]) for row in ends.values())))
    return Grid("", (Column(""), *(Column(name, side="number") for name in ends)), tuple(rows))


def _cell(name: str, row: Point) -> str:
    """What stands in the column `name` of a point, as the declaration of that quantity has it shown."""
    value, ends = row[name], [row[each.name] for each in BAND]
    if name == FLOW and None not in ends:
        return banded(value, ends)
    return number(value, BY_NAME[name].digits) if isinstance(value, float) else NONE if value is None else str(value)


def _effects(swept: Swept) -> Grid | None:
    """For each key the values between which the mean ceiling moves most; nothing flows counts as 0."""
    rows = [row for axis in swept.sweep.axes if (row := _effect(axis, swept.solved)) is not None]
    if not rows:
        return None
    unit = people(BY_NAME[FLOW].unit)
    columns = words("key", f"lowest mean [{unit}]", "at", f"highest mean [{unit}]", "at", "change [%]")
    return Grid("", columns, tuple(rows))


def _effect(axis: Axis, rows: Sequence[Point]) -> tuple[str, ...] | None:
    means = _means(axis, rows)
    if len(means) < 2:
        return None
    (low, low_at), (high, high_at) = means[0], means[-1]
    return (
        axis.column,
        number(low, 2),
        low_at,
        number(high, 2),
        high_at,
        f"{100.0 * (high / low - 1.0):+.1f}" if low else NONE,
    )


def _means(axis: Axis, rows: Sequence[Point]) -> list[tuple[float, str]]:
    """The mean ceiling for each value of a key, the lowest first; nothing flows counts as 0."""
    groups: dict[str, list[float]] = {}
    for row in rows:
        groups.setdefault(_group(axis, row[axis.column], rows), []).append(row[FLOW] or 0.0)
    return sorted((float(np.mean(flows)), name) for name, flows in groups.items())


def _group(axis: Axis, value: Any, rows: Sequence[Point]) -> str:
    """The value itself, or for a continuous range the third of the points in which it lies."""
    if axis.between is None:
        return _shown(value)
    thirds = np.quantile([row[axis.column] for row in rows], [1.0 / 3.0, 2.0 / 3.0])
    return ("lower third", "middle third", "upper third")[int(np.searchsorted(thirds, value))]


def _shown(value: Any) -> str:
    return f"{value:.6g}" if isinstance(value, float) else NONE if value is None else str(value)


def _failures(swept: Swept) -> Grid | None:
    """Why points have no ceiling, the commonest reasons first; what a reader of the others must know is in the file."""
    groups: dict[tuple[str, str], list[int]] = {}
    for row in swept.rows:
        if row["status"] != "found":
            groups.setdefault((row["status"], row["reason"]), []).append(row["number"])
    if not groups:
        return None
    rows: list[Row] = []
    order = sorted(groups.items(), key=lambda item: -len(item[1]))
    for (status, reason), numbers in order[:MOST_REASONS]:
        which = f"{len(numbers)} (number {numbers[0]})" if len(numbers) == 1 else f"{len(numbers)} (from {numbers[0]})"
        rows.append((which, f"{status}: {reason}"))
    if len(order) > MOST_REASONS:
        rows.append(("", Cell(f"{len(order) - MOST_REASONS} further reasons stand in the file", style="quiet")))
    return Grid("", words("points", "without a ceiling because"), tuple(rows))


def _spent(swept: Swept) -> str:
    factors = sum(row["factorisations"] for row in swept.rows)
    seconds = sum(row["seconds"] for row in swept.rows)
    spent = f"{factors} factorisations, {seconds:.0f} s of computing in all."
    if swept.mesh_error is not None:
        spent += f" The highest ceiling lies {abs(100.0 * swept.mesh_error):.2f} % off that on the case's own mesh."
    return f"{spent} Results: {swept.path}"


def write_csv(rows: Sequence[Point], path: Path, reads: Iterable[Path] = ()) -> None:
    """Write `rows` as comma-separated values with all their digits, the names of the columns first; raises CaseError."""
    columns = [name for name in rows[0] if name not in NOT_EXPORTED]
    cells = ([repr(value) if isinstance(value, float) else value for value in map(row.get, columns)] for row in rows)
    write_table(path, delimited(columns, cells), reads)
