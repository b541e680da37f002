"""The picture of a transient: temperatures, heater power and flow over time."""

from __future__ import annotations

from itertools import pairwise
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np

from meltzone.cases.outputs.figures import FAINT, INK, blank_figure, celsius, headline, panel, styled
from meltzone.cases.studies.results import CUBIC_MM
from meltzone.cases.studies.transient import Timed
from meltzone.fem.in_time.unsteady import Response, WarmUp

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT, LOWER = 8.6, 6.4, 1.0  # of the figure, and of the panel of the flow [inch]
LEFT, WIDE = 0.75, 6.3
LINES = {
    "sensor": ("sensor", "#1d2430", "-"),
    "tip": ("tip", "#7d8ca3", "-"),
    "mean": ("mean of the flow", "#e0954f", "-"),
    "inner": ("innermost flow", "#c8452c", "-"),
    "core": ("core", "#6a3d9a", "-"),
}
LIMIT = "#2f8f5b"
ROOM = 0.055  # least distance of two labels, as a share of the height


@styled
def transient_figure(timed: Timed) -> Figure:
    """Temperatures above, heater power below, and the flow where it changes, over the same time."""
    flowing = not isinstance(timed.found, WarmUp)
    drop = 0.0 if flowing else LOWER
    figure = blank_figure(WIDTH, HEIGHT - drop)
    headline(figure, timed.title, *fill(timed.statement, 118).split("\n"))
    history = timed.history
    times = history.of("time")
    panels = [panel(figure, LEFT, 2.55 - drop, WIDE, 3.0), panel(figure, LEFT, 1.5 - drop, WIDE, 0.75)]
    _temperatures(panels[0], timed, times)
    _power(panels[1], timed, times)
    if flowing:
        panels.append(panel(figure, LEFT, 0.5, WIDE, 0.7))
        _flow(panels[2], timed, times)
    for axes in panels:
        axes.set_xlim(times[0], times[-1])
        if times[0] < 0.0:
            axes.axvline(0.0, color=FAINT, linewidth=0.6)
        axes.tick_params(labelbottom=axes is panels[-1])
    panels[-1].set_xlabel("time [s]")
    return figure


def _power(axes: Axes, timed: Timed, times: np.ndarray) -> None:
    power, rating = timed.history.of("power"), timed.problem.operation.rating
    _staircase(axes, times, power, "heater\n[W]", "#b8483a")
    axes.axhline(rating, color=FAINT, linewidth=0.8, linestyle=":")
    axes.annotate("rating", (1.0, rating), (4, 0), ("axes fraction", "data"), textcoords="offset points", fontsize=7.5,
                  color=FAINT, va="center", annotation_clip=False)  # fmt: skip
    axes.set_ylim(0.0, 1.12 * max(rating, float(power.max())))


def _flow(axes: Axes, timed: Timed, times: np.ndarray) -> None:
    """The flow, with the moments at which the part-cooling jet is turned."""
    flow = CUBIC_MM * timed.history.of("flow")
    _staircase(axes, times, flow, "flow\n[mm³/s]", "#3d6fa5")
    axes.set_ylim(0.0, 1.15 * max(float(flow.max()), 1.0))
    changes = timed.found.changes if isinstance(timed.found, Response) else ()
    for before, after in pairwise(changes):
        speed = after.surroundings.jet_speed
        if speed != before.surroundings.jet_speed:
            axes.axvline(after.time, color=LIMIT, linewidth=0.9, linestyle=":")
            axes.annotate(f"fan {'on' if speed else 'off'}", (after.time, 0.5), (4, 0), ("data", "axes fraction"),
                          textcoords="offset points", fontsize=8, color=LIMIT, va="center")  # fmt: skip


def _temperatures(axes: Axes, timed: Timed, times: np.ndarray) -> None:
    ends = []
    for name, (words, colour, style) in LINES.items():
        values = celsius(timed.history.of(name))
        axes.plot(times, values, style, color=colour, linewidth=1.5)
        ends.append((float(values[-1]), words, colour))
    threshold = celsius(timed.problem.materials.polymer.flow_temperature)
    axes.axhline(threshold, color=LIMIT, linewidth=1.0, linestyle="--")
    ends.append((float(threshold), "flow temperature", LIMIT))
    low, high = axes.get_ylim()
    axes.set_ylim(low, high)
    _labels(axes, sorted(ends), ROOM * (high - low))
    axes.set_ylabel("temperature [degC]")
    if isinstance(timed.found, WarmUp) and timed.found.reached is not None:
        axes.axvline(timed.found.reached, color=FAINT, linewidth=0.8, linestyle=":")
        axes.annotate(f"warmed up: {timed.found.reached:.1f} s", (timed.found.reached, low), (-4, 6),
                      textcoords="offset points", fontsize=8, color=INK, ha="right")  # fmt: skip


def _labels(axes: Axes, ends: list[tuple[float, str, str]], room: float) -> None:
    """Name every line at its right end, pushed apart where they would lie on one another."""
    levels = [value for value, _, _ in ends]
    top = axes.get_ylim()[1]
    for _ in range(50):
        for k in range(1, len(levels)):
            short = room - (levels[k] - levels[k - 1])
            if short > 0.0:
                levels[k - 1] -= short / 2.0
                levels[k] += short / 2.0
        levels[-1] = min(levels[-1], top)
    for level, (_, words, colour) in zip(levels, ends, strict=True):
        axes.annotate(words, (1.0, level), (6, 0), ("axes fraction", "data"), textcoords="offset points", fontsize=8,
                      color=colour, va="center", annotation_clip=False)  # fmt: skip


def _staircase(axes: Axes, times: np.ndarray, values: np.ndarray, label: str, colour: str) -> None:
    """A quantity that holds over each step, the value standing at the step's end."""
    axes.stairs(values[1:], times, baseline=None, color=colour, linewidth=1.4)
    axes.set_ylabel(label)
