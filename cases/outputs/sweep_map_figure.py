"""Pictures of a sweep over two keys: a coloured map, dots of a sample, cells of words; and the canvas that all share."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from meltzone.cases.outputs.bars_figure import CEILING
from meltzone.cases.outputs.figures import FAINT, INK, blank_figure, headline, panel
from meltzone.cases.outputs.plain_text import printable
from meltzone.cases.outputs.quantities import named
from meltzone.cases.studies.sweep.means import Value, is_log, means_of, values_of
from meltzone.cases.studies.sweep.plan import Axis
from meltzone.cases.studies.sweep.run import Swept

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FLOW_LABEL = named(CEILING)
MAP = "viridis"


def canvas(swept: Swept, drawn: Sequence[Axis], width: float, height: float) -> Figure:
    """A figure with the title and what must be said of the points that it does not tell apart."""
    figure = blank_figure(width, height)
    others = ", ".join(axis.key for axis in swept.sweep.axes if axis not in drawn and len(axis.values) != 1)
    single = any(axis.between is not None for axis in drawn)
    notes = [f"points differ also in {others}" if single else f"means over {others}"] if others else []
    if missing := len(swept.rows) - len(swept.found):
        notes.append(f"{missing} of {len(swept.rows)} points have no ceiling")
    title = swept.sweep.title or swept.sweep.name
    headline(figure, title, f"case {swept.sweep.base.name}" + "".join(f"; {note}" for note in notes))
    return figure


def labelled(axes: Axes, x: str, y: str) -> None:
    """What stands along and up."""
    axes.set_xlabel(printable(x))
    axes.set_ylabel(printable(y))


def scales(axes: Axes, along: Axis, up: Axis | None = None) -> None:
    """Logarithmic scales, with plain numbers, where the values stand in equal ratios."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter  # see `blank_figure`

    for key, scale, side in ((along, axes.set_xscale, axes.xaxis), (up, axes.set_yscale, axes.yaxis)):
        if key is not None and (key.log or is_log(key)):
            scale("log")
            side.set_major_locator(LogLocator(subs=(1.0, 2.0, 3.0, 5.0)))
            side.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
            side.set_minor_formatter(NullFormatter())


def _grid(swept: Swept, first: Axis, second: Axis) -> tuple[list[Value], list[Value], np.ndarray]:
    """Values along and up, and the mean ceilings, shape (up, along), nan where there is none [mm3/s]."""
    xs, ys, means = values_of(swept, first), values_of(swept, second), means_of(swept, [first, second])
    table = np.full((len(ys), len(xs)), np.nan)
    for row, y in enumerate(ys):
        for column, x in enumerate(xs):
            if (x, y) in means and means[x, y].high > 0.0:
                table[row, column] = means[x, y].mean
    return xs, ys, table


def map_figure(swept: Swept, first: Axis, second: Axis) -> Figure:
    """A coloured map over two numbers, with lines of equal ceiling; places without a ceiling stay blank."""
    xs, ys, table = _grid(swept, first, second)
    figure = canvas(swept, [first, second], 7.0, 4.8)
    axes = panel(figure, 0.85, 0.6, 4.9, 3.45)
    drawn = axes.pcolormesh(xs, ys, table, cmap=MAP, shading="nearest")
    if min(table.shape) > 2 and np.count_nonzero(np.isfinite(table)) > 8 and np.nanmax(table) > np.nanmin(table):
        lines = axes.contour(xs, ys, table, colors="white", linewidths=0.8)
        axes.clabel(lines, fmt="%g")
    scales(axes, first, second)
    labelled(axes, first.column, second.column)
    _colour_bar(figure, drawn)
    return figure


def cloud_figure(swept: Swept, first: Axis, second: Axis) -> Figure:
    """Points of a sample over two numbers, coloured by their ceiling; crosses have none."""
    figure = canvas(swept, [first, second], 7.0, 4.8)
    axes = panel(figure, 0.85, 0.6, 4.9, 3.45)
    found, lost = swept.found, [row for row in swept.rows if row["status"] != "found"]
    x, y = ([row[axis.column] for row in found] for axis in (first, second))
    flows = [row["flow_mm3_per_s"] for row in found]
    drawn = axes.scatter(x, y, c=flows, cmap=MAP, s=34, edgecolors=INK, linewidths=0.3)
    axes.plot(*([row[axis.column] for row in lost] for axis in (first, second)), "x", color=FAINT, markersize=5)
    scales(axes, first, second)
    labelled(axes, first.column, second.column)
    _colour_bar(figure, drawn)
    return figure


def cells_figure(swept: Swept, first: Axis, second: Axis) -> Figure:
    """Ceilings over two sets of words: one cell for each pair, with its number."""
    xs, ys, table = _grid(swept, first, second)
    left = 0.6 + 0.07 * max(len(str(y)) for y in ys)
    width = max(1.0, 0.3 + 0.065 * max(len(str(x)) for x in xs)) * len(xs)
    figure = canvas(swept, [first, second], max(left + width + 1.4, 5.0), 0.5 * len(ys) + 1.7)
    axes = panel(figure, left, 0.7, width, 0.5 * len(ys))
    drawn = axes.imshow(table, cmap=MAP, aspect="auto")
    middle = (np.nanmin(table) + np.nanmax(table)) / 2.0
    for (row, column), flow in np.ndenumerate(table):
        text, dark = ("none", False) if np.isnan(flow) else (f"{flow:.1f}", flow < middle)
        axes.text(column, row, text, ha="center", va="center", color="white" if dark else INK)
    axes.set_xticks(range(len(xs)), [str(x) for x in xs])
    axes.set_yticks(range(len(ys)), [str(y) for y in ys])
    labelled(axes, first.column, second.column)
    axes.tick_params(length=0)
    _colour_bar(figure, drawn)
    return figure


def _colour_bar(figure: Figure, drawn: Any) -> None:
    axes = drawn.axes
    box = axes.get_position()
    wide, _ = figure.get_size_inches()
    beside = figure.add_axes((box.x1 + 0.15 / wide, box.y0, 0.14 / wide, box.height))
    bar = figure.colorbar(drawn, cax=beside)
    bar.set_label(FLOW_LABEL)
    bar.outline.set_visible(False)
