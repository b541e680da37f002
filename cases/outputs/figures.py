"""What every picture shares: its style, panels, labels, and the triangles and outlines of a section."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Sequence
from functools import wraps
from typing import TYPE_CHECKING, Any, ParamSpec

import numpy as np

from meltzone.cases.outputs.plain_text import printable
from meltzone.fem.field import Field
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.block import Block
from meltzone.geometry.mesh import SectionMesh
from meltzone.materials.units import ZERO_CELSIUS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.tri import Triangulation

MM = 1e3
HEAT = "inferno"  # perceptually uniform, dark where cold
INK, FAINT = "#1d2430", "#6b7686"
RESOLUTION = 160  # dots per inch
FORMATS = (".png", ".svg", ".pdf")
STYLE: Any = {
    "axes.axisbelow": True,
    "axes.edgecolor": FAINT,
    "axes.labelcolor": INK,
    "axes.labelsize": 8.5,
    "axes.prop_cycle": f"cycler('color', ['{INK}'])",  # lines without a colour of their own
    "axes.spines.right": False,
    "axes.spines.top": False,
    "axes.titlecolor": INK,
    "axes.titlelocation": "left",
    "axes.titlesize": 9,
    "figure.dpi": RESOLUTION,
    "font.size": 8,
    "grid.color": "#e3e7ec",
    "grid.linewidth": 0.7,
    "legend.borderaxespad": 0.1,
    "legend.fontsize": 7.5,
    "legend.frameon": False,
    "legend.labelcolor": INK,
    "legend.title_fontsize": 7.5,
    "lines.color": INK,
    "svg.hashsalt": "meltzone",  # else clip paths and marks are named at random
    "text.color": INK,
    "text.parse_math": False,  # a dollar sign in a title is a dollar sign
    "xtick.color": INK,
    "xtick.labelsize": 8,
    "ytick.color": INK,
    "ytick.labelsize": 8,
}

Given = ParamSpec("Given")

# Nodes of a nine-node cell (corners 0-3, edges 4-7, centre 8) as four quadrilaterals, each cut in two triangles.
_QUARTERS = np.array([[0, 4, 8, 7], [4, 1, 5, 8], [8, 5, 2, 6], [7, 8, 6, 3]])
_TRIANGLES = np.vstack([_QUARTERS[:, [0, 1, 2]], _QUARTERS[:, [0, 2, 3]]])

PART_COLOURS = {
    "polymer": "#e4b363",
    "nozzle": "#b5a642",
    "block": "#b9c3cf",
    "heat break": "#7d8ca3",
    "gap": "#eef4fa",
    "sleeve": "#c98a5b",
    "wrap": "#8fb996",
    "liner": "#d8cfe6",
    "second block": "#a6b3c2",
}
OTHER_PART = "#c4a7b0"  # of a part without a colour of its own


def part_colour(part: str) -> str:
    """The colour of a part in all pictures."""
    return PART_COLOURS.get(part, OTHER_PART)


def styled(make: Callable[Given, Figure]) -> Callable[Given, Figure]:
    """`make`, a function that draws a figure, in the style of all pictures, and with printable text."""

    @wraps(make)
    def drawn(*args: Given.args, **kwargs: Given.kwargs) -> Figure:
        from matplotlib import rc_context  # see `blank_figure`
        from matplotlib.text import Text

        with rc_context(STYLE):
            figure = make(*args, **kwargs)
            for text in figure.findobj(Text):
                text.set_text(printable(text.get_text()))
        return figure

    return drawn


def blank_figure(width: float, height: float) -> Figure:
    """A figure of `width` x `height` [inch] with a canvas of its own, free of any global state."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg  # slow to import, and few need it
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), dpi=RESOLUTION)
    FigureCanvasAgg(figure)
    return figure


