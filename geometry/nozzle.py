"""The nozzle, inside and outside; all lengths in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from meltzone.geometry.errors import AngleSize, GeometryError
from meltzone.geometry.lengths import require_length
from meltzone.geometry.passage import SLANT, Corner, PassageWall, require_step, shoulder
from meltzone.geometry.thread import MetricThread

LEAST_CONE, MOST_CONE = AngleSize(math.radians(10.0)), AngleSize(math.radians(150.0))
M6 = MetricThread(diameter=6e-3, pitch=1e-3)


@dataclass(frozen=True)
class Nozzle:
    """Nozzle from its face (z = 0) upwards: land, cone, bore; outside: cone, hexagon, thread.

    `length` is over all, `exposed` what stands below the block, both [m]. `cone_angle` is the full angle of the inner
    cone [rad]. The bore may have a lower part of the diameter `lower_bore`, as long as `lower_bore_length` above the
    inner cone, into which the upper one passes over `taper_length` [m], or by a step where that is None.
    `exposed_thread` says how an exposed thread is modelled: "smooth" is its pitch cylinder with an area factor, "rings"
    resolves the profile as rings.
    """

    length: float = 12.5e-3
    exposed: float = 5.0e-3
    bore: float = 2.0e-3
    orifice: float = 0.4e-3
    land: float = 0.6e-3
    cone_angle: float = math.radians(60.0)
    thread: MetricThread = M6
    hexagon: float = 7.0e-3
    hexagon_height: float = 2.5e-3
    tip_diameter: float = 1.0e-3
    tip_cone_height: float = 2.0e-3
    lower_bore: float | None = None
    lower_bore_length: float | None = None
    taper_length: float | None = None
    exposed_thread: Literal["smooth", "rings"] = "smooth"

    def __post_init__(self) -> None:
        for field in ("length", "exposed", "bore", "orifice", "land", "hexagon", "hexagon_height", "tip_diameter"):
            require_length(f"nozzle.{field}", getattr(self, field))
        require_length("nozzle.tip_cone_height", self.tip_cone_height)
        if not LEAST_CONE <= self.cone_angle <= MOST_CONE:
            raise GeometryError(
                "nozzle.cone_angle",
                self.cone_angle,
                "{least:g} to {most:g}",
                "Give the full angle, {usual:g} is usual.",
                least=LEAST_CONE,
                most=MOST_CONE,
                usual=AngleSize(math.radians(60.0)),
            )
        self._check_lower_bore()
        if self.orifice >= self.cone_bore:
            raise GeometryError(
                "nozzle.orifice",
                self.orifice,
                "smaller than the bore above it, {cone_bore:g}",
                "An orifice is {finest:bare g} to {widest:g} as a rule.",
                cone_bore=self.cone_bore,
                finest=0.2e-3,
                widest=1.2e-3,
            )
        if self.tip_diameter <= self.orifice:
            raise GeometryError(
                "nozzle.tip_diameter",
                self.tip_diameter,
                "larger than the orifice, {orifice:g}",
                "It is the flat face around the orifice.",
                orifice=self.orifice,
            )
        self._check_lengths()
        self._check_walls()

    def _check_lower_bore(self) -> None:
        for field in ("lower_bore_length", "taper_length"):
            value = getattr(self, field)
            if value is not None:
                require_length(f"nozzle.{field}", value)
                if self.lower_bore is None:
                    raise GeometryError(
                        f"nozzle.{field}", value, "nozzle.lower_bore beside it", "A plain bore has no lower part."
                    )
        if self.lower_bore is not None:
            require_length("nozzle.lower_bore", self.lower_bore)
            if self.lower_bore_length is None:
                raise GeometryError(
                    "nozzle.lower_bore",
                    self.lower_bore,
                    "nozzle.lower_bore_length beside it",
                    "Say how far the lower part reaches above the inner cone.",
                )
            if self.taper_length is None:
                require_step("nozzle.lower_bore", self.lower_bore, self.bore)

    def _check_lengths(self) -> None:
        if self.exposed >= self.length:
            raise GeometryError(
                "nozzle.exposed",
                self.exposed,
                "less than the nozzle's length, {length:g}",
                "It is the part below the block.",
                length=self.length,
            )
        head = self.tip_cone_height + self.hexagon_height
        if head > self.exposed + 1e-9:
            raise GeometryError(
                "nozzle.exposed",
                self.exposed,
                "at least tip cone and hexagon together, {head:g}",
                "Lower nozzle.hexagon_height or nozzle.tip_cone_height if the nozzle really is that short.",
                head=head,
            )
        if self.land + self.inner_cone_height > self.exposed:
            raise GeometryError(
                "nozzle.land",
                self.land,
                "land and inner cone together within the exposed length, {exposed:g}",
                "A steeper nozzle.cone_angle shortens the cone.",
                exposed=self.exposed,
            )
        corners = self.passage
        if any(upper[0] < lower[0] for lower, upper in pairwise(corners)):
            raise GeometryError(
                "nozzle.lower_bore_length",
                self.lower_bore_length,
                "room for the lower bore and for the step or taper between land and cone below and the nozzle's upper face",
                "A step has a shoulder of {slant:long g} within the wider part.",
                slant=SLANT,
            )

    def _check_walls(self) -> None:
        for field in ("bore", "lower_bore"):
            bore = getattr(self, field)
            if bore is not None and bore / 2.0 >= self.thread.root_radius - 0.1e-3:
                raise GeometryError(
                    f"nozzle.{field}",
                    bore,
                    "a wall of {least:g} left under the thread's root of {root_diameter:.3g} diameter",
                    "A wider bore needs a larger thread.",
                    root_diameter=2.0 * self.thread.root_radius,
                    least=0.1e-3,
                )
        if self.hexagon_radius <= self.thread.crest_radius:
            raise GeometryError(
                "nozzle.hexagon",
                self.hexagon,
                "wider than the thread of {diameter:g}",
                "Give the width across the flats.",
                diameter=self.thread.diameter,
            )
        if self.tip_diameter / 2.0 >= self.hexagon_radius:
            raise GeometryError(
                "nozzle.tip_diameter",
                self.tip_diameter,
                "less than the hexagon's {hexagon_diameter:.3g}",
                "It is the flat face around the orifice.",
                hexagon_diameter=2.0 * self.hexagon_radius,
            )
        wall = PassageWall.through(self.passage)
        for z in (self.land, self.cone_top, self.tip_cone_height):
            if self.outer_radius(z) - wall.radius(z) < 0.05e-3:
                raise GeometryError(
                    "nozzle.tip_cone_height",
                    self.tip_cone_height,
                    "a wall of at least {least:g} between the inner and the outer cone",
                    "Shorten the land or the tip cone, or widen nozzle.tip_diameter.",
                    least=0.05e-3,
                )

    @property
    def cone_bore(self) -> float:
        """Diameter of the bore just above the inner cone [m]."""
        return self.bore if self.lower_bore is None else self.lower_bore

    @property
    def inner_cone_height(self) -> float:
        """Axial length of the inner cone [m]."""
        return (self.cone_bore - self.orifice) / 2.0 / math.tan(self.cone_angle / 2.0)

    @property
    def cone_top(self) -> float:
        """Level of the inner cone's upper end, z [m]."""
        return self.land + self.inner_cone_height

    @property
    def passage(self) -> list[Corner]:
        """Corners of the passage's wall from the orifice to the nozzle's upper face, (level, radius) [m]."""
        orifice, upper = self.orifice / 2.0, self.bore / 2.0
        corners = [(0.0, orifice), (self.land, orifice), (self.cone_top, self.cone_bore / 2.0)]
        if self.lower_bore is not None and self.lower_bore_length is not None:
            lower, end = self.lower_bore / 2.0, self.cone_top + self.lower_bore_length
            if self.taper_length is None:
                corners += shoulder(end, lower, upper)
            else:
                corners += [(end, lower), (end + self.taper_length, upper)]
        return [*corners, (self.length, upper)]

    @property
    def hexagon_radius(self) -> float:
        """Radius of the circle with the hexagon's area [m]."""
        return self.hexagon * math.sqrt(math.sqrt(3.0) / 2.0 / math.pi)

    @property
    def hexagon_area_ratio(self) -> float:
        """Lateral area of the hexagon over that of its equal-area cylinder [-]."""
        return math.sqrt(3.0) * self.hexagon / (math.pi * self.hexagon_radius)

    @property
    def shoulder(self) -> float:
        """Level of the hexagon's upper face, z [m]."""
        return self.tip_cone_height + self.hexagon_height

    def outer_radius(self, z: float) -> float:
        """Radius of the metal below the shoulder at height `z` above the face [m]."""
        share = min(z / self.tip_cone_height, 1.0)
        return self.tip_diameter / 2.0 + share * (self.hexagon_radius - self.tip_diameter / 2.0)
