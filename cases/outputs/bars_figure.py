"""The picture of several cases side by side: their ceilings as bars, in the order given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from meltzone.cases.outputs.figures import FAINT, blank_figure, headline, named_rows, panel, say, styled
from meltzone.cases.outputs.quantities import chosen, named
from meltzone.cases.studies.result_quantities import RESULT
from meltzone.cases.studies.results import Result
from meltzone.fem.limits import LIMITS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

[CEILING] = chosen(RESULT, "ceilings.flow_mm3_per_s")
COLOURS = {"melt": "#d9822b", "power": "#3d6fa5", "force": "#7a4f9a", "none": FAINT}
OTHER = "#2f8f5b"  # of a limit without a colour of its own


def colour_of(governs: str) -> str:
    """The colour of a limit, by its name, in all pictures."""
    return COLOURS.get(governs, OTHER)


@dataclass(frozen=True)
class Bar:
    """One case: its `label`, what `governs` it, and its `ceilings` [mm3/s] by the names of their limits."""

    label: str
    governs: str
    ceilings: Mapping[str, float]

    @property
    def ceiling(self) -> float:
        """The governing ceiling [mm3/s]."""
        return self.ceilings.get(self.governs) or 0.0


def bar_of(result: Result) -> Bar:
    """The bar of a case whose ceilings were sought."""
    return Bar(result.case.name, result.governs or "none", result.all_ceilings)


def ceilings_figure(results: Sequence[Result]) -> Figure:
    """One bar for each of `results`."""
    return bars_figure([bar_of(result) for result in results])


@styled
def bars_figure(bars: Sequence[Bar], title: str = "Flow ceilings") -> Figure:
    """One bar a case, coloured by what governs; ticks show the other ceilings where they lie in view."""
    longest = max(len(bar.label) for bar in bars)
    left = 0.3 + 0.072 * longest
    height = 0.42 * len(bars) + 1.4
    figure = blank_figure(left + 5.6, height)
    headline(figure, title, "percentages count from the first case" if len(bars) > 1 else "")
    axes = panel(figure, left, 0.55, 5.2, height - 1.25)
    reach = 1.22 * max((bar.ceiling for bar in bars), default=1.0) or 1.0
    first = bars[0].ceiling
    for row, bar in enumerate(bars):
        axes.barh(row, bar.ceiling, height=0.62, color=colour_of(bar.governs))
        others = {kind: flow for kind, flow in bar.ceilings.items() if kind != bar.governs and flow < reach}
        for kind, flow in others.items():
            axes.plot(
                [flow, flow], [row - 0.36, row + 0.36], color=colour_of(kind), linewidth=2.5, solid_capstyle="butt"
            )
        change = f"   {100.0 * (bar.ceiling / first - 1.0):+.1f} %" if row and first else ""
        text = f"{bar.ceiling:.1f}{change}" if bar.ceiling else "no ceiling"
        place = max([bar.ceiling, *(flow for flow in others.values() if flow < 1.12 * bar.ceiling)])
        say(axes, text, place, row)
    named_rows(axes, [bar.label for bar in bars])
    axes.set_xlim(0.0, reach)
    axes.set_xlabel(named(CEILING))
    _legend(axes, bars)
    return figure


def _legend(axes: Axes, bars: Sequence[Bar]) -> None:
    from matplotlib.lines import Line2D  # see `blank_figure`
    from matplotlib.patches import Patch

    handles: list = [
        Patch(color=colour_of(kind), label=f"{kind} governs")
        for kind in LIMITS
        if any(bar.governs == kind for bar in bars)
    ]
    if axes.lines:
        handles.append(Line2D([], [], color=FAINT, linewidth=2.5, label="other ceilings"))
    axes.legend(handles=handles, ncols=3, loc="lower right", bbox_to_anchor=(1.0, 1.0))
