"""The picture of a design: the ceiling over the steps of the search, and where in their bounds the varied keys went."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from meltzone.cases.outputs.figures import FAINT, INK, blank_figure, headline, panel, styled
from meltzone.cases.studies.design.read import Varied
from meltzone.cases.studies.design.run import Designed, words_of
from meltzone.cases.studies.results import CUBIC_MM

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS = ("#d9822b", "#3d6fa5", "#5c8a4f", "#8a4f7d", "#b3261e", "#7d8ca3", "#b5a642", "#2b9c9c")
MARKS = ("o", "s", "^", "D", "v", "P")


@styled
def design_figure(found: Designed) -> Figure:
    """Ceilings above, varied keys below, the steps of one choice after those of another."""
    wide = min(5.5 + 0.12 * len(found.steps), 11.0)
    below = 1.9 if found.design.varied else 0.0
    names = [words for words, _ in _groups(found)] + list(map(_bounds, found.design.varied))
    beside = max(2.4, 0.7 + 0.065 * max(map(len, names), default=0))  # for the legends
    figure = blank_figure(wide + beside, 4.1 + below)
    headline(figure, found.design.title, found.statement[:120])
    top = panel(figure, 0.8, 0.65 + below, wide - 0.6, 2.6)
    _ceilings(top, found)
    if found.design.varied:
        bottom = panel(figure, 0.8, 0.6, wide - 0.6, 1.5)
        _values(bottom, found)
        top.set_xticklabels([])
        top.set_xlim(bottom.get_xlim())
    return figure


def _groups(found: Designed) -> list[tuple[str, list[int]]]:
    """Words of each choice with the places of its steps, counted from 1 over all of them."""
    numbered = enumerate(found.steps, start=1)
    grouped = groupby(numbered, key=lambda item: words_of(item[1].choice))
    return [(words, [place for place, _ in items]) for words, items in grouped]


def _ceilings(axes: Axes, found: Designed) -> None:
    flows = [CUBIC_MM * step.point.ceiling for step in found.steps]
    for number, (words, places) in enumerate(_groups(found)):
        colour = COLOURS[number % len(COLOURS)]
        axes.plot(places, [flows[p - 1] for p in places], color=colour, linewidth=1.2, label=words or None)
        for place in places:
            kept = found.steps[place - 1].kept
            axes.plot(
                place, flows[place - 1], "o", color=colour, markersize=5, markerfacecolor=colour if kept else "white"
            )
    if found.design.reach is not None:
        axes.axhline(CUBIC_MM * found.design.reach, color=INK, linewidth=0.9, linestyle="--", label="asked for")
    if any(not step.kept for step in found.steps):
        axes.plot([], [], "o", color=FAINT, markerfacecolor="white", markersize=5, label="a limit exceeded")
    axes.set_ylabel("flow ceiling [mm³/s]")
    axes.margins(y=0.12)
    _finish(axes)


def _values(axes: Axes, found: Designed) -> None:
    from matplotlib.ticker import MaxNLocator  # see figures.blank_figure

    for k, item in enumerate(found.design.varied):
        shares = [(step.point.values[k] - item.least) / (item.most - item.least) for step in found.steps]
        for number, (_, places) in enumerate(_groups(found)):
            axes.plot(
                places,
                [shares[p - 1] for p in places],
                color=COLOURS[-1 - k % len(COLOURS)],
                marker=MARKS[k % len(MARKS)],
                markersize=4,
                linewidth=1.0,
                label=_bounds(item) if number == 0 else None,
            )
    axes.set_ylim(-0.06, 1.06)
    axes.set_yticks([0.0, 1.0], ["least", "greatest"])
    axes.set_xlabel("step")
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    _finish(axes)


def _bounds(item: Varied) -> str:
    return f"{item.key}, {item.words(item.least)} to {item.words(item.most)}"


def _finish(axes: Axes) -> None:
    if axes.get_legend_handles_labels()[1]:
        axes.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0))


@styled
def front_figure(found: Designed) -> Figure:
    """Ceilings with their bands over the first number they are held against; a second one stands beside each point."""
    figure = blank_figure(6.6, 4.3)
    names = found.design.against
    headline(figure, found.design.title, f"front of the ceiling against {' and '.join(each.words for each in names)}")
    axes = panel(figure, 0.8, 0.65, 5.3, 2.8)
    places = [point.against[0] for point in found.front]
    flows = [point.result.flow_ceiling or 0.0 for point in found.front]
    if len(names) == 1:
        axes.plot(places, flows, color=FAINT, linewidth=1.0)
    for point, place, flow in zip(found.front, places, flows, strict=True):
        if point.result.band is not None:
            axes.plot([place, place], point.result.band.bounds, color="#d5dae1", linewidth=3.0, zorder=0)
        axes.plot(place, flow, "o", color=COLOURS[0], markerfacecolor="white" if point.tied else COLOURS[0])
        for item, value in list(zip(names, point.against, strict=True))[1:]:
            axes.annotate(item.told(value), (place, flow), (5, 4), textcoords="offset points", fontsize=7)
    for text, face in (("on the front", COLOURS[0]), ("not to be told from the best", "white")):
        axes.plot([], [], "o", color=COLOURS[0], markerfacecolor=face, label=text)
    axes.plot([], [], color="#d5dae1", linewidth=3.0, label="90 % band of a ceiling by itself")
    axes.set_xlabel(f"{names[0].words} [{names[0].unit}]".removesuffix(" []"))
    axes.set_ylabel("flow ceiling [mm³/s]")
    axes.legend(loc="lower right")
    return figure
