"""The picture of delivered over commanded flow: the prediction with its limits, and measured samples with their fits."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np

from meltzone.cases.outputs.bars_figure import colour_of
from meltzone.cases.outputs.figures import FAINT, blank_figure, headline, panel, say, styled
from meltzone.cases.outputs.reduce_figure import COLOURS as SERIES
from meltzone.cases.outputs.reduce_figure import MARKERS
from meltzone.cases.studies.delivery import Delivery

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 7.4, 5.2  # [inch]
LINE = 108  # characters under the title


@styled
def delivery_figure(found: Delivery) -> Figure:
    """Prediction as a thick line, ceilings as dotted lines, samples with their random uncertainty and their fits."""
    lines = wrap(found.law, LINE)
    if found.measured is not None:
        lines += [comment for comment in found.measured.samples.comments if "invented" in comment][:1]
    figure = blank_figure(WIDTH, HEIGHT)
    headline(figure, found.result.title, *lines)
    axes = panel(figure, 0.65, 0.55, WIDTH - 0.9, HEIGHT - 1.15 - 0.2 * len(lines))
    reach = found.reach
    axes.plot([0.0, reach], [0.0, reach], color=FAINT, linewidth=1.0, linestyle=(0, (4, 3)), label="all of it")
    for number in range(len(found.measured.series) if found.measured else 0):
        _samples(axes, found, number)
    _prediction(axes, found)
    tops = [float(each.delivered.flow.max()) for each in found.measured.series] if found.measured else []
    axes.set_ylim(0.0, 1.12 * max([found.onset or 1.0, *tops]))
    axes.set_xlim(0.0, reach)
    axes.set_xlabel("commanded flow [mm³/s]")
    axes.set_ylabel("delivered flow [mm³/s]")
    axes.legend(loc="lower right")
    return figure


def _prediction(axes: Axes, found: Delivery) -> None:
    commanded, delivered = (np.concatenate([[0.0], column]) for column in found.table)
    if found.onset is None:
        return
    kind = found.result.governs or "none"
    axes.plot(commanded, delivered, color=colour_of(kind), linewidth=2.6, label=f"predicted, {kind} governs")
    axes.plot([found.onset], [found.onset], "o", color=colour_of(kind), markersize=7)
    say(axes, f"onset {found.onset:.1f}", found.onset, found.onset, -6, up=7, ha="right")
    result = found.result
    for name, flow in result.all_ceilings.items():
        if name != kind and flow < 1.1 * axes.get_ylim()[1]:
            axes.axhline(flow, color=colour_of(name), linewidth=1.2, linestyle=":")
            say(
                axes,
                f"{name} ceiling {flow:.1f}",
                0.01 * found.reach,
                flow,
                0,
                up=7,
                fontsize=7.5,
                color=colour_of(name),
            )


def _samples(axes: Axes, found: Delivery, number: int) -> None:
    assert found.measured is not None
    each = found.measured.series[number]
    colour, marker = SERIES[number % len(SERIES)], MARKERS[number % len(MARKERS)]
    flows = each.delivered
    line = np.linspace(1e-3 * found.reach, float(flows.commanded.max()), 300)
    axes.errorbar(
        flows.commanded, flows.flow, flows.random, color=colour, fmt=marker, markersize=3.6, linewidth=0.0, elinewidth=0.8,
        label=f"measured, {each.series.name}",
    )  # fmt: skip
    axes.plot(line, each.fitted.curve.delivered(line), color=colour, linewidth=1.0)
