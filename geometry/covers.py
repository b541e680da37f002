"""What is put around the exposed nozzle and the block: sleeve and insulation; all lengths in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

from meltzone.geometry.errors import GeometryError
from meltzone.geometry.lengths import SAME, require_length
from meltzone.geometry.nozzle import Nozzle
from meltzone.geometry.outer import Measures, Orientation, OuterPart, Ring, Site

# Up to here air between upright walls 100 K apart conducts and radiates only: a Rayleigh number by the width of below 1700 [m].
STILL = 8e-3
WrapPlace = Literal["block", "nozzle"]


@dataclass(frozen=True)
class Sleeve(OuterPart):
    """A threaded sleeve (or stacked nuts) on the exposed thread, tight against the block; lengths in [m].

    `width` is across the flats of a hexagon, or the diameter where `round` is set.
    """

    part: ClassVar[str] = "sleeve"
    contacts: ClassVar[tuple[str, ...]] = ("sleeve thread", "sleeve face")

    height: float = 8.5e-3
    width: float = 10.0e-3
    round: bool = False

    def __post_init__(self) -> None:
        require_length("sleeve.height", self.height)
        require_length("sleeve.width", self.width)

    @property
    def radius(self) -> float:
        """Radius of the circle of the same area [m]."""
        return self.width / 2.0 if self.round else self.width * math.sqrt(math.sqrt(3.0) / 2.0 / math.pi)

    @property
    def side_area_ratio(self) -> float:
        """True lateral area over that of the cylinder [-]."""
        return 1.0 if self.round else math.sqrt(3.0) * self.width / (math.pi * self.radius)

    def check(self, site: Site) -> None:
        """Raises GeometryError unless it fits between block and hexagon, round the thread."""
        room = site.nozzle.exposed - site.nozzle.shoulder
        if self.height > room + 1e-9:
            raise GeometryError(
                "sleeve.height",
                self.height,
                "at most the exposed thread between block and hexagon, {room:.4g}",
                "A longer nozzle (nozzle.length and nozzle.exposed) gives it room.",
                room=room,
            )
        if self.radius <= site.nozzle.thread.crest_radius:
            raise GeometryError(
                "sleeve.width",
                self.width,
                "wider than the thread of {diameter:g}",
                "Give the width across the flats.",
                diameter=site.nozzle.thread.diameter,
            )

    def rings(self, site: Site) -> tuple[Ring, ...]:
        """On the exposed thread, up to the block's lower face."""
        bottom = site.block_bottom - self.height
        return (Ring(site.nozzle.thread.pitch_radius, self.radius, bottom, site.block_bottom),)

    def measures(self, site: Site, orientation: Orientation) -> Measures:
        """Its side, its lower face, and of its upper one what a sleeve wider than the block leaves bare."""
        if orientation == "side":
            return self.height, self.width, self.side_area_ratio
        if orientation == "down":
            return self.width / 4.0, self.width, 1.0
        bare = math.pi * self.radius**2 - site.block.area
        perimeter = 4.0 * math.pi * self.radius**2 / self.width
        return max(bare / perimeter, SAME), self.width, 1.0

    @classmethod
    def contact(cls, other: str, horizontal: bool) -> str:
        """Flat on block and hexagon, else by its thread."""
        return "sleeve face" if horizontal or other == "block" else "sleeve thread"


@dataclass(frozen=True)
class Wrap:
    """Insulation of one `thickness` [m]: a boot on the block (side and lower face), a wrap on the exposed nozzle, or both.

    Between block and boot there may be a `gap` [m] of still air. It counts by its resistance and as what the boot's side is
    larger by; in the section the boot lies on the block.
    """

    thickness: float = 1.5e-3
    covers: tuple[WrapPlace, ...] = ("block", "nozzle")
    gap: float | None = None

    def __post_init__(self) -> None:
        require_length("wrap.thickness", self.thickness, least=1e-5)
        if not self.covers or not set(self.covers) <= {"block", "nozzle"}:
            raise GeometryError(
                "wrap.covers", self.covers, 'a list of "block", "nozzle" or both', "Leave [wrap] out for none."
            )

        if self.gap is not None and not ("block" in self.covers and 0.0 <= self.gap <= STILL):
            raise GeometryError(
                "wrap.gap",
                self.gap,
                'at most {still:g}, with "block" in wrap.covers',
                "In a wider gap the air does not stay still.",
                still=STILL,
            )

    @property
    def reach(self) -> float:
        """How far the boot stands out from the block [m]."""
        return self.thickness + (self.gap or 0.0)

    def check(self, nozzle: Nozzle) -> None:
        """Raises GeometryError where ridges of the `nozzle` stand out of it."""
        ridge = nozzle.thread.crest_radius - nozzle.thread.pitch_radius
        if nozzle.exposed_thread == "rings" and "nozzle" in self.covers and self.thickness < ridge + 0.02e-3:
            raise GeometryError(
                "wrap.thickness",
                self.thickness,
                "more than the thread's ridges of {ridge:.3g}, where they are resolved as rings",
                'A thin tape goes with nozzle.exposed_thread = "smooth".',
                ridge=ridge,
            )
