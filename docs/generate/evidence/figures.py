"""Pictures of the validation page: errors of every model variant, and the slip test over the length of the melt zone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from generate.evidence.literature_study import CRITERIA, Slip
from meltzone.cases.outputs.figures import FAINT, INK, blank_figure, headline, panel, plain
from meltzone.cases.studies.validation.outcome import Validation

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LIMIT = 7.0  # the goal for every row [%]
WIDEST = 25.0  # errors beyond are drawn at the edge [%]
COLOURS = {"core": "#3d6fa5", "inner": "#d9822b", "mean": "#5a9a5f"}
WORDS = {"core": "core (axis)", "inner": "inner share", "mean": "mean"}


def variants_figure(labels: Sequence[str], results: Sequence[Validation]) -> Figure:
    """One line a variant: the error of every predicted row as a dot, the mean size as a number."""
    left = 0.3 + 0.066 * max(map(len, labels))
    height = 0.3 * len(labels)
    figure = blank_figure(left + 7.1, height + 1.3)
    headline(
        figure, "Errors of the predicted rows", "each variant calibrated anew on the short block at 210 degC alone"
    )
    axes = panel(figure, left, 0.55, 5.4, height)
    axes.axvspan(-LIMIT, LIMIT, color="#eef1f5", linewidth=0)
    axes.axvline(0.0, color=FAINT, linewidth=0.8)
    for place, found in enumerate(results):
        errors = np.array([row.error for row in found.judged])
        beyond = np.abs(errors) > WIDEST
        axes.plot(
            errors[~beyond], np.full((~beyond).sum(), place), "o", color=COLOURS["inner"], markersize=4.5, alpha=0.75
        )
        for error in errors[beyond]:
            axes.plot(np.sign(error) * WIDEST, place, ">" if error > 0 else "<", color=COLOURS["core"], markersize=5.0)
        missed = found.calibration is not None and found.calibration.unreached
        text = f"mean {found.mean_error:.1f} %" + (", out of reach" if missed else "")
        axes.annotate(text, (WIDEST, place), (9, 0), textcoords="offset points", fontsize=7.5, color=INK, va="center")
    axes.set_yticks(range(len(labels)), labels)
    axes.set_ylim(len(labels) - 0.5, -0.5)
    axes.set_xlim(-WIDEST - 1.0, WIDEST + 1.0)
    axes.set_xlabel(
        "predicted over measured less one [%]; band: the goal of 7 %; arrows: beyond 25 %", fontsize=8.5, color=INK
    )
    plain(axes)
    axes.tick_params(axis="y", length=0, labelsize=8.0)
    return figure


def slip_figure(found: Sequence[Slip]) -> Figure:
    """Left, the temperatures at slip over the flow for every length; right, their spread over the length."""
    from matplotlib import colormaps  # see figures.blank_figure

    figure = blank_figure(11.6, 3.95)
    headline(
        figure,
        "ABS slip test: which temperature is the same at every slip?",
        "end of the melt zone, at the flows and block temperatures of Read et al. 2024; the length is assumed",
    )
    shades = colormaps["viridis"](np.linspace(0.0, 0.9, len(found)))
    for place, name in enumerate(CRITERIA):
        axes = panel(figure, 0.65 + 2.5 * place, 0.55, 2.25, 2.55)
        for slip, shade in zip(found, shades, strict=True):
            axes.plot(slip.flows, slip.temperatures[name], "o-", color=shade, markersize=3.0, linewidth=1.1)
        axes.set_ylim(55.0, 225.0)
        axes.set_title(WORDS[name], fontsize=8.5, color=INK)
        axes.set_xlabel("flow [mm³/s]", fontsize=8.5, color=INK)
        if place == 0:
            axes.set_ylabel("temperature at slip [degC]", fontsize=8.5, color=INK)
        else:
            axes.set_yticklabels([])
        plain(axes)
        if name == "mean":  # the panel with an empty corner
            for slip, shade in zip(found, shades, strict=True):
                axes.plot([], [], color=shade, label=f"{slip.length:g} mm")
            axes.legend(fontsize=7.0, frameon=False, loc="lower right", ncols=2, handlelength=1.2, columnspacing=0.8)
    axes = panel(figure, 8.95, 0.55, 2.4, 2.55)
    lengths = [slip.length for slip in found]
    for name in CRITERIA:
        spreads = [slip.spread(name) for slip in found]
        axes.plot(lengths, spreads, "o-", color=COLOURS[name], markersize=3.0, linewidth=1.3, label=WORDS[name])
    axes.set_ylim(0.0, None)
    axes.set_title("spread over the five flows", fontsize=8.5, color=INK)
    axes.set_xlabel("melt zone assumed [mm]", fontsize=8.5, color=INK)
    axes.set_ylabel("standard deviation [K]", fontsize=8.5, color=INK)
    axes.legend(fontsize=7.0, frameon=False)
    plain(axes)
    return figure
