"""The picture of a sweep: its ceilings over one key, as a line or bars, or over two, as lines, a map or cells."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.outputs.bars_figure import COLOURS, colour_of
from meltzone.cases.outputs.figures import FAINT, INK, named_rows, panel, say, styled
from meltzone.cases.outputs.sweep_map_figure import (
    FLOW_LABEL,
    canvas,
    cells_figure,
    cloud_figure,
    labelled,
    map_figure,
    scales,
)
from meltzone.cases.studies.sweep.means import Mean, chosen_axes, means_of, values_of
from meltzone.cases.studies.sweep.plan import Axis
from meltzone.cases.studies.sweep.run import Swept
from meltzone.fem.limits import LIMITS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SERIES = ("#1f5fa8", "#d9822b", "#2f8f5b", "#b3202c", "#7a5ca6", "#0c8f9c", "#8a6d3b", "#5b6675")
# What governs: how it is said, and how the marks of a line are filled, its own colour instead of the ink.
WORDS = {
    **{name: f"{name} governs" for name in LIMITS},
    "mixed": "what governs differs",
    "none": "nothing flows",
}
FACES = {
    **{name: colour_of(name) for name in LIMITS},
    "melt": INK,
    "power": "white",
    "mixed": "#c9d0d8",
    "none": "#b3202c",
}
MOST_SERIES = 4  # numbers with more values than this are drawn as a map


@styled
def sweep_figure(swept: Swept, over: Sequence[str] = ()) -> Figure:
    """The ceilings over the one or two keys `over`, by default the first two that have several values.

    Where further keys vary, means are drawn, with the range of the points about them where there is room. Raises CaseError
    for a key that the sweep does not vary, and where no point has a ceiling.
    """
    axes = chosen_axes(swept.sweep, over)
    if not swept.found:
        expected, hint = (
            "at least one point with a ceiling",
            "The column `reason` of the results says why there is none.",
        )
        raise CaseError(f"output {swept.path}", None, None, None, expected, hint)
    numbers = [axis for axis in axes if axis.parameter is not None]
    if len(axes) == 1:
        return _lines(swept, axes[0], None) if numbers else _bars(swept, axes[0])
    first, second = axes
    if len(numbers) == 2:
        if first.between is not None or second.between is not None:
            return cloud_figure(swept, first, second)
        return _lines(swept, first, second) if len(second.values) <= MOST_SERIES else map_figure(swept, first, second)
    if len(numbers) == 1:
        other = second if numbers[0] is first else first
        return _lines(swept, numbers[0], other)
    return cells_figure(swept, first, second)


def _lines(swept: Swept, along: Axis, series: Axis | None) -> Figure:
    """Ceilings over a number, one line for each value of `series`."""
    drawn = [along] if series is None else [along, series]
    figure = canvas(swept, drawn, 7.6, 4.4)
    axes = panel(figure, 0.7, 0.55, 5.0, 3.1)
    means = means_of(swept, drawn)
    dots = along.between is not None
    for number, value in enumerate([None] if series is None else values_of(swept, series)):
        rest = () if series is None else (value,)
        xs = [x for x in values_of(swept, along) if (x, *rest) in means]
        found = [means[(x, *rest)] for x in xs]
        colour = SERIES[number % len(SERIES)]
        label = f"{value:g}" if isinstance(value, float) else value
        _curve(axes, xs, found, colour, label, dots)
    scales(axes, along)
    axes.set_ylim(bottom=0.0, top=1.08 * max(mean.high for mean in means.values()))
    labelled(axes, along.column, FLOW_LABEL)
    axes.grid(axis="y")
    _legend(axes, "" if series is None else series.column, {mean.governs for mean in means.values()})
    return figure


def _curve(axes: Axes, xs: list[Any], found: list[Mean], colour: str, label: str | None, dots: bool) -> None:
    """A line with its range, or dots only; the marks are filled by what governs."""
    means = [mean.mean for mean in found]
    if not dots and any(mean.high > mean.low for mean in found):
        axes.fill_between(xs, [m.low for m in found], [m.high for m in found], color=colour, alpha=0.12, linewidth=0)
    axes.plot(xs, means, linestyle="" if dots else "-", color=colour, linewidth=1.6, label=label)
    for governs, face in ((kind, colour if face is INK else face) for kind, face in FACES.items()):
        chosen = [k for k, mean in enumerate(found) if mean.governs == governs]
        axes.plot(
            [xs[k] for k in chosen], [means[k] for k in chosen], "o",
            color=colour, markersize=4.5 if len(xs) < 60 else 3.0, markerfacecolor=face, clip_on=False,
        )  # fmt: skip


def _legend(axes: Axes, title: str, governs: set[str]) -> None:
    """What the lines stand for, at the right, and the marks where not the melt alone governs."""
    from matplotlib.lines import Line2D  # see `blank_figure`

    handles: list[Any] = []
    if title:
        lines: Any
        lines, labels = axes.get_legend_handles_labels()
        handles = [
            Line2D([], [], color=line.get_color(), linewidth=2, label=text)
            for line, text in zip(lines, labels, strict=True)
        ]
    marks = [
        Line2D([], [], marker="o", linestyle="", markersize=4.5, markerfacecolor=face, label=WORDS[kind])
        for kind, face in FACES.items()
        if kind in governs and governs != {"melt"}
    ]
    axes.legend(
        handles=[*handles, *marks], title=title or None,
        loc="upper left", bbox_to_anchor=(1.01, 1.02), borderaxespad=0.0, alignment="left",
    )  # fmt: skip


def _bars(swept: Swept, axis: Axis) -> Figure:
    """Ceilings over words, as bars coloured by what governs, with the range of the points that share a bar."""
    names, means = [str(name) for name in values_of(swept, axis)], means_of(swept, [axis])
    left = 0.35 + 0.07 * max(map(len, names))
    figure = canvas(swept, [axis], left + 5.4, 0.42 * len(names) + 1.6)
    axes = panel(figure, left, 0.6, 4.9, 0.42 * len(names))
    for row, name in enumerate(names):
        mean = means.get((name,))
        if mean is None:
            say(axes, "no ceiling", 0.0, row)
            continue
        axes.barh(row, mean.mean, height=0.62, color=COLOURS.get(mean.governs, FAINT))
        if mean.high > mean.low:
            axes.plot([mean.low, mean.high], [row, row], linewidth=1.2, marker="|", markersize=7)
        say(axes, f"{mean.mean:.1f}", mean.high, row)
    named_rows(axes, names)
    axes.set_xlim(0.0, 1.15 * max(mean.high for mean in means.values()))
    labelled(axes, FLOW_LABEL, "")
    _bars_legend(axes, {mean.governs for mean in means.values()})
    return figure


def _bars_legend(axes: Axes, governs: set[str]) -> None:
    from matplotlib.patches import Patch  # see `blank_figure`

    patches = [
        Patch(color=COLOURS.get(kind, FAINT), label=text) for kind, text in WORDS.items() if kind in governs - {"none"}
    ]
    axes.legend(handles=patches, ncols=3, loc="lower right", bbox_to_anchor=(1.0, 1.0))
