"""The picture of heat creep: the filament's skin over the height above the block, by flow."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

from meltzone.cases.outputs.figures import FAINT, INK, blank_figure, celsius, headline, panel, say, styled
from meltzone.cases.studies.creep import Creep
from meltzone.cases.studies.results import MM
from meltzone.fem.heat_creep import profile_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 7.4, 4.8  # [inch]
LINE = 108  # characters under the title
SHADES = ("#b3202c", "#d9573c", "#e0954f", "#c9b458", "#6f9fb8", "#3d6fa5", "#264a73")


@styled
def creep_figure(found: Creep) -> Figure:
    """One line a flow, with the softening temperature and the height at which it is taken to jam."""
    lines = wrap(f"{found.statement}.", LINE)
    figure = blank_figure(WIDTH, HEIGHT)
    headline(figure, found.title, *lines)
    axes = panel(figure, 0.65, 0.55, WIDTH - 0.9, HEIGHT - 1.15 - 0.2 * len(lines))
    for field, state, colour in zip(found.fields, found.states, SHADES, strict=False):
        profile = profile_of(field)
        label = f"{state.flow:.3g} mm³/s" if state.flow else "at rest"
        axes.plot(MM * profile.height, celsius(profile.temperature), color=colour, linewidth=1.8, label=label)
    softening = celsius(found.problem.materials.polymer.softening_temperature)
    axes.axhline(softening, color=FAINT, linewidth=1.0, linestyle=(0, (4, 3)))
    axes.axvline(found.limit_height, color=INK, linewidth=1.0, linestyle=":")
    reach = MM * float(profile_of(found.rest).height[-1])
    say(axes, "softening", reach, softening, -4, up=7, ha="right", fontsize=7.5, color=FAINT)
    say(axes, "taken to jam", found.limit_height, axes.get_ylim()[1], 4, up=-8, fontsize=7.5)
    axes.set_xlim(0.0, reach)
    axes.set_xlabel("height above the block's upper face [mm]")
    axes.set_ylabel("filament's skin [degC]")
    axes.legend(loc="upper right")
    return figure