def save(figure: Figure, path: Any) -> None:
    """Write `figure` in the format that the ending of `path` names, without dates or random names: like input, like files."""
    from matplotlib import rc_context  # slow to import, and few need it

    name = str(path)
    undated: dict[str, None] = {"Date": None} if name.endswith(".svg") else {}
    if name.endswith(".pdf"):
        undated = {"CreationDate": None}
    with rc_context(STYLE), warnings.catch_warnings():  # ticks are made when it is drawn
        warnings.filterwarnings(
            "ignore", "Glyph"
        )  # a letter that the font lacks becomes a box, without a word on stderr
        figure.savefig(name, metadata=undated, facecolor="white")


def panel(figure: Figure, left: float, bottom: float, width: float, height: float) -> Axes:
    """Axes at a place given in inches."""
    wide, high = figure.get_size_inches()
    return figure.add_axes((left / wide, bottom / high, width / wide, height / high))


def headline(figure: Figure, title: str, *lines: str) -> None:
    """The title in bold with plain lines below it, at the left above all panels: 0.3 inch and 0.2 inch a line."""
    wide, high = figure.get_size_inches()
    style: dict[str, Any] = {"color": INK, "va": "top", "parse_math": False}
    figure.text(0.15 / wide, 1.0 - 0.1 / high, printable(title), fontsize=11, fontweight="bold", **style)
    for number, line in enumerate(lines):
        figure.text(0.15 / wide, 1.0 - (0.36 + 0.2 * number) / high, printable(line), fontsize=9, **style)


def say(axes: Axes, text: str, place: float, row: float, right: float = 5.0, up: float = 0.0, **style: Any) -> None:
    """`text` so many points `right` of and `up` from the end of a bar, which is at `place` along and `row` up."""
    style = {"va": "center", "fontsize": 8.5, **style}
    axes.annotate(text, (place, row), (right, up), textcoords="offset points", **style)


def named_rows(axes: Axes, names: Sequence[str], size: float = 8.5) -> None:
    """A row for each of `names`, the first at the top, for bars that lie."""
    axes.set_yticks(range(len(names)), [printable(name) for name in names])
    axes.set_ylim(len(names) - 0.5, -0.5)
    axes.tick_params(axis="y", length=0, labelsize=size)


def celsius(kelvin: Any) -> Any:
    """[K] to [degC]."""
    return kelvin - ZERO_CELSIUS


def plain(axes: Axes) -> None:
    """Quiet frame and ticks."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK, labelsize=8)
    for spine in axes.spines.values():
        spine.set_color(FAINT)


def triangles(field: Field, side: int, parts: tuple[str, ...] | None = None) -> Triangulation:
    """Triangles of all cells, or those of `parts`, in (r, z) [mm]; `side` -1 mirrors them at the axis.

    Eight to a cell, over its nine nodes. Contacts have doubled nodes, so nothing is smeared across them.
    """
    from matplotlib.tri import Triangulation

    space = field.system.space
    dofs = space.cells.dofs
    if parts is not None:
        dofs = dofs[np.concatenate([space.cells_of(part) for part in parts])]
    corners = dofs[:, _TRIANGLES].reshape(-1, 3)
    r, z = MM * space.points
    return Triangulation(side * r, z, corners if side > 0 else corners[:, ::-1])


def outline_segments(section: SectionMesh) -> np.ndarray:
    """Every edge between two parts or towards the air, but not the axis: shape (n, 2, 2), points (r, z) [mm]."""
    mesh = section.mesh
    owner = np.full(mesh.nelements, -1)
    for number, part in enumerate(section.parts):
        owner[mesh.subdomains[part]] = number
    first, second = mesh.f2t
    between = (second < 0) | (owner[first] != owner[second])
    ends = MM * mesh.p[:, mesh.facets[:, between]]
    on_axis = np.all(np.abs(ends[0]) < 1e-6, axis=0)
    return ends[:, :, ~on_axis].transpose(2, 1, 0)


def draw_outlines(axes: Axes, section: SectionMesh, colour: str = INK, width: float = 0.6) -> None:
    """The parts' outlines on both sides of the axis."""
    from matplotlib.collections import LineCollection

    segments = outline_segments(section)
    both = np.concatenate([segments, segments * [-1.0, 1.0]])
    axes.add_collection(LineCollection(list(both), colors=colour, linewidths=width, capstyle="round"), autolim=False)


