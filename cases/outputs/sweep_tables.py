"""What the terminal shows of a sweep: progress with the time left, and at the end its range, effects, failures, cautions."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import numpy as np
from rich.console import Console, Group, RenderableType
from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeElapsedColumn, TimeRemainingColumn
from rich.progress import Progress as Bar
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.tables import HEADING, NONE, QUIET, cautions, hottest, number, plain_table, spaced
from meltzone.cases.studies.sweep.plan import Axis
from meltzone.cases.studies.sweep.run import Progress, ProgressReporter, Swept
from meltzone.cases.studies.sweep.store import Row

MOST_REASONS = 6
STATUSES = ("found", "no ceiling", "refused", "failed")


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


def summary(swept: Swept) -> Group:
    """Everything about a finished sweep."""
    blocks: list[RenderableType | None] = [_title(swept), _extremes(swept), _effects(swept), _failures(swept)]
    return spaced([*blocks, _spent(swept), cautions(hottest(swept.findings))])


def _title(swept: Swept) -> Text:
    sweep, counts = swept.sweep, swept.counts
    told = ", ".join(f"{counts[status]} {status}" for status in STATUSES if counts[status])
    title = sweep.title or sweep.name
    return Text.assemble(
        (title, HEADING), "\n", (f"{sweep.file} on {sweep.base.file}", QUIET), f"\n{len(swept.rows)} points: {told}."
    )


def _extremes(swept: Swept) -> Table | None:
    """The lowest and the highest ceiling with the values that give them."""
    found = sorted(swept.found, key=lambda row: row["ceiling_mm3_per_s"])
    if not found:
        return None
    ends = {"lowest": found[0], "median": found[len(found) // 2], "highest": found[-1]}
    table = plain_table("", *(f"{name} [mm³/s]" for name in ends))
    table.add_row("ceiling", *(Text(number(row["ceiling_mm3_per_s"], 2), "bold") for row in ends.values()))
    table.add_row("governs", *(row["governs"] for row in ends.values()))
    table.add_row("heater [W]", *(number(row["heater_W"], 1) for row in ends.values()))
    for axis in swept.sweep.axes:
        table.add_row(Text(axis.column), *(Text(_shown(row[axis.column])) for row in ends.values()))
    return table


def _effects(swept: Swept) -> Table | None:
    """For each key the values between which the mean ceiling moves most; nothing flows counts as 0."""
    rows = [row for axis in swept.sweep.axes if (row := _effect(axis, swept.solved)) is not None]
    if not rows:
        return None
    table = plain_table("key", "lowest mean [mm³/s]", "at", "highest mean [mm³/s]", "at", "change [%]")
    for row in rows:
        table.add_row(*map(Text, row))
    return table


def _effect(axis: Axis, rows: Sequence[Row]) -> tuple[str, ...] | None:
    groups: dict[str, list[float]] = {}
    for row in rows:
        groups.setdefault(_group(axis, row[axis.column], rows), []).append(row["ceiling_mm3_per_s"] or 0.0)
    means = sorted((float(np.mean(flows)), name) for name, flows in groups.items())
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


def _group(axis: Axis, value: Any, rows: Sequence[Row]) -> str:
    """The value itself, or for a continuous range the third of the points in which it lies."""
    if axis.between is None:
        return _shown(value)
    thirds = np.quantile([row[axis.column] for row in rows], [1.0 / 3.0, 2.0 / 3.0])
    return ("lower third", "middle third", "upper third")[int(np.searchsorted(thirds, value))]


def _shown(value: Any) -> str:
    return f"{value:.6g}" if isinstance(value, float) else NONE if value is None else str(value)


def _failures(swept: Swept) -> Table | None:
    """Why points have no ceiling, the commonest reasons first; what a reader of the others must know is in the file."""
    groups: dict[tuple[str, str], list[int]] = {}
    for row in swept.rows:
        if row["status"] != "found":
            groups.setdefault((row["status"], row["reason"]), []).append(row["number"])
    if not groups:
        return None
    table = plain_table("points", "without a ceiling because")
    order = sorted(groups.items(), key=lambda item: -len(item[1]))
    for (status, reason), numbers in order[:MOST_REASONS]:
        which = f"{len(numbers)} (number {numbers[0]})" if len(numbers) == 1 else f"{len(numbers)} (from {numbers[0]})"
        table.add_row(which, Text(f"{status}: {reason}"))
    if len(order) > MOST_REASONS:
        table.add_row("", Text(f"{len(order) - MOST_REASONS} further reasons stand in the file", QUIET))
    return table


def _spent(swept: Swept) -> Text:
    factors = sum(row["factorisations"] for row in swept.rows)
    seconds = sum(row["seconds"] for row in swept.rows)
    return Text(f"{factors} factorisations, {seconds:.0f} s of computing in all. Results: {swept.path}", QUIET)
