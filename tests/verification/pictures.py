"""Pictures of the verification page: entry problems and convergence."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from . import series
from .entry import plug_solution
from .manufactured import PECLETS, convergence
from .profiles import graetz_solution
from .study import upwind_convergence
from .tube import theta

BLUE, RED, GREY = "#1f5a94", "#b5482a", "#777777"


def draw_all(folder: Path) -> None:
    """Write both pictures to `folder` as PNG."""
    import matplotlib  # only where drawn

    matplotlib.use("Agg")
    from matplotlib import pyplot as plt

    with plt.rc_context({"font.size": 9, "axes.spines.top": False, "axes.spines.right": False, "figure.dpi": 140}):
        for name, draw in (("entry", _entry), ("convergence", _convergence)):
            figure = draw(plt)
            figure.savefig(folder / f"verification-{name}.png", metadata={"Software": None})
            plt.close(figure)


def _entry(plt: Any) -> Any:
    figure, axes = plt.subplots(1, 2, figsize=(8.2, 3.4), layout="constrained")
    fo = np.geomspace(0.004, 1.0, 200)
    centre, mean, nusselt = series.graetz(fo / 4.0)
    lines = {
        "plug": (BLUE, "o", series.plug(fo), series.plug_mean(fo), series.plug_nusselt(fo), plug_solution()),
        "parabola": (RED, "s", centre, mean, nusselt, graetz_solution()),
    }
    for name, (colour, mark, axis, average, local, (pipe, temperature)) in lines.items():
        stations = pipe.stations / (2000.0 * pipe.radius)
        axes[0].plot(fo, axis, color=colour, label=f"{name}, axis")
        axes[0].plot(fo, average, color=colour, ls="--", label=f"{name}, mean")
        axes[1].plot(fo, local, color=colour, label=name)
        style = {"ls": "", "marker": mark, "ms": 4, "mfc": "white", "color": colour}
        axes[0].plot(stations, theta(pipe.core(temperature)), **style)
        axes[0].plot(stations, theta(pipe.mean(temperature)), **style)
        axes[1].plot(stations, pipe.nusselt(temperature), **style)
    for level, colour in ((5.783186, BLUE), (3.656793, RED)):
        axes[1].axhline(level, color=colour, lw=0.6, ls=":")
    axes[0].set(
        xscale="log", xlabel="Fo = α x / (U R²)", ylabel="(T_w − T) / (T_w − T_in)", ylim=(0, 1.03), xlim=(0.004, 1.0)
    )
    axes[1].set(
        xscale="log", yscale="log", xlabel="Fo = α x / (U R²)", ylabel="local Nusselt number", xlim=(0.004, 1.0)
    )
    axes[1].set_yticks([4, 5, 6, 8, 10, 15], ["4", "5", "6", "8", "10", "15"])
    axes[1].minorticks_off()
    axes[0].legend(frameon=False, fontsize=8, title="lines: series, marks: solver", title_fontsize=8)
    axes[1].legend(frameon=False, fontsize=8)
    return figure


def _convergence(plt: Any) -> Any:
    figure, axes = plt.subplots(1, 2, figsize=(8.2, 4.3), layout="constrained", sharex=True)
    colours = dict(zip(PECLETS, (BLUE, "#3c8d5a", RED), strict=True))
    for name, peclet in PECLETS.items():
        plain, upwind = convergence(peclet), upwind_convergence(peclet)
        for axis, column in zip(axes, (1, 2), strict=True):
            label = f"{name}, cell Peclet {plain[-1, 5]:.2g} to {plain[0, 5]:.2g}"
            axis.loglog(plain[:, 0], plain[:, column], "o-", color=colours[name], ms=4, label=label)
            axis.loglog(upwind[:, 0], upwind[:, column], "x:", color=colours[name], ms=5)
    for axis, column, slope, name in zip(axes, (3, 4), (3, 2), ("L2 error [K]", "H1 error [K/mm]"), strict=True):
        exact = convergence(PECLETS["conduction"])
        axis.loglog(
            exact[:, 0], exact[:, column], color=GREY, lw=5, alpha=0.3, label="interpolation of the exact field"
        )
        n = exact[-2:, 0]
        axis.loglog(n, 0.35 * exact[-2, column] * (n[0] / n) ** slope, color="black", lw=1)
        axis.annotate(f"order {slope}", (n[0], 0.3 * exact[-2, column]), ha="right", va="top", fontsize=8)
        axis.set(xlabel="cells across and along the polymer", ylabel=name)
        axis.set_xticks(exact[:, 0], [f"{int(v)}" for v in exact[:, 0]])
        axis.minorticks_off()
    title = "full: Galerkin, as shipped; dotted: upwind"
    handles, labels = axes[0].get_legend_handles_labels()
    figure.legend(
        handles, labels, loc="outside upper center", ncols=2, frameon=False, fontsize=8, title=title, title_fontsize=8
    )
    return figure
