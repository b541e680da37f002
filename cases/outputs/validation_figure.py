"""The picture of a validation: row by row, measured beside predicted; and predicted over measured with the diagonal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from meltzone.cases.outputs.calibration_words import interval_words, standing
from meltzone.cases.outputs.figures import FAINT, INK, blank_figure, headline, panel, plain
from meltzone.cases.outputs.validation_tables import sentences, signed
from meltzone.cases.studies.validation.outcome import Predicted, Validation

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MEASURED, PREDICTED, CALIBRATING = INK, "#d9822b", "#3d6fa5"
TWO_SIGMA = 1.96  # standard uncertainties in a 95 % bar
LONGEST_NAME = 44
LONGEST_LINE = 118


def validation_figure(validation: Validation) -> Figure:
    """Both panels, all bars at 95 %."""
    rows = validation.rows
    names = [_short(f"{number}  {row.row.name}") for number, row in enumerate(rows, start=1)]
    left = 0.35 + 0.068 * max(map(len, names))
    lines = headlines(validation)
    height = max(0.32 * len(rows), 2.6)
    top = 0.75 + 0.2 * len(lines)
    figure = blank_figure(left + 4.4 + 0.85 + height + 0.2, height + top + 0.55)
    headline(figure, validation.measured.title or validation.measured.name, *lines)
    beside = panel(figure, left, 0.55, 4.4, height)
    _beside(beside, rows, names)
    square = panel(figure, left + 4.4 + 0.85, 0.55, height, height)
    _against(square, rows)
    return figure


def _short(name: str, longest: int = LONGEST_NAME) -> str:
    return name if len(name) <= longest else name[: longest - 3] + "..."


def headlines(validation: Validation) -> list[str]:
    """The lines below the title: what was calibrated, and the errors."""
    return [_short(line, LONGEST_LINE) for line in _calibration_lines(validation)] + sentences(validation)


def _calibration_lines(validation: Validation) -> list[str]:
    found = validation.calibration
    if found is None:
        return ["not calibrated: the number of each case as it stands"]
    return [
        f"{each.free.key} = {each.free.words(each.value)}; 95 %: {interval_words(each)}"
        + (f"; {said}" if (said := standing(found, each)) else "")
        for each in found.numbers
    ]


def _bars(row: Predicted) -> list[list[float]]:
    return [[row.ceiling - row.low], [row.high - row.ceiling]]


def _colour(row: Predicted) -> str:
    return CALIBRATING if row.row.calibrates else PREDICTED


def _beside(axes: Axes, rows: tuple[Predicted, ...], names: list[str]) -> None:
    style: dict[str, Any] = {"capsize": 2.5, "elinewidth": 1.0, "markersize": 5.0, "linestyle": "none"}
    for place, row in enumerate(rows):
        spread = TWO_SIGMA * row.uncertainty
        axes.errorbar(row.measured, place - 0.14, xerr=spread, fmt="o", color=MEASURED, **style)
        axes.errorbar(row.ceiling, place + 0.16, xerr=_bars(row), fmt="D", color=_colour(row), **style)
        farthest = max(row.measured + spread, row.high)
        text = "calibrates" if row.row.calibrates else f"{signed(row.error)} %"
        axes.annotate(
            text, (farthest, place), (6, 0), textcoords="offset points", fontsize=7.5, color=_colour(row), va="center"
        )
    axes.set_yticks(range(len(rows)), names, parse_math=False)
    axes.set_ylim(len(rows) - 0.5, -0.5)
    reach = max(max(row.measured + TWO_SIGMA * row.uncertainty, row.high) for row in rows)
    axes.set_xlim(0.0, 1.18 * reach)
    axes.set_xlabel("flow ceiling [mm³/s], bars at 95 %", fontsize=8.5, color=INK)
    plain(axes)
    axes.tick_params(axis="y", length=0, labelsize=8.0)
    _legend(axes, rows)


def _legend(axes: Axes, rows: tuple[Predicted, ...]) -> None:
    from matplotlib.lines import Line2D  # noqa: PLC0415  see figures.blank_figure

    kinds = [("measured", "o", MEASURED), ("predicted", "D", PREDICTED), ("calibrated on", "D", CALIBRATING)]
    used = {MEASURED} | {_colour(row) for row in rows}
    handles = [
        Line2D([], [], color=colour, marker=marker, linestyle="none", markersize=5.0, label=label)
        for label, marker, colour in kinds
        if colour in used
    ]
    axes.legend(
        handles=handles,
        fontsize=7.5,
        frameon=False,
        ncols=3,
        loc="lower right",
        bbox_to_anchor=(1.0, 1.0),
        borderpad=0.2,
    )


def _against(axes: Axes, rows: tuple[Predicted, ...]) -> None:
    ends = [value for row in rows for value in (row.measured - row.uncertainty, row.measured + row.uncertainty)]
    ends += [value for row in rows for value in (row.low, row.high)]
    low, high = min(ends), max(ends)
    margin = 0.08 * (high - low) or 1.0
    low, high = max(low - margin, 0.0), high + margin
    axes.plot([low, high], [low, high], color=FAINT, linewidth=1.0)
    for number, row in enumerate(rows, start=1):
        spread = TWO_SIGMA * row.uncertainty
        colour = _colour(row)
        axes.errorbar(
            row.measured,
            row.ceiling,
            xerr=spread,
            yerr=_bars(row),
            fmt="none",
            ecolor=colour,
            elinewidth=0.7,
            alpha=0.45,
        )
        axes.plot(row.measured, row.ceiling, "D", color=colour, markersize=4.5)
        axes.annotate(
            str(number), (row.measured, row.ceiling), (4, 3), textcoords="offset points", fontsize=7.5, color=INK
        )
    axes.set_xlim(low, high)
    axes.set_ylim(low, high)
    axes.set_aspect("equal")
    axes.set_xlabel("measured [mm³/s]", fontsize=8.5, color=INK)
    axes.set_ylabel("predicted [mm³/s]", fontsize=8.5, color=INK)
    plain(axes)
