"""The parts of a hot end as frozen dataclasses that check themselves; all lengths in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from meltzone.geometry.errors import GeometryError
from meltzone.geometry.thread import MetricThread

LARGEST = 0.5  # a hot end has no dimension above half a metre: a larger number is a slip of the unit

M6 = MetricThread(diameter=6e-3, pitch=1e-3)

WrapPlace = Literal["block", "nozzle"]


def _require_length(key: str, value: float, least: float = 1e-6) -> None:
    if not (math.isfinite(value) and least <= value <= LARGEST):
        raise GeometryError(
            key, value, f"a length from {1e3 * least:g} mm to {1e3 * LARGEST:g} mm", "Check the number and its unit."
        )


@dataclass(frozen=True)
class Filament:
    """The solid filament as fed: `diameter` [m]."""

    diameter: float = 1.75e-3

    def __post_init__(self) -> None:
        _require_length("polymer.filament_diameter", self.diameter)


@dataclass(frozen=True)
class Block:
    """The rectangular heater block, `width` x `depth` in plan and `height` along the axis [m].

    The heater is a ring at `heater_radius` of thickness `heater_width`, over the whole height; the sensor
    point lies at `sensor_radius` from the axis and `sensor_height` above the lower face.
    """

    width: float = 23e-3
    depth: float = 16e-3
    height: float = 11.5e-3
    heater_radius: float = 8.0e-3
    heater_width: float = 3.0e-3
    sensor_radius: float = 5.5e-3
    sensor_height: float | None = None

    def __post_init__(self) -> None:
        for field in ("width", "depth", "height", "heater_radius", "heater_width", "sensor_radius"):
            _require_length(f"block.{field}", getattr(self, field))
        if self.heater_outer > self.radius + 1e-9:
            raise GeometryError(
                "block.heater_radius",
                self.heater_radius,
                f"the heater ring inside the block's equivalent disc of radius {1e3 * self.radius:.3g} mm",
                "Move the heater inwards or make it thinner.",
            )
        if not 0.0 <= self.sensor_level <= self.height:
            raise GeometryError(
                "block.sensor_height",
                self.sensor_level,
                f"from 0 to the block's height, {1e3 * self.height:g} mm",
                "It counts from the block's lower face.",
            )
        if self.sensor_radius > self.radius:
            raise GeometryError(
                "block.sensor_radius",
                self.sensor_radius,
                f"inside the block's equivalent disc of radius {1e3 * self.radius:.3g} mm",
                "Move the sensor inwards.",
            )

    @property
    def radius(self) -> float:
        """Radius of the disc of the same height and volume [m]."""
        return math.sqrt(self.width * self.depth / math.pi)

    @property
    def side_area_ratio(self) -> float:
        """True lateral area of the box over that of the disc [-]."""
        return (self.width + self.depth) / (math.pi * self.radius)

    @property
    def heater_inner(self) -> float:
        """Inner radius of the heater ring [m]."""
        return self.heater_radius - self.heater_width / 2.0

    @property
    def heater_outer(self) -> float:
        """Outer radius of the heater ring [m]."""
        return self.heater_radius + self.heater_width / 2.0

    @property
    def sensor_level(self) -> float:
        """Height of the sensor above the block's lower face [m]; the middle unless given."""
        return self.height / 2.0 if self.sensor_height is None else self.sensor_height


