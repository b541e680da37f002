"""The picture of an arrangement before any solve: parts with their materials on one side, the mesh on the other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from meltzone.cases.outputs.figures import (
    INK,
    MM,
    blank_figure,
    draw_channels,
    draw_outlines,
    draw_sensor,
    extent,
    frame_section,
    headline,
    label_parts,
    panel,
    part_colour,
    styled,
)
from meltzone.cases.studies.cautions import materials_by_part, part_name
from meltzone.fem.heater import powered_blocks
from meltzone.fem.problem import Problem
from meltzone.geometry.block import Stacked
from meltzone.geometry.mesh import SectionMesh
from meltzone.geometry.outer import Ring

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HEIGHT, WIDEST, LABELS = 5.6, 6.4, 2.4  # [inch]
HEATER = "#c8452c"


def problem_figure(section: SectionMesh, problem: Problem, title: str) -> Figure:
    """The `section` of a case under a `title`, its parts with their materials."""
    materials = {part: material.label for part, material in materials_by_part(problem).items()} | {"gap": "air"}
    return section_figure(section, title, materials, powered_blocks(problem))


@styled
def section_figure(section: SectionMesh, title: str, materials: dict[str, str], powered: Sequence[str]) -> Figure:
    """Parts and mesh of `section`; `materials` names what each part is made of, `powered` the blocks with a heater."""
    reach, top = extent(section)
    inch = min(HEIGHT / top, WIDEST / (2.0 * reach))
    wide, high = 2.1 * reach * inch, 1.04 * top * inch
    figure = blank_figure(wide + LABELS + 0.75, high + 1.15)
    cells = section.mesh.nelements
    headline(
        figure,
        title,
        f"mesh of {cells:,} quadratic cells; left: cells, right: heater ring; colours by part, not by material",
    )
    axes = panel(figure, 0.6, 0.5, wide, high)
    for part in section.parts:
        _fill(axes, section, section.mesh.subdomains[part], part_colour(part))
    _cells(axes, section)
    for block in section.arrangement.blocks:
        for ring in section.arrangement.heater_rings if block.part in powered else ():
            _heater(axes, ring, block)
    draw_sensor(
        axes, section.arrangement.block, section.arrangement.block_bottom, (-5, 0), ha="right", va="center", fontsize=7
    )
    draw_outlines(axes, section, INK, 0.8)
    draw_channels(axes, section.arrangement, INK)
    axes.axvline(0.0, linewidth=0.6, linestyle=(0, (8, 2, 1, 2)))
    axes.set_ylim(-0.02 * top, 1.02 * top)
    frame_section(axes, reach)
    label_parts(
        axes, section, {part: f"{part_name(part)}\n{materials[part]}" for part in section.parts if part in materials}
    )
    return figure


def _corners(section: SectionMesh, cells: np.ndarray, side: int) -> np.ndarray:
    """Corners of `cells` in mm, shape (n, 4, 2)."""
    points = MM * section.mesh.p[:, section.mesh.t[:, cells]].transpose(2, 1, 0)
    return points * [side, 1.0]


def _fill(axes: Axes, section: SectionMesh, cells: np.ndarray, colour: str) -> None:
    from matplotlib.collections import PolyCollection  # see `blank_figure`

    corners = np.concatenate([_corners(section, cells, 1), _corners(section, cells, -1)])
    axes.add_collection(PolyCollection(list(corners), facecolors=colour, edgecolors=colour, linewidths=0.3))


def _cells(axes: Axes, section: SectionMesh) -> None:
    from matplotlib.collections import PolyCollection

    corners = _corners(section, np.arange(section.mesh.nelements), -1)
    axes.add_collection(PolyCollection(list(corners), facecolors="none", edgecolors="#2b3442", linewidths=0.18))


def _heater(axes: Axes, ring: Ring, block: Stacked) -> None:
    """A heater's ring in a block, hatched."""
    from matplotlib.patches import Rectangle

    bottom, top = max(block.bottom, ring.bottom), min(block.top, ring.top)
    corner = (MM * ring.inner, MM * bottom)
    size = (MM * (ring.outer - ring.inner), MM * (top - bottom))
    axes.add_patch(
        Rectangle(corner, *size, facecolor="none", edgecolor=HEATER, hatch="////", linewidth=0.0, alpha=0.75)
    )
    middle = (corner[0] + size[0] / 2.0, corner[1] + 0.88 * size[1])
    box = {"facecolor": part_colour(block.part), "edgecolor": "none", "pad": 1.0}
    axes.text(*middle, "heater", color=HEATER, ha="center", va="center", bbox=box)
