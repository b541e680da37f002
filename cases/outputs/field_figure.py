"""The picture of a field: the whole section in colour, and beside it the passage, stretched radially."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from meltzone.cases.outputs.figures import (
    FAINT,
    HEAT,
    INK,
    MM,
    RESOLUTION,
    blank_figure,
    celsius,
    draw_channels,
    draw_outlines,
    draw_sensor,
    extent,
    frame_section,
    headline,
    label_parts,
    panel,
    styled,
    triangles,
)
from meltzone.fem.field import Field
from meltzone.geometry.arrangement import Arrangement

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import Collection
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

ISOTHERM = "#4df0ff"  # seen on every colour of the scale
MARGIN = 1.4  # the passage panel reaches so far beyond the bore's radius
HEIGHT, WIDEST = 4.9, 5.6  # of the section [inch]
LABELS, PASSAGE = 1.4, 2.3  # widths [inch]


@styled
def field_figure(field: Field, title: str, verdict: str) -> Figure:
    """Section and passage of `field` [degC]; `title` names the case, `verdict` says what the flow is and what governs."""
    from matplotlib.colors import Normalize  # see `blank_figure`

    reach, top = extent(field.section)
    inch = min(HEIGHT / top, WIDEST / (2.0 * reach))
    wide, high = 2.1 * reach * inch, 1.04 * top * inch
    figure = blank_figure(wide + 2.0 * LABELS + PASSAGE + 1.5, high + 1.35)
    headline(figure, title, verdict)
    section = panel(figure, 0.6, 0.5, wide, high)
    passage = panel(figure, 0.6 + wide + LABELS + 0.15, 0.5, PASSAGE, high)
    beside = panel(figure, 0.6 + wide + 2.0 * LABELS + PASSAGE + 0.1, 0.5 + 0.02 * high, 0.16, 0.96 * high)
    temperature = celsius(field.temperature)
    scale = Normalize(float(temperature.min()), float(temperature.max()))
    for axes in (section, passage):
        painted = _paint(axes, field, temperature, scale)
        axes.set_ylim(-0.02 * top, 1.02 * top)
    _frame_section(section, field, reach)
    _frame_passage(passage, field, temperature)
    _colour_bar(figure, beside, painted, field)
    return figure


def _paint(axes: Axes, field: Field, temperature: np.ndarray, scale: Normalize) -> Collection:
    for side in (-1, 1):
        painted = axes.tripcolor(triangles(field, side), temperature, shading="gouraud", cmap=HEAT, norm=scale)
    draw_outlines(axes, field.section, "#8b93a1", 0.7)
    return painted


def _frame_section(axes: Axes, field: Field, reach: float) -> None:
    frame_section(axes, reach)
    arrangement = field.problem.arrangement
    block = arrangement.block
    draw_sensor(axes, block, arrangement.block_bottom, (0, -6), ha="center", va="top")
    extremes = {part: celsius(np.array(ends)) for part, ends in field.part_extremes.items() if part != "gap"}
    names = {part: "filament" if part == "polymer" else part for part in extremes}
    label_parts(
        axes, field.section, {part: f"{names[part]}\n{a:.0f} to {b:.0f} degC" for part, (a, b) in extremes.items()}
    )


def _frame_passage(axes: Axes, field: Field, temperature: np.ndarray) -> None:
    """The bore and a rim of metal, so much wider than high that the warming layer can be seen."""
    bore = MM * max(radius for _, radius in field.problem.arrangement.wall.corners)
    radius = MARGIN * bore
    axes.set_xlim(-radius, radius)
    axes.set_xticks(np.array([-1.0, -0.5, 0.0, 0.5, 1.0]) * bore)
    axes.set_xticklabels([f"{abs(tick):g}" for tick in axes.get_xticks()])
    stretch = _inches_per_mm(axes, 0) / _inches_per_mm(axes, 1)
    axes.set_xlabel(f"radius [mm], stretched {stretch:.1f} times")
    axes.set_title("The passage")
    _name_channels(axes, field.problem.arrangement, radius)
    lower, upper = (MM * level for level in field.melt_zone)
    if upper > lower:
        for level, word in ((lower, "melt zone ends"), (upper, "melt zone begins")):
            axes.plot([-radius, radius], [level, level], linewidth=1.0)
            axes.plot([-radius, radius], [level, level], color="white", linewidth=1.0, linestyle=(0, (3, 3)))
            axes.text(1.04 * radius, level, word, va="center")
    crossing = _isotherm(axes, field, temperature)
    if crossing is not None:
        threshold = celsius(field.problem.materials.polymer.flow_temperature)
        text = f"flow temperature\n{threshold:.0f} degC: inside the\nline the core is stiff"
        line = {"arrowstyle": "-", "color": INK, "linewidth": 0.7, "shrinkA": 2, "shrinkB": 0}
        level = crossing[1]
        axes.annotate(text, crossing, (1.04 * radius, level), va="center", arrowprops=line)


def _name_channels(axes: Axes, arrangement: Arrangement, radius: float) -> None:
    channels = arrangement.channels
    if channels is None:
        return
    draw_channels(axes, arrangement, "white")
    text = f"divided into {channels.number}\nchannels of {MM * channels.hole_diameter:g} mm"
    middle = MM * sum(arrangement.divided_levels) / 2.0
    axes.text(-1.04 * radius, middle, text, va="center", ha="right")


def _inches_per_mm(axes: Axes, direction: int) -> float:
    corners = axes.transData.transform([(0.0, 0.0), (1.0, 1.0)])  # [dots]
    return float(corners[1, direction] - corners[0, direction]) / RESOLUTION


def _isotherm(axes: Axes, field: Field, temperature: np.ndarray) -> tuple[float, float] | None:
    """Draw the line in the polymer at which it yields; returns a point (r, z) [mm] in its middle, None without line."""
    threshold = celsius(field.problem.materials.polymer.flow_temperature)
    inside = temperature[field.system.space.dofs_of("polymer")]
    if not inside.min() < threshold < inside.max():
        return None
    style = {"colors": ISOTHERM, "linewidths": 1.5}
    for side in (-1, 1):
        lines = axes.tricontour(triangles(field, side, ("polymer",)), temperature, [threshold], **style)
    corners = np.concatenate([path.vertices for path in lines.get_paths()])
    lower, upper = corners[:, 1].min(), corners[:, 1].max()
    return tuple(corners[np.argmin(np.abs(corners[:, 1] - (0.55 * lower + 0.45 * upper)))])


def _colour_bar(figure: Figure, axes: Axes, painted: Collection, field: Field) -> None:
    bar = figure.colorbar(painted, cax=axes)
    bar.set_label("temperature [degC]")
    bar.outline.set_edgecolor(FAINT)
    axes.axhline(celsius(field.problem.materials.polymer.flow_temperature), color=ISOTHERM, linewidth=2.0)
