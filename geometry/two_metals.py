"""What makes nozzle and heat break parts of two metals: a tip below, and thick ends around the tube; all lengths in metres."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from meltzone.geometry.errors import GeometryError
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.lengths import SAME, require_length
from meltzone.geometry.nozzle import Nozzle
from meltzone.geometry.outer import Ring
from meltzone.geometry.passage import PassageWall

BodyPlace = Literal["cooled", "block"]
LEAST_WALL = 0.05e-3  # [m]


@dataclass(frozen=True)
class Tip:
    """The nozzle's lower end in a metal of its own, up to `height` above its face [m]; `soldered` is without a joint.

    With a `diameter` [m] it is an insert in the body, whose face is left round it.
    """

    height: float = 1.5e-3
    soldered: bool = False
    diameter: float | None = None

    def check(self, nozzle: Nozzle) -> None:
        """Raises GeometryError unless it ends within the tip cone of the `nozzle`."""
        require_length("tip.height", self.height)
        if self.height > nozzle.tip_cone_height + SAME:
            raise GeometryError(
                "tip.height",
                self.height,
                "at most nozzle.tip_cone_height, {cone:g}",
                "The body begins below the hexagon.",
                cone=nozzle.tip_cone_height,
            )
        if self.diameter is not None:
            self._check_insert(self.diameter, nozzle)

    def _check_insert(self, diameter: float, nozzle: Nozzle) -> None:
        passage = 2.0 * float(PassageWall.through(nozzle.passage).radius(self.height))
        if not passage + 2.0 * LEAST_WALL <= diameter <= nozzle.tip_diameter - 2.0 * LEAST_WALL:
            raise GeometryError(
                "tip.diameter",
                diameter,
                "with walls of {least:g} between the passage at its upper end, {passage:.3g}, and the nozzle's face, {face:g}",
                "A lower tip.height meets a narrower passage; or widen nozzle.tip_diameter.",
                least=LEAST_WALL,
                passage=passage,
                face=nozzle.tip_diameter,
            )


@dataclass(frozen=True)
class BreakBody:
    """Thick ends of the heat break in a metal of their own, round a tube as wide as the neck that goes through.

    `covers` names the ends: "cooled", inside the heat sink, and "block", the thread inside the block. `soldered` is without
    a joint.
    """

    covers: tuple[BodyPlace, ...] = ("cooled", "block")
    soldered: bool = False

    def __post_init__(self) -> None:
        if not self.covers or not set(self.covers) <= {"cooled", "block"}:
            raise GeometryError(
                "break_body.covers",
                self.covers,
                'a list of "cooled", "block" or both',
                "Leave [break_body] out for none.",
            )

    def rings(self, neck: HeatBreak, outer: float, joint: float, block_top: float) -> tuple[Ring, ...]:
        """What it fills round the tube of the `neck`, to the radius `outer`, above `block_top` and from the `joint` on [m]."""
        inner, above = neck.neck_diameter / 2.0, block_top + neck.neck_length
        places = {
            "cooled": Ring(inner, outer, above, above + neck.cooled_length),
            "block": Ring(inner, outer, joint, block_top),
        }
        return tuple(places[place] for place in self.covers)
