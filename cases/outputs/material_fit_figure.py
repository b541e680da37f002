"""The picture of measurements beside the card made from them: curves above, what they miss below."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from meltzone.cases.outputs.figures import FAINT, blank_figure, celsius, headline, panel, styled
from meltzone.cases.studies.material.calorimetry import Calorimetry
from meltzone.cases.studies.material.flow_curve import FlowCurve
from meltzone.cases.studies.material.make import MadeCard
from meltzone.cases.studies.material.moduli import Spectrum
from meltzone.materials.polymer import Polymer

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDE, HIGH, LOW = 3.0, 2.4, 0.9  # a column's panels [inch]
COLOURS = ("#1f5fa8", "#d9822b", "#0c8f9c", "#b3202c", "#7d5ba6", "#5f8f3a")


@styled
def fit_figure(made: MadeCard) -> Figure:
    """A column for each kind of measurement that was fitted; an empty figure's title alone where none was."""
    columns: list[Callable[[Axes, Axes], None]] = []
    if made.calorimetry is not None:
        run, card = made.calorimetry, made.card
        columns.append(lambda upper, lower: _calorimetry(upper, lower, run, card))
    if made.flow_curve is not None:
        curve = made.flow_curve
        columns.append(lambda upper, lower: _viscosity(upper, lower, curve))
    if made.spectrum is not None:
        found = made.spectrum
        columns.append(lambda upper, lower: _moduli(upper, lower, found))
    figure = blank_figure(max(len(columns), 1) * (WIDE + 0.75) + 0.2, HIGH + LOW + 1.6)
    headline(figure, made.card.label, "points: measured; lines: the card")
    for number, draw in enumerate(columns):
        left = 0.65 + number * (WIDE + 0.75)
        upper, lower = panel(figure, left, 1.6, WIDE, HIGH), panel(figure, left, 0.45, WIDE, LOW - 0.2)
        draw(upper, lower)
        upper.sharex(lower)
        upper.tick_params(axis="x", labelbottom=False)
        for axes in (upper, lower):
            _plain_ticks(axes)
    return figure


def _plain_ticks(axes: Axes) -> None:
    """Numbers in full along logarithmic scales."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter  # see `blank_figure`

    for side, scale in ((axes.xaxis, axes.get_xscale()), (axes.yaxis, axes.get_yscale())):
        if scale == "log":
            side.set_major_locator(LogLocator(subs=(1.0, 3.0) if side is axes.yaxis else (1.0,)))
            side.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
            side.set_minor_formatter(NullFormatter())


def _calorimetry(upper: Axes, lower: Axes, run: Calorimetry, card: Polymer) -> None:
    hot = celsius(run.temperature)
    with_peak = card.enthalpy_slope(run.temperature)
    upper.plot(hot, run.capacity / 1e3, ".", color=FAINT, markersize=2)
    upper.plot(hot, with_peak / 1e3, color=COLOURS[0], linewidth=1.5)
    upper.plot(celsius(run.table[0]), run.table[1] / 1e3, "o", color=COLOURS[1], markersize=3.5)
    upper.set_title("heat capacity [J/g/K]; cold crystallisation is netted")
    lower.plot(hot, (run.capacity - with_peak) / 1e3, color=COLOURS[0], linewidth=0.8)
    lower.set_xlabel("temperature [degC]")
    _zero(lower, "missed [J/g/K]")


def _viscosity(upper: Axes, lower: Axes, curve: FlowCurve) -> None:
    points = curve.points
    levels = np.unique(np.round(points.temperature))
    for number, level in enumerate(levels):
        colour, here = COLOURS[number % len(COLOURS)], np.round(points.temperature) == level
        fast = np.geomspace(points.rate.min(), points.rate.max(), 80)
        upper.loglog(points.rate[here], points.viscosity[here], "o", color=colour, markersize=3)
        upper.loglog(fast, curve.law(fast, level), color=colour, label=f"{celsius(level):.0f} degC")
        lower.semilogx(points.rate[here], 100.0 * curve.misses[here], "o", color=colour, markersize=2.5)
    upper.legend()
    upper.set_title("viscosity [Pa s]")
    lower.set_xlabel("angular frequency [1/s]" if points.by_frequency else "rate of shear [1/s]")
    _zero(lower, "missed [%]")


def _moduli(upper: Axes, lower: Axes, found: Spectrum) -> None:
    data = found.moduli
    for colour, values, misses, word in (
        (COLOURS[0], data.storage, found.misses[0], "G'"),
        (COLOURS[1], data.loss, found.misses[1], "G''"),
    ):
        upper.loglog(data.frequency, values, "o", color=colour, markersize=3, label=word)
        upper.loglog(data.frequency, values * (1.0 + misses), color=colour)
        lower.semilogx(data.frequency, 100.0 * misses, "o", color=colour, markersize=2.5)
    upper.legend()
    upper.set_title("moduli [Pa]")
    lower.set_xlabel("angular frequency [1/s]")
    _zero(lower, "missed [%]")


def _zero(axes: Axes, title: str) -> None:
    axes.axhline(0.0, color=FAINT, linewidth=0.7)
    axes.set_title(title)
