"""The picture of a transient: temperatures, heater power and flow over time."""

from __future__ import annotations

from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np

from meltzone.cases.figures import FAINT, INK, blank_figure, celsius, headline, panel, plain
from meltzone.cases.results import CUBIC_MM
from meltzone.cases.transient import Timed
from meltzone.fem.unsteady import WarmUp

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 8.6, 6.4  # [inch]
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


def transient_figure(timed: Timed) -> Figure:
    """Temperatures above, heater power and flow below them, over the same time."""
    figure = blank_figure(WIDTH, HEIGHT)
    headline(figure, timed.title, *fill(timed.statement, 118).split("\n"))
    upper, middle, lower = (
        panel(figure, LEFT, *place) for place in ((2.55, WIDE, 3.0), (1.5, WIDE, 0.75), (0.5, WIDE, 0.7))
    )
    history = timed.history
    times = history.of("time")
    _temperatures(upper, timed, times)
    _staircase(middle, times, history.of("power"), "heater\n[W]", "#b8483a")
    rating = timed.problem.operation.rating
    middle.axhline(rating, color=FAINT, linewidth=0.8, linestyle=":")
    middle.annotate("rating", (1.0, rating), (4, 0), ("axes fraction", "data"), textcoords="offset points", fontsize=7.5,
                    color=FAINT, va="center", annotation_clip=False)  # fmt: skip
    middle.set_ylim(0.0, 1.12 * max(rating, float(history.of("power").max())))
    flow = CUBIC_MM * history.of("flow")
    _staircase(lower, times, flow, "flow\n[mm³/s]", "#3d6fa5")
    lower.set_ylim(0.0, 1.15 * max(float(flow.max()), 1.0))
    lower.set_xlabel("time [s]", fontsize=8.5, color=INK)
    for axes in (upper, middle, lower):
        axes.set_xlim(times[0], times[-1])
        plain(axes)
        if times[0] < 0.0:
            axes.axvline(0.0, color=FAINT, linewidth=0.6)
    for axes in (upper, middle):
        axes.tick_params(labelbottom=False)
    return figure


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
    axes.set_ylabel("temperature [degC]", fontsize=8.5, color=INK)
    if isinstance(timed.found, WarmUp) and timed.found.reached is not None:
        axes.axvline(timed.found.reached, color=FAINT, linewidth=0.8, linestyle=":")
        axes.annotate(f"warmed up: {timed.found.reached:.1f} s", (timed.found.reached, low), (-4, 6),
                      textcoords="offset points", fontsize=8, color=INK, ha="right")  # fmt: skip


def _labels(axes: Axes, ends: list[tuple[float, str, str]], room: float) -> None:
    """Name every line at its right end, pushed apart where they would lie on one another."""
    levels = [value for value, _, _ in ends]
    for _ in range(50):
        for k in range(1, len(levels)):
            short = room - (levels[k] - levels[k - 1])
            if short > 0.0:
                levels[k - 1] -= short / 2.0
                levels[k] += short / 2.0
    for level, (_, words, colour) in zip(levels, ends, strict=True):
        axes.annotate(words, (1.0, level), (6, 0), ("axes fraction", "data"), textcoords="offset points", fontsize=8,
                      color=colour, va="center", annotation_clip=False)  # fmt: skip


def _staircase(axes: Axes, times: np.ndarray, values: np.ndarray, label: str, colour: str) -> None:
    """A quantity that holds over each step, the value standing at the step's end."""
    axes.stairs(values[1:], times, baseline=None, color=colour, linewidth=1.4)
    axes.set_ylabel(label, fontsize=8.5, color=INK)