def draw_channels(axes: Axes, arrangement: Arrangement, colour: str) -> None:
    """Where the bore is divided: its ends, and upright lines for the channels, which the section cannot show as they are."""
    if arrangement.channels is None:
        return
    lower, upper = (MM * level for level in arrangement.divided_levels)
    bore, streams = MM * arrangement.nozzle.bore / 2.0, arrangement.channels.number
    for level in (lower, upper):
        axes.plot([-bore, bore], [level, level], color=colour, linewidth=1.0)
    for edge in np.linspace(-bore, bore, streams + 1)[1:-1]:
        axes.plot([edge, edge], [lower, upper], color=colour, linewidth=0.7, alpha=0.8)


def draw_sensor(axes: Axes, block: Block, bottom: float, beside: tuple[float, float], **place: Any) -> None:
    """The sensor point in the `block` that begins at the level `bottom` [m], its word so many points `beside` it."""
    spot = (MM * block.sensor_radius, MM * (bottom + block.sensor_level))
    axes.plot(*spot, marker="o", markersize=4.5, markerfacecolor="white", markeredgecolor=INK, markeredgewidth=0.9)
    axes.annotate("sensor", spot, beside, textcoords="offset points", **place)


def frame_section(axes: Axes, reach: float) -> None:
    """Both sides of the axis to the radius `reach` [mm], to scale, with what stands along and up."""
    axes.set_xlim(-1.05 * reach, 1.05 * reach)
    axes.set_aspect("equal")
    axes.set_xlabel("radius [mm]")
    axes.set_ylabel("height above the nozzle's face [mm]")
    ticks = [tick for tick in range(-30, 31, 5) if abs(tick) <= reach]
    axes.set_xticks(ticks, [f"{abs(tick)}" for tick in ticks])


def extent(section: SectionMesh) -> tuple[float, float]:
    """Largest radius and height of the section [mm]."""
    r, z = MM * section.mesh.p.max(axis=1)
    return float(r), float(z)


def label_parts(axes: Axes, section: SectionMesh, texts: dict[str, str]) -> None:
    """`texts` by part, in a column right of the section, each with a line to the outermost spot of its part."""
    reach, top = extent(section)
    anchors = sorted((_anchor(section, part) for part in texts), key=lambda found: found[1])
    levels = _spread([z for _, z, _ in anchors], least=0.068 * max(top, 20.0))
    for (r, z, part), level in zip(anchors, levels, strict=True):
        axes.annotate(
            texts[part],
            xy=(r, z),
            xytext=(reach * 1.1, level),
            fontsize=7.5,
            va="center",
            arrowprops={"arrowstyle": "-", "color": FAINT, "linewidth": 0.6, "shrinkA": 1, "shrinkB": 0},
            annotation_clip=False,
        )


def _anchor(section: SectionMesh, part: str) -> tuple[float, float, str]:
    """A spot well inside the part, where nothing of another part lies further out: (r, z) [mm] and the part."""
    mesh = section.mesh
    centres = MM * mesh.p[:, mesh.t].mean(axis=1)
    here = centres[:, mesh.subdomains[part]]
    reach, top = extent(section)
    outermost = np.array([r >= centres[0, np.abs(centres[1] - z) < 0.15].max() - 0.6 for r, z in here.T])
    seen = here[:, outermost] if outermost.any() and part != "polymer" else here[:, here[1] > 0.97 * here[1].max()]
    middle = np.median(seen[1]) if part != "heat break" else seen[1].max() - 0.1 * top
    chosen = np.argmin(np.abs(seen[1] - middle) - 0.02 * seen[0] / reach)
    return float(seen[0, chosen]), float(seen[1, chosen]), part


def _spread(wanted: list[float], least: float) -> list[float]:
    """Rising levels at least `least` apart, near the `wanted` ones."""
    levels: list[float] = []
    for level in wanted:
        levels.append(level if not levels else max(level, levels[-1] + least))
    return levels
