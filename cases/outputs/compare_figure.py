"""The picture of a comparison: ceilings, polymer held hot at the working flow, and the heater stuck on, a row a case."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from meltzone.cases.outputs.bars_figure import CEILING, colour_of
from meltzone.cases.outputs.figures import (
    FAINT,
    blank_figure,
    headline,
    named_rows,
    panel,
    part_colour,
    say,
    styled,
)
from meltzone.cases.outputs.quantities import named
from meltzone.cases.studies.compare import Comparison, Variant
from meltzone.cases.studies.result_quantities import STUCK_ON
from meltzone.materials.units import ZERO_CELSIUS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROW, WIDE, APART = 0.52, 2.75, 0.3  # inch
HOT, SOFT, BEYOND, WITHIN = "#d9822b", "#f1d3ae", "#b3261e", "#8d98a8"


@styled
def compare_figure(comparison: Comparison) -> Figure:
    """Three panels with one row a case."""
    variants = comparison.variants
    left = 0.3 + 0.072 * max(len(variant.name) for variant in variants)
    height = ROW * len(variants) + 1.75
    figure = blank_figure(left + 3 * WIDE + 2 * APART + 0.35, height)
    rate = "" if comparison.flow is None else f"working flow {comparison.flow:.2f} mm³/s: {comparison.chosen}"
    headline(figure, "Variants side by side", rate)
    panels = [panel(figure, left + k * (WIDE + APART), 0.75, WIDE, height - 1.55) for k in range(3)]
    _ceilings(panels[0], variants)
    _volumes(panels[1], variants)
    _stuck_on(panels[2], variants)
    for number, axes in enumerate(panels):
        named_rows(axes, [variant.name if number == 0 else "" for variant in variants])
    return figure


def compare_alt(comparison: Comparison) -> str:
    """What the picture shows, for those who cannot see it."""
    told = [
        f"{v.name} {v.result.flow_ceiling:.1f}" if v.result.flow_ceiling else f"{v.name} none"
        for v in comparison.variants
    ]
    return f"Bars of the flow ceilings in mm³/s: {', '.join(told)}; beside them the polymer held hot, and the heater stuck on."


def _ceilings(axes: Axes, variants: Sequence[Variant]) -> None:
    from matplotlib.patches import Patch  # see `blank_figure`

    reach = max((variant.result.flow_ceiling or 0.0 for variant in variants), default=0.0) or 1.0
    for row, variant in enumerate(variants):
        flow, first = variant.result.flow_ceiling or 0.0, variants[0].result.flow_ceiling
        axes.barh(row, flow, height=0.6, color=colour_of(variant.result.governs or "none"))
        place = flow
        if variant.interval is not None and first:
            low, high = (first * (1.0 + end / 100.0) for end in variant.interval)
            axes.plot([low, high], [row, row], linewidth=1.5, marker="|", markersize=7)
            place = max(flow, high)
        gain = "" if variant.gain is None else f"  {variant.gain:+.0f} %"
        say(axes, f"{flow:.1f}{gain}" if flow else "no ceiling", place, row)
    axes.set_xlim(0.0, 1.55 * reach)
    axes.set_xlabel(named(CEILING))
    governed = dict.fromkeys(variant.result.governs or "none" for variant in variants)
    handles = [Patch(color=colour_of(kind), label=f"{kind} governs") for kind in governed]
    _legend(axes, handles)


def _volumes(axes: Axes, variants: Sequence[Variant]) -> None:
    from matplotlib.patches import Patch

    reach = max((variant.soft_volume or 0.0 for variant in variants), default=0.0) or 1.0
    for row, variant in enumerate(variants):
        if variant.residence is None or variant.hot_volume is None or variant.soft_volume is None:
            say(axes, "no steady state", 0.0, row)
            continue
        axes.barh(row, variant.soft_volume, height=0.6, color=SOFT)
        axes.barh(row, variant.hot_volume, height=0.6, color=HOT)
        say(axes, f"{variant.residence.hot_time:.1f} s hot", variant.soft_volume, row)
    axes.set_xlim(0.0, 1.4 * reach)
    axes.set_xlabel("polymer at the working flow [mm³]")
    _legend(axes, [Patch(color=HOT, label="above flow temp."), Patch(color=SOFT, label="above softening")])


def _stuck_on(axes: Axes, variants: Sequence[Variant]) -> None:
    """Bars to the sensor's temperature; a line for the lowest limits of the parts that it passes."""
    from matplotlib.lines import Line2D

    reach, shown = 100.0, {}
    for row, variant in enumerate(variants):
        stuck = variant.result.stuck_on
        if stuck is None:
            say(axes, "beyond the tables", 0.0, row)
            continue
        sensor = stuck.sensor - ZERO_CELSIUS
        reach = max(reach, sensor)
        beyond = any(margin.severity for margin in variant.margins_stuck)
        axes.barh(row, sensor, height=0.6, color=BEYOND if beyond else WITHIN, alpha=0.75)
        for margin in variant.margins_stuck:
            if margin.limit is not None and margin.limit - ZERO_CELSIUS < sensor:
                limit = margin.limit - ZERO_CELSIUS
                axes.plot([limit, limit], [row - 0.4, row + 0.4], color=part_colour(margin.part), linewidth=2.5)
                shown[margin.part] = part_colour(margin.part)
        say(axes, f"{sensor:.0f}", sensor, row)
    axes.set_xlim(0.0, 1.2 * reach)
    axes.set_xlabel(named(STUCK_ON))
    handles = [Line2D([], [], color=colour, linewidth=2.5, label=f"{part} limit") for part, colour in shown.items()]
    _legend(axes, handles)


def _legend(axes: Axes, handles: list) -> None:
    if handles:
        axes.legend(
            handles=handles,
            fontsize=6.5,
            ncols=3,
            handlelength=1.2,
            columnspacing=0.9,
            loc="lower left",
            bbox_to_anchor=(-0.02, 1.0),
        )
    axes.axvline(0.0, color=FAINT, linewidth=0.8)
