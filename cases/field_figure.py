"""The picture of a field: the whole section in colour, and beside it the passage, stretched radially."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from meltzone.cases.figures import (
    HEAT,
    INK,
    MM,
    blank_figure,
    celsius,
    draw_outlines,
    extent,
    headline,
    label_parts,
    plain,
    triangles,
)
from meltzone.fem.field import Field

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import Collection
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

ISOTHERM = "#5ff2ff"  # seen on every colour of the scale
MARGIN = 1.35  # the passage panel reaches so far beyond the bore's radius
_OUTLINE = "#8b93a1"


def field_figure(field: Field, title: str, verdict: str) -> Figure:
    """Section and passage of `field` [degC]; `title` names the case, `verdict` says what the flow is and what governs."""
    reach, top = extent(field.section)
    tall = 1.2 + 0.17 * top
    figure = blank_figure(4.9 + 0.2 * reach, min(max(tall, 4.6), 8.0))
    section, passage = figure.subplots(1, 2, width_ratios=(2.6 * reach + 6.0, 26.0), sharey=True)
    headline(figure, title, verdict)
    temperature = celsius(field.temperature)
    from matplotlib.colors import Normalize  # noqa: PLC0415

    scale = Normalize(float(temperature.min()), float(temperature.max()))
    painted = _paint(section, field, temperature, scale)
    _paint(passage, field, temperature, scale)
    _frame_section(section, field, reach, top)
    _frame_passage(passage, field, top)
    _isotherm(section, field, temperature, label=False)
    _isotherm(passage, field, temperature, label=True)
    bar = figure.colorbar(painted, ax=[section, passage], pad=0.02, fraction=0.045, aspect=32)
    bar.set_label("temperature [degC]", fontsize=8.5, color=INK)
    bar.ax.tick_params(labelsize=8, colors=INK)
    _mark_on_bar(bar.ax, field)
    return figure


def _paint(axes: Axes, field: Field, temperature: np.ndarray, scale: Normalize) -> Collection:
    for side in (-1, 1):
        painted = axes.tripcolor(triangles(field, side), temperature, shading="gouraud", cmap=HEAT, norm=scale)
    draw_outlines(axes, field.section, _OUTLINE, 0.7)
    return painted


def _frame_section(axes: Axes, field: Field, reach: float, top: float) -> None:
    axes.set_aspect("equal")
    axes.set_xlim(-1.04 * reach, 1.1 * reach + 8.0)
    axes.set_ylim(-0.02 * top, 1.02 * top)
    axes.set_xlabel("radius [mm]", fontsize=8.5, color=INK, x=0.5 * 2.04 * reach / (2.14 * reach + 8.0))
    axes.set_ylabel("height above the nozzle's face [mm]", fontsize=8.5, color=INK)
    plain(axes)
    axes.set_xticks([tick for tick in range(-30, 31, 5) if abs(tick) <= reach])
    labels = {part: part for part in field.section.parts if part not in ("gap", "polymer")}
    label_parts(axes, field.section, labels | {"polymer": "filament"})


def _frame_passage(axes: Axes, field: Field, top: float) -> None:
    """The bore and a rim of metal, so much wider than high that the warming layer can be seen."""
    radius = MARGIN * MM * field.problem.arrangement.nozzle.bore / 2.0
    axes.set_xlim(-radius, radius)
    axes.set_xlabel("radius [mm], stretched", fontsize=8.5, color=INK)
    axes.set_title("the passage", fontsize=8.5, color=INK)
    plain(axes)
    lower, upper = (MM * level for level in field.melt_zone)
    if upper > lower:
        edge = 1.06 * radius
        for level, word in ((lower, "melt zone ends"), (upper, "melt zone begins")):
            axes.plot([-radius, radius], [level, level], color="white", linewidth=0.9, linestyle=(0, (4, 3)))
            axes.text(edge, level, word, fontsize=7, color=INK, va="center")


def _isotherm(axes: Axes, field: Field, temperature: np.ndarray, label: bool) -> None:
    """The line in the polymer at which it yields: inside it the core is still stiff."""
    threshold = celsius(field.problem.materials.polymer.flow_temperature)
    inside = temperature[field.system.space.dofs_of("polymer")]
    if not inside.min() < threshold < inside.max():
        return
    for side in (-1, 1):
        lines = axes.tricontour(
            triangles(field, side, ("polymer",)), temperature, [threshold], colors=ISOTHERM, linewidths=1.3
        )
    if label:
        corner = np.concatenate([path.vertices for path in lines.get_paths()])
        r, z = corner[np.argmin(np.abs(corner[:, 1] - np.median(corner[:, 1])))]
        axes.annotate(
            f"{threshold:.0f} degC",
            xy=(r, z),
            xytext=(0.0, z),
            fontsize=7.5,
            color=ISOTHERM,
            ha="center",
            va="center",
            rotation=90,
        )


def _mark_on_bar(axes: Axes, field: Field) -> None:
    axes.axhline(celsius(field.problem.materials.polymer.flow_temperature), color=ISOTHERM, linewidth=1.6)
