"""The drawing of a print trial: the ring from above and from the side, every stretch with its flow, and what became of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from meltzone.cases.outputs.figures import FAINT, HEAT, INK, MM, blank_figure, headline, panel, styled
from meltzone.cases.studies.machine.ring import FOOT
from meltzone.cases.studies.machine.trial import Trial
from meltzone.cases.studies.results import CUBIC_MM

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 7.4, 6.2  # [inch]
FAILED = "#b3202c"


@styled
def trial_figure(found: Trial) -> Figure:
    """The side with its stretches at the left, the place on the bed at the right; the predicted ceiling is marked."""
    import matplotlib as mpl

    figure = blank_figure(WIDTH, HEIGHT)
    ceiling = found.result.flow_ceiling or 0.0
    told = "the wall from the side, flow by flow, and its place on the bed"
    headline(figure, f"Print trial: {found.result.title}", told, f"dashed: predicted ceiling {ceiling:.1f} mm³/s")
    side = panel(figure, 0.65, 0.55, 3.9, HEIGHT - 1.55)
    above = panel(figure, 5.1, 0.55, 2.0, 2.0)
    flows = np.array([CUBIC_MM * each.flow for each in found.stretches])
    colours = mpl.colormaps[HEAT](np.linspace(0.15, 0.85, flows.size))
    width = MM * 2.0 * found.asked.motion.radius
    for each, flow, colour in zip(found.stretches, flows, colours, strict=True):
        low, high = MM * each.bottom, MM * each.top
        side.fill_between([0.0, width], low, high, color=colour, linewidth=0.0)
        told = f"{each.number}: {flow:.1f} mm³/s, {MM * each.speed:.0f} mm/s"
        bad = each is found.first_failed
        side.text(1.03 * width, 0.5 * (low + high), told + (" first failed" if bad else ""), va="center", fontsize=6.5,
                  color=FAILED if bad else INK)  # fmt: skip
    if flows[0] <= ceiling <= flows[-1]:
        place = float(np.interp(ceiling, flows, [MM * each.bottom for each in found.stretches]))
        side.plot([0.0, width], [place, place], color="white", linewidth=1.4, linestyle=(0, (4, 3)))
    side.set_xlim(0.0, 1.75 * width)
    side.set_xticks([0.0, width])
    side.set_ylabel("height [mm]")
    side.set_xlabel("diameter of the ring [mm]")
    x, y = (MM * each for each in found.asked.motion.bed)
    turn = np.linspace(0.0, 2.0 * np.pi, 181)
    for number in range(FOOT):
        radius = MM * (found.asked.motion.radius + number * found.line.width)
        above.plot(0.5 * x + radius * np.cos(turn), 0.5 * y + radius * np.sin(turn), color=INK if number == 0 else FAINT,
                   linewidth=1.2 if number == 0 else 0.5)  # fmt: skip
    above.set_xlim(0.0, x)
    above.set_ylim(0.0, y)
    above.set_aspect("equal")
    above.set_xlabel("bed x [mm]")
    above.set_ylabel("bed y [mm]")
    return figure
