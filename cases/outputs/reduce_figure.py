"""The picture of a reduction: commanded against delivered flow with the ideal line, every series with its broken line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from meltzone.cases.outputs.figures import FAINT, blank_figure, headline, panel, say, styled
from meltzone.cases.studies.bench.reduce import Reduced, Reduction

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS = ("#1f5fa8", "#d9822b", "#3a8f5c", "#8a4f9e", "#b3202c", "#6b7686")
MARKERS = ("o", "s", "^", "D", "v", "P")
OUTLIER = "#b3202c"
WIDTH, HEIGHT = 7.4, 5.6  # [inch]


@styled
def reduction_figure(found: Reduction) -> Figure:
    """Delivered over commanded flow above, the shortfall below; outliers are ringed, bands are 95 % of the ceiling."""
    figure = blank_figure(WIDTH, HEIGHT)
    marked = [comment for comment in found.samples.comments if "invented" in comment][:1]
    shown = "points: samples with their random uncertainty; lines: fits; bands: ceiling, 95 %; marks at the foot: onset, 95 %"
    headline(figure, f"Delivered against commanded flow: {found.samples.name}", *marked, shown)
    top = HEIGHT - 0.75 - 0.2 * len(marked)
    upper = panel(figure, 0.65, 2.1, WIDTH - 0.9, top - 2.1)
    lower = panel(figure, 0.65, 0.55, WIDTH - 0.9, 1.25)
    reach = 1.04 * max(float(each.delivered.commanded.max()) for each in found.series)
    upper.plot([0.0, reach], [0.0, reach], color=FAINT, linewidth=1.0, linestyle=(0, (4, 3)), label="ideal: all of it")
    for number, each in enumerate(found.series):
        _draw(upper, lower, each, number, reach)
    most = max(float(each.delivered.flow.max()) for each in found.series)
    upper.set_ylim(0.0, 1.12 * most)
    lower.axhline(100.0 * found.tolerance, color=FAINT, linewidth=1.0, linestyle=":")
    say(
        lower,
        f"{100 * found.tolerance:g} %",
        0.01 * reach,
        100.0 * found.tolerance,
        0,
        va="bottom",
        fontsize=7.5,
        color=FAINT,
    )
    upper.set_ylabel("delivered [mm³/s]")
    lower.set_ylabel("short by [%]")
    lower.set_xlabel("commanded flow [mm³/s]")
    for axes in (upper, lower):
        axes.set_xlim(0.0, reach)
    upper.legend(loc="lower right")
    return figure


def _draw(upper: Axes, lower: Axes, each: Reduced, number: int, reach: float) -> None:
    colour, marker = COLOURS[number % len(COLOURS)], MARKERS[number % len(MARKERS)]
    flows, curve = each.delivered, each.fitted.curve
    line = np.linspace(1e-3 * reach, float(flows.commanded.max()), 400)
    said = f"ceiling {each.ceiling.value:.2f}" if each.reached else f"ceiling above {each.ceiling.value:.2f}"
    style: dict[str, Any] = {"color": colour, "fmt": marker, "markersize": 3.6, "linewidth": 0.0, "elinewidth": 0.8}
    upper.errorbar(flows.commanded, flows.flow, flows.random, label=f"{each.series.name}: {said} mm³/s", **style)
    upper.plot(line, curve.delivered(line), color=colour, linewidth=1.4)
    if each.reached:
        upper.axhspan(each.ceiling.low, each.ceiling.high, color=colour, alpha=0.15, linewidth=0.0)
    upper.axvline(each.onset.value, ymax=0.06, color=colour, linewidth=1.6)
    upper.axvspan(each.onset.low, each.onset.high, ymax=0.03, color=colour, alpha=0.35, linewidth=0.0)
    lower.plot(flows.commanded, 100.0 * each.shortfall, marker, color=colour, markersize=3.6)
    lower.plot(line, 100.0 * curve.shortfall(line), color=colour, linewidth=1.4)
    off = each.outliers
    for axes, height in ((upper, flows.flow), (lower, 100.0 * each.shortfall)):
        axes.plot(flows.commanded[off], height[off], "o", markersize=10, markerfacecolor="none", color=OUTLIER)
