"""The picture of an explanation: budget and temperature drops at the left, the strongest levers at the right."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np

from meltzone.cases.outputs.figures import FAINT, blank_figure, headline, named_rows, panel, say, styled
from meltzone.cases.studies.bottleneck import ordered
from meltzone.cases.studies.explain import Explained, LeverEffect
from meltzone.fem.explain import Explanation

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, ROW = 12.4, 0.26  # [inch]
LEAST_SHARE = 5e-4  # of the budget: less is not to be seen
GAIN, COST, KEPT, LOST = "#2f8f5b", "#b8483a", "#d9822b", "#3d6fa5"
STEPS = ("#c8452c", "#d96f3b", "#e0954f", "#e4b363", "#1f5fa8")


@styled
def explain_figure(explained: Explained) -> Figure:
    """Budget [%], drops [K] and levers [mm3/s]; raises ValueError where there is no ceiling to explain."""
    explanation = explained.explanation
    if explanation is None:
        raise ValueError("there is no ceiling to draw")
    shares = {k: v for k, v in ordered(dict(explanation.budget)).items() if abs(v) >= LEAST_SHARE}
    design, data = explained.strongest("design"), explained.strongest("data")
    left = ROW * (len(shares) + len(explanation.drops)) + 1.45
    right = ROW * (len(design) + len(data)) + 1.45
    height = 1.45 + max(left, right)
    figure = blank_figure(WIDTH, height)
    flow = f"Flow ceiling {explained.result.flow_ceiling:.1f} mm³/s, {explained.result.governs} governs"
    headline(figure, explained.result.title, flow, *fill(explained.bottleneck, 175).split("\n"))
    top = height - 1.35
    deep = ROW * len(shares)
    _budget(panel(figure, 2.05, top - deep, 3.0, deep), shares)
    below = ROW * len(explanation.drops)
    _drops(panel(figure, 2.05, top - deep - below - 0.95, 3.0, below), explained, explanation)
    reach = 1.45 * max((abs(effect.change) for effect in (*design, *data)), default=1.0)
    deep = ROW * max(len(design), 1)
    _levers(panel(figure, 9.0, top - deep, 2.9, deep), design, "what one can build or set", reach)
    below = ROW * max(len(data), 1)
    axes = panel(figure, 9.0, top - deep - below - 0.95, 2.9, below)
    _levers(axes, data, "what the number hangs on", reach)
    axes.set_xlabel("change of the ceiling [mm³/s]")
    return figure


def _rows(axes: Axes, names: Sequence[str], title: str) -> None:
    named_rows(axes, names, 8)
    axes.set_title(title, fontweight="bold")
    axes.tick_params(axis="x", labelsize=7.5)


def _label(axes: Axes, value: float, row: int, text: str) -> None:
    side = 1 if value >= 0.0 else -1
    say(axes, text, value, row, 4 * side, fontsize=7.5, ha="left" if side > 0 else "right")


def _budget(axes: Axes, shares: dict[str, float]) -> None:
    for row, share in enumerate(shares.values()):
        axes.barh(row, 100.0 * share, height=0.66, color=KEPT if share > 0.0 else LOST)
        _label(axes, 100.0 * share, row, f"{100.0 * share:.1f}")
    axes.axvline(0.0, color=FAINT, linewidth=0.8)
    low, high = 100.0 * min(0.0, *shares.values()), 100.0 * max(shares.values())
    span = high - low
    axes.set_xlim(low - (0.24 if low < 0.0 else 0.02) * span, high + 0.18 * span)
    _rows(axes, list(shares), "budget: share of the ceiling [%]")


def _drops(axes: Axes, explained: Explained, explanation: Explanation) -> None:
    """A staircase from the sensor to the judged core."""
    sensor = explained.result.sensor
    assert sensor is not None
    levels = sensor - np.concatenate([[0.0], np.cumsum(list(explanation.drops.values()))])
    for row, (drop, colour) in enumerate(zip(explanation.drops.values(), STEPS, strict=True)):
        axes.barh(row, -drop, left=levels[row], height=0.66, color=colour)
        _label(axes, float(max(levels[row : row + 2])), row, f"{drop:.1f} K")
    span = max(float(np.ptp(levels)), 1.0)
    axes.set_xlim(levels.min() - 0.05 * span, levels.max() + 0.22 * span)
    _rows(axes, list(explanation.drops), "from sensor to core [degC]")


def _levers(axes: Axes, effects: Sequence[LeverEffect], title: str, reach: float) -> None:
    for row, effect in enumerate(effects):
        axes.barh(row, effect.change, height=0.66, color=GAIN if effect.change > 0.0 else COST)
        _label(axes, effect.change, row, f"{effect.change:+.2f}")
    axes.axvline(0.0, color=FAINT, linewidth=0.8)
    axes.set_xlim(-reach, reach)
    _rows(axes, [f"{effect.step}  {effect.words}" for effect in effects], title)