@dataclass(frozen=True)
class Nozzle:
    """Nozzle from its face (z = 0) upwards: land, cone, bore; outside: cone, hexagon, thread.

    `length` is over all, `exposed` what stands below the block, both [m]. `cone_angle` is the full angle of the inner
    cone [rad]. `exposed_thread` says how an exposed thread is modelled: "smooth" is its pitch cylinder with an
    area factor, "rings" resolves the profile as rings.
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
    exposed_thread: Literal["smooth", "rings"] = "smooth"

    def __post_init__(self) -> None:
        for field in ("length", "exposed", "bore", "orifice", "land", "hexagon", "hexagon_height", "tip_diameter"):
            _require_length(f"nozzle.{field}", getattr(self, field))
        _require_length("nozzle.tip_cone_height", self.tip_cone_height)
        if not math.radians(10.0) <= self.cone_angle <= math.radians(150.0):
            raise GeometryError(
                "nozzle.cone_angle", self.cone_angle, "10 deg to 150 deg", "Give the full angle, 60 deg is usual."
            )
        if self.orifice >= self.bore:
            raise GeometryError(
                "nozzle.orifice",
                self.orifice,
                f"smaller than the bore, {1e3 * self.bore:g} mm",
                "An orifice is 0.2 to 1.2 mm as a rule.",
            )
        if self.tip_diameter <= self.orifice:
            raise GeometryError(
                "nozzle.tip_diameter",
                self.tip_diameter,
                f"larger than the orifice, {1e3 * self.orifice:g} mm",
                "It is the flat face around the orifice.",
            )
        self._check_lengths()
        self._check_walls()

    def _check_lengths(self) -> None:
        if self.exposed >= self.length:
            raise GeometryError(
                "nozzle.exposed",
                self.exposed,
                f"less than the nozzle's length, {1e3 * self.length:g} mm",
                "It is the part below the block.",
            )
        head = self.tip_cone_height + self.hexagon_height
        if head > self.exposed + 1e-9:
            raise GeometryError(
                "nozzle.exposed",
                self.exposed,
                f"at least tip cone and hexagon together, {1e3 * head:g} mm",
                "Lower nozzle.hexagon_height or nozzle.tip_cone_height if the nozzle really is that short.",
            )
        if self.land + self.inner_cone_height > self.exposed:
            raise GeometryError(
                "nozzle.land",
                self.land,
                f"land and inner cone together within the exposed length, {1e3 * self.exposed:g} mm",
                "A steeper nozzle.cone_angle shortens the cone.",
            )

    def _check_walls(self) -> None:
        if self.bore / 2.0 >= self.thread.root_radius - 0.1e-3:
            raise GeometryError(
                "nozzle.bore",
                self.bore,
                f"a wall of 0.1 mm left under the thread's root of {2e3 * self.thread.root_radius:.3g} mm diameter",
                "A wider bore needs a larger thread.",
            )
        if self.hexagon_radius <= self.thread.crest_radius:
            raise GeometryError(
                "nozzle.hexagon",
                self.hexagon,
                f"wider than the thread of {1e3 * self.thread.diameter:g} mm",
                "Give the width across the flats.",
            )
        if self.tip_diameter / 2.0 >= self.hexagon_radius:
            raise GeometryError(
                "nozzle.tip_diameter",
                self.tip_diameter,
                f"less than the hexagon's {2e3 * self.hexagon_radius:.3g} mm",
                "It is the flat face around the orifice.",
            )
        for z in (self.land, self.land + self.inner_cone_height, self.tip_cone_height):
            if self.outer_radius(z) - self.inner_radius(z) < 0.05e-3:
                raise GeometryError(
                    "nozzle.tip_cone_height",
                    self.tip_cone_height,
                    "a wall of at least 0.05 mm between the inner and the outer cone",
                    "Shorten the land or the tip cone, or widen nozzle.tip_diameter.",
                )

    @property
    def inner_cone_height(self) -> float:
        """Axial length of the inner cone [m]."""
        return (self.bore - self.orifice) / 2.0 / math.tan(self.cone_angle / 2.0)

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

    def inner_radius(self, z: ArrayLike) -> np.ndarray:
        """Radius of the passage at heights `z` above the face [m], any shape, kept."""
        cone = self.orifice / 2.0 + (np.asarray(z) - self.land) * math.tan(self.cone_angle / 2.0)
        return np.clip(cone, self.orifice / 2.0, self.bore / 2.0)

    def outer_radius(self, z: float) -> float:
        """Radius of the metal below the shoulder at height `z` above the face [m]."""
        share = min(z / self.tip_cone_height, 1.0)
        return self.tip_diameter / 2.0 + share * (self.hexagon_radius - self.tip_diameter / 2.0)


@dataclass(frozen=True)
class Sleeve:
    """A threaded sleeve (or stacked nuts) on the exposed thread, tight against the block; lengths in [m].

    `width` is across the flats of a hexagon, or the diameter where `round` is set.
    """

    height: float = 8.5e-3
    width: float = 10.0e-3
    round: bool = False

    def __post_init__(self) -> None:
        _require_length("sleeve.height", self.height)
        _require_length("sleeve.width", self.width)

    @property
    def radius(self) -> float:
        """Radius of the circle of the same area [m]."""
        return self.width / 2.0 if self.round else self.width * math.sqrt(math.sqrt(3.0) / 2.0 / math.pi)

    @property
    def side_area_ratio(self) -> float:
        """True lateral area over that of the cylinder [-]."""
        return 1.0 if self.round else math.sqrt(3.0) * self.width / (math.pi * self.radius)


@dataclass(frozen=True)
class Wrap:
    """Insulation of one `thickness` [m]: a boot on the block (side and lower face), a wrap on the exposed nozzle, or both."""

    thickness: float = 1.5e-3
    covers: tuple[WrapPlace, ...] = ("block", "nozzle")

    def __post_init__(self) -> None:
        _require_length("wrap.thickness", self.thickness, least=1e-5)
        if not self.covers or not set(self.covers) <= {"block", "nozzle"}:
            raise GeometryError(
                "wrap.covers", self.covers, 'a list of "block", "nozzle" or both', "Leave [wrap] out for none."
            )


@dataclass(frozen=True)
class HeatBreak:
    """Heat break above the nozzle: threaded into the block, a thin neck, then a cooled length; lengths in [m].

    Its bore meets the nozzle's at the joint; the filament runs in an air gap above the block.
    """

    bore: float = 2.0e-3
    neck_diameter: float = 3.0e-3
    neck_length: float = 2.0e-3
    cooled_length: float = 5.0e-3

    def __post_init__(self) -> None:
        for field in ("bore", "neck_diameter", "neck_length", "cooled_length"):
            _require_length(f"heat_break.{field}", getattr(self, field))
        if self.neck_diameter - self.bore < 0.1e-3:
            raise GeometryError(
                "heat_break.neck_diameter",
                self.neck_diameter,
                f"at least 0.1 mm above the bore of {1e3 * self.bore:g} mm",
                "The neck's wall is half the difference.",
            )


@dataclass(frozen=True)
class Arrangement:
    """A whole hot end: which parts, and how they fit; raises GeometryError where they do not."""

    block: Block = Block()
    nozzle: Nozzle = Nozzle()
    heat_break: HeatBreak = HeatBreak()
    filament: Filament = Filament()
    sleeve: Sleeve | None = None
    wrap: Wrap | None = None

    def __post_init__(self) -> None:
        self._check_bores()
        self._check_stack()
        if self.sleeve is not None:
            self._check_sleeve(self.sleeve)
        if self.wrap is not None:
            self._check_wrap(self.wrap)

    def _check_bores(self) -> None:
        if abs(self.heat_break.bore - self.nozzle.bore) > 1e-9:
            raise GeometryError(
                "heat_break.bore",
                self.heat_break.bore,
                f"the nozzle's bore, {1e3 * self.nozzle.bore:g} mm",
                "Stepped bores are not modelled.",
            )
        if self.filament.diameter >= self.nozzle.bore - 0.02e-3:
            raise GeometryError(
                "polymer.filament_diameter",
                self.filament.diameter,
                f"at least 0.02 mm below the bore of {1e3 * self.nozzle.bore:g} mm",
                "2.85 mm filament needs a bore of about 3.2 mm.",
            )
        if self.heat_break.neck_diameter / 2.0 >= self.nozzle.thread.root_radius:
            raise GeometryError(
                "heat_break.neck_diameter",
                self.heat_break.neck_diameter,
                f"below the thread's root of {2e3 * self.nozzle.thread.root_radius:.3g} mm",
                "The neck is thinner than the thread above and below it.",
            )

    def _check_stack(self) -> None:
        if self.engaged < 0.5e-3:
            raise GeometryError(
                "nozzle.exposed",
                self.nozzle.exposed,
                f"at least 0.5 mm of the block's height of {1e3 * self.block.height:g} mm left for the heat break above "
                f"the nozzle's {1e3 * (self.nozzle.length - self.nozzle.exposed):g} mm",
                "Raise nozzle.exposed, shorten nozzle.length or take a taller block.",
            )
        for name, radius in (("heater_radius", self.block.heater_inner), ("sensor_radius", self.block.sensor_radius)):
            if radius < self.nozzle.thread.crest_radius:
                raise GeometryError(
                    f"block.{name}",
                    getattr(self.block, name),
                    f"outside the nozzle's thread of radius {1e3 * self.nozzle.thread.crest_radius:g} mm",
                    "Heater ring and sensor sit in the block itself.",
                )

    def _check_sleeve(self, sleeve: Sleeve) -> None:
        room = self.nozzle.exposed - self.nozzle.shoulder
        if sleeve.height > room + 1e-9:
            raise GeometryError(
                "sleeve.height",
                sleeve.height,
                f"at most the exposed thread between block and hexagon, {1e3 * room:.4g} mm",
                "A longer nozzle (nozzle.length and nozzle.exposed) gives it room.",
            )
        if sleeve.radius <= self.nozzle.thread.crest_radius:
            raise GeometryError(
                "sleeve.width",
                sleeve.width,
                f"wider than the thread of {1e3 * self.nozzle.thread.diameter:g} mm",
                "Give the width across the flats.",
            )

    def _check_wrap(self, wrap: Wrap) -> None:
        ridge = self.nozzle.thread.crest_radius - self.nozzle.thread.pitch_radius
        if self.nozzle.exposed_thread == "rings" and "nozzle" in wrap.covers and wrap.thickness < ridge + 0.02e-3:
            raise GeometryError(
                "wrap.thickness",
                wrap.thickness,
                f"more than the thread's ridges of {1e3 * ridge:.3g} mm, where they are resolved as rings",
                'A thin tape goes with nozzle.exposed_thread = "smooth".',
            )

    @property
    def block_bottom(self) -> float:
        """Level of the block's lower face, z [m]."""
        return self.nozzle.exposed

    @property
    def block_top(self) -> float:
        """Level of the block's upper face, z [m]."""
        return self.nozzle.exposed + self.block.height

    @property
    def joint(self) -> float:
        """Level where nozzle and heat break meet, z [m]."""
        return self.nozzle.length

    @property
    def engaged(self) -> float:
        """Length of the heat break inside the block [m]."""
        return self.block_top - self.joint

    @property
    def top(self) -> float:
        """Level of the upper end of the modelled heat break, z [m]."""
        return self.block_top + self.heat_break.neck_length + self.heat_break.cooled_length
