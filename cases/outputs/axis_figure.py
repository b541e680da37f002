"""The picture along the passage: core and wall temperature as the filament travels down to the orifice."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from meltzone.cases.outputs.figures import FAINT, MM, blank_figure, celsius, headline, panel, styled
from meltzone.cases.studies.wording import JUDGED
from meltzone.fem.field import Field
from meltzone.geometry.arrangement import Arrangement

Span = tuple[float, float, str]  # from, to [m], word

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

CORE, WALL, THRESHOLD = "#1f5fa8", "#c8452c", "#0c8f9c"
SHADES = ("#eceff3", "#dde3ea")
WIDTH, HEIGHT = 9.2, 4.7  # [inch]

MARKERS = {"core": "o", "inner": "^", "mean": "D"}  # of what is judged; another one's is a square


@styled
def axis_figure(field: Field, title: str, verdict: str) -> Figure:
    """Core and wall [degC] of `field` over the height [mm], the filament travelling from left to right."""
    figure = blank_figure(WIDTH, HEIGHT)
    headline(figure, title, verdict)
    axes = panel(figure, 0.7, 0.55, WIDTH - 2.35, HEIGHT - 1.55)
    strip = panel(figure, 0.7, HEIGHT - 0.96, WIDTH - 2.35, 0.34)
    top = MM * field.problem.arrangement.top
    for each in (axes, strip):
        each.set_xlim(1.01 * top, -0.01 * top)
    _curves(axes, field)
    _melt_zone(axes, field)
    _spans(strip, field.problem.arrangement)
    axes.set_xlabel(
        "height above the nozzle's face [mm]; the filament travels this way \N{RIGHTWARDS ARROW}",
    )
    axes.set_ylabel("temperature [degC]")
    axes.grid(axis="y")
    return figure


def _curves(axes: Axes, field: Field) -> None:
    profile = field.axis
    core, wall = celsius(profile.core), celsius(profile.wall)
    threshold = celsius(field.problem.materials.polymer.flow_temperature)
    setpoint = celsius(field.problem.operation.setpoint)
    axes.axhline(setpoint, color=FAINT, linewidth=0.9, linestyle=(0, (1, 2)))
    axes.axhline(threshold, color=THRESHOLD, linewidth=1.2, linestyle=(0, (5, 3)))
    axes.plot(MM * profile.wall_z, wall, color=WALL, linewidth=2.0)
    axes.plot(MM * profile.z, core, color=CORE, linewidth=2.0)
    axes.set_ylim(min(0.0, float(core.min())), 1.08 * max(setpoint, float(wall.max())))
    ends = [
        (setpoint, f"setpoint {setpoint:.0f}", FAINT),
        (float(wall[0]), f"bore wall {wall[0]:.0f} at the tip", WALL),
        (threshold, f"flow temperature {threshold:.0f}", THRESHOLD),
        (float(core[0]), f"core {core[0]:.0f} at the tip", CORE),
    ]
    _end_labels(axes, ends)


def _end_labels(axes: Axes, ends: list[tuple[float, str, str]]) -> None:
    """Name the lines at their right ends, kept apart."""
    low, high = axes.get_ylim()
    least = 0.062 * (high - low)
    level = np.inf
    for wanted, text, colour in sorted(ends, reverse=True):
        level = min(wanted, level - least)
        axes.annotate(
            text, (1.0, level), (6, 0), xycoords=("axes fraction", "data"), textcoords="offset points",
            fontsize=8, color=colour, va="center", annotation_clip=False,
        )  # fmt: skip


def _melt_zone(axes: Axes, field: Field) -> None:
    lower, upper = (MM * level for level in field.melt_zone)
    base = axes.get_ylim()[0]
    end = MM * field.problem.arrangement.nozzle.land
    if upper > lower:
        axes.axvspan(lower, upper, color="#fbf1e4", zorder=0)
        text = f"melt zone, {upper - lower:.1f} mm"
        axes.annotate(text, ((lower + upper) / 2.0, base), (0, 5), textcoords="offset points", ha="center")
    axes.axvline(end, linewidth=0.9)
    operation = field.problem.operation
    lines = ["end of the melt zone [degC]"]
    for name, words in JUDGED.items():
        marker = MARKERS.get(name, "s")
        word = f"innermost {100 * operation.inner_share:.3g} %" if name == "inner" else words.heading
        value = celsius(field.judged_by(name))
        judged = name == operation.criterion
        fill = CORE if judged else "white"
        axes.plot(end, value, marker=marker, markersize=6, color=fill, markeredgecolor=CORE, clip_on=False, zorder=5)
        lines.append(f"{word} {value:.1f}" + (", judged" if judged else ""))
    core, span = celsius(field.core), axes.get_ylim()[1] - base
    line = {"arrowstyle": "-", "color": CORE, "linewidth": 0.8, "shrinkB": 5}
    where = (end + 0.17 * abs(axes.get_xlim()[0]), core - 0.24 * span)
    axes.annotate(
        "\n".join(lines),
        (end, core),
        where,
        color=CORE,
        ha="center",
        va="top",
        arrowprops=line,
        linespacing=1.3,
    )


def _around_channels(spans: list[Span], lower: float, upper: float) -> list[Span]:
    """The strips with the divided length among them, over whatever else lies there."""
    found: list[Span] = []
    for low, high, word in spans:
        if high <= lower or low >= upper:
            found.append((low, high, word))
            continue
        above, below = max(high - upper, 0.0), max(lower - low, 0.0)
        if above > 0.0:
            found.append((upper, high, word if above >= below else ""))  # said once, where there is more room
        if high >= upper:
            found.append((lower, upper, "channels"))
        if below > 0.0:
            found.append((low, lower, word if below > above else ""))
    return found


def _spans(axes: Axes, a: Arrangement) -> None:
    """The parts that the filament passes, as a strip over the curves."""
    spans: list[Span] = [
        (a.block_top, a.top, "heat break"),
        *((block.bottom, block.top, block.part) for block in a.blocks[::-1]),
        (a.nozzle.cone_top, a.block_bottom, "nozzle, exposed"),
        (a.nozzle.land, a.nozzle.cone_top, "cone "),
        (0.0, a.nozzle.land, "land"),
    ]
    if a.sleeve:
        spans[-3:-2] = [
            (a.block_bottom - a.sleeve.height, a.block_bottom, "sleeve"),
            (spans[-3][0], a.block_bottom - a.sleeve.height, "nozzle"),
        ]
    if a.channels:
        spans = _around_channels(spans, *a.divided_levels)
    axes.axis("off")
    axes.set_ylim(0.0, 1.0)
    for number, (lower, upper, word) in enumerate(spans):
        axes.axvspan(MM * lower, MM * upper, 0.0, 0.55, color=SHADES[number % 2], linewidth=0)
        room = (upper - lower) / a.top * (WIDTH - 2.35)
        if room < _length(word):
            word = word.partition(",")[0]  # noqa: PLW2901  the short name where there is no room
        small = room < _length(word)
        ha = "left" if small and word == "land" else "center"
        place = (MM * (upper if ha == "left" else (lower + upper) / 2.0), 0.6 if small else 0.27)
        axes.text(*place, word, ha=ha, va="bottom" if small else "center")


def _length(word: str) -> float:
    """Length of a word on the strip, with room around it [inch]."""
    return 0.06 * len(word) + 0.1
