"""The divided length of a nozzle: round holes on a ring, webs of the nozzle's metal between them; all lengths in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass

from meltzone.geometry.errors import GeometryError
from meltzone.geometry.lengths import require_length

THINNEST_WEB = 0.05e-3  # what a drill leaves standing between two holes [m]
NARROWEST = 0.1e-3  # the finest hole drilled through a nozzle: common practice, no source [m]
FINEST = 200.0  # rings wider than this many holes are not made, nor could a mesh of the whole ring hold a hole [-]
MOST = 12


@dataclass(frozen=True)
class Channels:
    """`number` round holes of `hole_diameter` over `length`, from `position` below the nozzle's upper face; lengths in [m].

    Their centres lie on a ring of `ring_diameter`; without it the holes touch the bore's circle from inside.
    """

    number: int = 3
    hole_diameter: float = 0.8e-3
    length: float = 5.0e-3
    position: float = 4.0e-3
    ring_diameter: float | None = None

    def __post_init__(self) -> None:
        if not 2 <= self.number <= MOST:
            raise GeometryError(
                "channels.number", self.number, f"from 2 to {MOST} holes", "Leave [channels] out for a plain bore."
            )
        for name in ("hole_diameter", "length", "position"):
            require_length(f"channels.{name}", getattr(self, name))
        if self.ring_diameter is not None:
            require_length("channels.ring_diameter", self.ring_diameter)

    @property
    def hole_radius(self) -> float:
        """Radius of a hole [m]."""
        return self.hole_diameter / 2.0

    def ring_radius(self, bore: float) -> float:
        """Radius of the circle of the holes' centres in a nozzle whose bore is `bore` [m]."""
        return (bore - self.hole_diameter if self.ring_diameter is None else self.ring_diameter) / 2.0

    def open_share(self, bore: float) -> float:
        """Section of all holes over that of the `bore` [-]."""
        return self.number * (self.hole_diameter / bore) ** 2

    def check_ring(self, bore: float, metal: float) -> None:
        """Raises GeometryError where holes are too fine, run into one another or leave the `metal`, a radius [m]."""
        ring = self.ring_radius(bore)
        least = max(NARROWEST, 2.0 * ring / FINEST)
        if self.hole_diameter < least:
            raise GeometryError(
                "channels.hole_diameter",
                self.hole_diameter,
                "at least {least:.3g} on a ring of {ring_diameter:.3g}",
                "A finer hole is not drilled.",
                least=least,
                ring_diameter=2.0 * ring,
            )
        web = 2.0 * ring * math.sin(math.pi / self.number) - self.hole_diameter
        if web < THINNEST_WEB:
            raise GeometryError(
                "channels.hole_diameter",
                self.hole_diameter,
                f"small enough to leave webs of {{thinnest_web:g}} between {self.number} holes on a ring of "
                "{ring_diameter:.3g}",
                "Take smaller or fewer holes, or a wider channels.ring_diameter.",
                thinnest_web=THINNEST_WEB,
                ring_diameter=2.0 * ring,
            )
        if ring + self.hole_radius > metal:
            raise GeometryError(
                "channels.ring_diameter",
                2.0 * ring,
                "the holes within {metal_diameter:.3g} of the nozzle's metal",
                "A narrower ring, or smaller holes.",
                metal_diameter=2.0 * metal,
            )
