"""The picture of curves: measured samples with their bars beside the predicted curve, a panel for every series."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from meltzone.cases.outputs.figures import FAINT, INK, blank_figure, headline, panel, plain
from meltzone.cases.studies.validation.outcome import PredictedCurve

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 4.3, 3.3  # of a panel [inch]
ACROSS = 2
SIDE, FOOT, GAP = 0.65, 0.55, 0.5  # [inch]
TWO_SIGMA = 1.96
PREDICTED, CALIBRATING, OUTLIER = "#d9822b", "#3d6fa5", "#b3202c"
OFF = 3.5  # standard deviations beyond which a sample is ringed


def curves_figure(curves: Sequence[PredictedCurve], title: str, lines: Sequence[str]) -> Figure:
    """A panel for every series, bars at 95 % of the random uncertainty; series that calibrate in their own colour."""
    across = min(ACROSS, len(curves))
    down = -(-len(curves) // across)
    top = 0.75 + 0.2 * len(lines)
    width = max(across * (WIDTH + SIDE) + 0.3, 7.4)
    figure = blank_figure(width, down * (HEIGHT + FOOT) + (down - 1) * GAP + top + 0.2)
    headline(figure, title, *lines)
    for number, each in enumerate(curves):
        row, column = divmod(number, across)
        bottom = (down - 1 - row) * (HEIGHT + FOOT + GAP) + FOOT
        stretch = width - SIDE - 0.3 if across == 1 else WIDTH
        _curve(panel(figure, SIDE + column * (WIDTH + SIDE), bottom, stretch, HEIGHT), each)
    return figure


def _curve(axes: Axes, each: PredictedCurve) -> None:
    samples, colour = each.samples, CALIBRATING if each.row.calibrates else PREDICTED
    commanded, delivered, drawn = each.line
    axes.plot([0.0, commanded[-1]], [0.0, commanded[-1]], color=FAINT, linewidth=1.0, linestyle=(0, (4, 3)))
    axes.plot(commanded, delivered, color=colour, linewidth=2.0, label="fitted" if each.row.calibrates else "predicted")
    axes.errorbar(
        samples.commanded, samples.flow, TWO_SIGMA * samples.spread, color=INK, fmt="o", markersize=3.4, linewidth=0.0,
        elinewidth=0.8, label="measured, 95 %",
    )  # fmt: skip
    label = "as the filament's errors show it"
    axes.plot(commanded, drawn, label=label, color=colour, linewidth=1.0, linestyle=":")
    off = np.abs(each.misses) > OFF
    axes.plot(samples.commanded[off], samples.flow[off], "o", markersize=10, markerfacecolor="none", color=OUTLIER)
    axes.set_xlim(0.0, float(commanded[-1]))
    axes.set_ylim(0.0, 1.15 * max(float(samples.flow.max()), float(delivered.max()), 1e-3))
    axes.set_title(each.row.name, fontsize=9, color=INK, loc="left", parse_math=False)
    axes.set_xlabel("commanded flow [mm³/s]", fontsize=8.5, color=INK)
    axes.set_ylabel("delivered flow [mm³/s]", fontsize=8.5, color=INK)
    plain(axes)
    axes.legend(fontsize=7.5, frameon=False, loc="lower right")
