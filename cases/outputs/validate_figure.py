"""The pictures of a validation: rows and curves, measured beside predicted; and predicted over measured with the diagonal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from meltzone.cases.outputs.figures import FAINT, INK, blank_figure, headline, named_rows, panel, say, styled
from meltzone.cases.outputs.grid import signed
from meltzone.cases.outputs.validation_words import headlines, shortened
from meltzone.cases.studies.validation.outcome import Predicted, PredictedCurve, Validation

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MEASURED, PREDICTED, CALIBRATING = INK, "#d9822b", "#3d6fa5"
TWO_SIGMA = 1.96  # standard uncertainties in a 95 % bar
LONGEST_NAME = 44
CURVE_WIDTH, CURVE_HEIGHT = 4.3, 3.3  # of a panel [inch]
ACROSS = 2
SIDE, FOOT, GAP = 0.65, 0.55, 0.5  # [inch]
OUTLIER = "#b3202c"
OFF = 3.5  # standard deviations beyond which a sample is ringed


@styled
def validation_figure(validation: Validation) -> Figure:
    """Both panels, all bars at 95 %."""
    rows = validation.rows
    names = [shortened(f"{number}  {row.row.name}", LONGEST_NAME) for number, row in enumerate(rows, start=1)]
    left = 0.35 + 0.068 * max(map(len, names))
    lines = headlines(validation)
    height = max(0.32 * len(rows), 2.6)
    top = 0.75 + 0.2 * len(lines)
    figure = blank_figure(left + 4.4 + 0.85 + height + 0.2, height + top + 0.55)
    headline(figure, validation.measured.title or validation.measured.name, *lines)
    beside = panel(figure, left, 0.55, 4.4, height)
    _beside(beside, rows, names)
    square = panel(figure, left + 4.4 + 0.85, 0.55, height, height)
    _against(square, rows)
    return figure


def _bars(row: Predicted) -> list[list[float]]:
    return [[row.ceiling - row.low], [row.high - row.ceiling]]


def _colour(row: Predicted) -> str:
    return CALIBRATING if row.row.calibrates else PREDICTED


def _beside(axes: Axes, rows: tuple[Predicted, ...], names: list[str]) -> None:
    style: dict[str, Any] = {"capsize": 2.5, "elinewidth": 1.0, "markersize": 5.0, "linestyle": "none"}
    for place, row in enumerate(rows):
        spread = TWO_SIGMA * row.uncertainty
        axes.errorbar(row.measured, place - 0.14, xerr=spread, fmt="o", color=MEASURED, **style)
        axes.errorbar(row.ceiling, place + 0.16, xerr=_bars(row), fmt="D", color=_colour(row), **style)
        farthest = max(row.measured + spread, row.high)
        text = "calibrates" if row.row.calibrates else f"{signed(row.error, 1)} %"
        say(axes, text, farthest, place, 6, fontsize=7.5, color=_colour(row))
    named_rows(axes, names, 8.0)
    reach = max(max(row.measured + TWO_SIGMA * row.uncertainty, row.high) for row in rows)
    axes.set_xlim(0.0, 1.18 * reach)
    axes.set_xlabel("flow ceiling [mm³/s], bars at 95 %")
    _legend(axes, rows)


def _legend(axes: Axes, rows: tuple[Predicted, ...]) -> None:
    from matplotlib.lines import Line2D  # see figures.blank_figure

    kinds = [("measured", "o", MEASURED), ("predicted", "D", PREDICTED), ("calibrated on", "D", CALIBRATING)]
    used = {MEASURED} | {_colour(row) for row in rows}
    handles = [
        Line2D([], [], color=colour, marker=marker, linestyle="none", markersize=5.0, label=label)
        for label, marker, colour in kinds
        if colour in used
    ]
    axes.legend(
        handles=handles,
        ncols=3,
        loc="lower right",
        bbox_to_anchor=(1.0, 1.0),
        borderpad=0.2,
    )


def _against(axes: Axes, rows: tuple[Predicted, ...]) -> None:
    ends = [value for row in rows for value in (row.measured - row.uncertainty, row.measured + row.uncertainty)]
    ends += [value for row in rows for value in (row.low, row.high)]
    low, high = min(ends), max(ends)
    margin = 0.08 * (high - low) or 1.0
    low, high = max(low - margin, 0.0), high + margin
    axes.plot([low, high], [low, high], color=FAINT, linewidth=1.0)
    for number, row in enumerate(rows, start=1):
        spread = TWO_SIGMA * row.uncertainty
        colour = _colour(row)
        axes.errorbar(
            row.measured,
            row.ceiling,
            xerr=spread,
            yerr=_bars(row),
            fmt="none",
            ecolor=colour,
            elinewidth=0.7,
            alpha=0.45,
        )
        axes.plot(row.measured, row.ceiling, "D", color=colour, markersize=4.5)
        say(axes, str(number), row.measured, row.ceiling, 4, up=3, va="bottom", fontsize=7.5)
    axes.set_xlim(low, high)
    axes.set_ylim(low, high)
    axes.set_aspect("equal")
    axes.set_xlabel("measured [mm³/s]")
    axes.set_ylabel("predicted [mm³/s]")


@styled
def curves_figure(curves: Sequence[PredictedCurve], title: str, lines: Sequence[str]) -> Figure:
    """A panel for every series, bars at 95 % of the random uncertainty; series that calibrate in their own colour."""
    across = min(ACROSS, len(curves))
    down = -(-len(curves) // across)
    top = 0.75 + 0.2 * len(lines)
    width = max(across * (CURVE_WIDTH + SIDE) + 0.3, 7.4)
    figure = blank_figure(width, down * (CURVE_HEIGHT + FOOT) + (down - 1) * GAP + top + 0.2)
    headline(figure, title, *lines)
    for number, each in enumerate(curves):
        row, column = divmod(number, across)
        bottom = (down - 1 - row) * (CURVE_HEIGHT + FOOT + GAP) + FOOT
        stretch = width - SIDE - 0.3 if across == 1 else CURVE_WIDTH
        _curve(panel(figure, SIDE + column * (CURVE_WIDTH + SIDE), bottom, stretch, CURVE_HEIGHT), each)
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
    axes.set_title(each.row.name)
    axes.set_xlabel("commanded flow [mm³/s]")
    axes.set_ylabel("delivered flow [mm³/s]")
    axes.legend(loc="lower right")
