"""The heater block with its heater and sensor, and a second one above it; all lengths in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from meltzone.geometry.errors import GeometryError
from meltzone.geometry.lengths import require_length


@dataclass(frozen=True)
class Box:
    """A rectangular block, `width` x `depth` in plan and `height` along the axis [m], modelled as a disc.

    Where `round` is set it is one, `width` being its diameter; its depth does not count then.
    """

    width: float = 23e-3
    depth: float = 16e-3
    height: float = 11.5e-3
    round: bool = field(default=False, kw_only=True)

    @property
    def radius(self) -> float:
        """Radius of the disc of the same height and volume [m]."""
        return self.width / 2.0 if self.round else math.sqrt(self.width * self.depth / math.pi)

    @property
    def area(self) -> float:
        """In plan [m2]."""
        return self.area_over(0.0)

    @property
    def perimeter(self) -> float:
        """In plan [m]."""
        return self.perimeter_over(0.0)

    @property
    def side_area_ratio(self) -> float:
        """True lateral area of the block over that of the disc [-]."""
        return 1.0 if self.round else (self.width + self.depth) / (math.pi * self.radius)

    def area_over(self, skin: float) -> float:
        """In plan, with a `skin` of even thickness around it [m]; [m2]."""
        if self.round:
            return math.pi * (self.radius + skin) ** 2
        return (self.width + 2.0 * skin) * (self.depth + 2.0 * skin)

    def perimeter_over(self, skin: float) -> float:
        """Of the same [m]."""
        return 2.0 * math.pi * (self.radius + skin) if self.round else 2.0 * (self.width + self.depth) + 8.0 * skin


@dataclass(frozen=True)
class SecondBlock(Box):
    """A block that sits on the heater block, the heat break's thread running through it too; its heater ring is the first's."""

    def __post_init__(self) -> None:
        for name in ("width", "depth", "height"):
            require_length(f"second_block.{name}", getattr(self, name))

    def check(self, below: Block) -> None:
        """Raises GeometryError unless the heater ring of the block `below` goes on in it."""
        if below.heater_length is not None:
            raise GeometryError(
                "block.heater_length",
                below.heater_length,
                "none with a second block, whose heater goes on from the first",
                "Leave it out.",
            )
        if self.radius < below.heater_outer - 1e-9:
            raise GeometryError(
                "second_block.width",
                self.width,
                "with its depth an equivalent disc around the heater ring's outer radius of "
                "{heater_outer:.4g}, not of {radius:.4g}",
                "Both blocks have the same heater ring, heater.ring_radius and heater.ring_width.",
                heater_outer=below.heater_outer,
                radius=self.radius,
            )


@dataclass(frozen=True)
class Block(Box):
    """The heater block.

    The heater is a ring at `heater_radius` of thickness `heater_width`, over the whole height of all blocks, or over its
    `heater_length` from `heater_begin` above the lower face on; the sensor point lies at `sensor_radius` from the axis and
    `sensor_height` above the lower face; all [m].
    """

    heater_radius: float = 8.0e-3
    heater_width: float = 3.0e-3
    sensor_radius: float = 5.5e-3
    sensor_height: float | None = None
    heater_length: float | None = None
    heater_begin: float | None = None

    def __post_init__(self) -> None:
        for name in ("width", "depth", "height", "heater_radius", "heater_width", "sensor_radius"):
            require_length(f"block.{name}", getattr(self, name))
        if self.heater_outer > self.radius + 1e-9:
            raise GeometryError(
                "block.heater_radius",
                self.heater_radius,
                "the heater ring inside the block's equivalent disc of radius {radius:.3g}",
                "Move the heater inwards or make it thinner.",
                radius=self.radius,
            )
        self._check_heater()
        if not 0.0 <= self.sensor_level <= self.height:
            raise GeometryError(
                "block.sensor_height",
                self.sensor_level,
                "from 0 to the block's height, {height:g}",
                "It counts from the block's lower face.",
                height=self.height,
            )
        if self.sensor_radius > self.radius:
            raise GeometryError(
                "block.sensor_radius",
                self.sensor_radius,
                "inside the block's equivalent disc of radius {radius:.3g}",
                "Move the sensor inwards.",
                radius=self.radius,
            )

    def _check_heater(self) -> None:
        if self.heater_begin is not None and self.heater_length is None:
            raise GeometryError(
                "block.heater_begin", self.heater_begin, "block.heater_length beside it", "Say how long the heater is."
            )
        if self.heater_length is None:
            return
        require_length("block.heater_length", self.heater_length)
        if self.heater_base < 0.0 or self.heater_base + self.heater_length > self.height + 1e-9:
            raise GeometryError(
                "block.heater_length",
                self.heater_length,
                "with its beginning within the block's height of {height:g}",
                "It is the ring's length along the axis.",
                height=self.height,
            )

    @property
    def heater_base(self) -> float:
        """Where the heater begins above the lower face [m]; a heater of a given length sits in the middle unless told."""
        if self.heater_begin is not None:
            return self.heater_begin
        return 0.0 if self.heater_length is None else (self.height - self.heater_length) / 2.0

    def heater_levels(self, bottom: float, top: float) -> tuple[float, float]:
        """Lower and upper end of the ring, of a heater without a length those of all blocks, from `bottom` to `top` [m]."""
        lower = bottom + self.heater_base
        return lower, top if self.heater_length is None else lower + self.heater_length

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
class SecondHeater:
    """A second cartridge in the block: a ring as the first's, with its keys; lengths in [m].

    It reaches through the block, or over its `ring_length` from `ring_begin` above the lower face on, in the middle unless
    told. Where both rings lie in one place they are one.
    """

    ring_radius: float = 8.0e-3
    ring_width: float = 3.0e-3
    ring_length: float | None = None
    ring_begin: float | None = None

    def check(self, block: Block, above: SecondBlock | None, crest_radius: float) -> None:
        """Raises GeometryError unless it fits into the `block`, outside the thread's `crest_radius` [m], with none `above`."""
        if above is not None:
            expected = "none with a second block, which takes a share of the first heater's power"
            raise GeometryError("second_heater", self.ring_radius, expected, "Leave one of them out.")
        if self.placed(block).heater_inner < crest_radius:
            raise GeometryError(
                "second_heater.ring_radius",
                self.ring_radius,
                "outside the nozzle's thread of radius {crest_radius:g}",
                "Heater rings sit in the block itself.",
                crest_radius=crest_radius,
            )

    def placed(self, block: Block) -> Block:
        """The `block` with this heater in the place of its own; raises GeometryError where it does not fit there."""
        ring = {f"heater_{name.removeprefix('ring_')}": size for name, size in vars(self).items()}
        try:
            return replace(block, **ring)
        except GeometryError as error:
            key, expected = (
                words.replace("block.heater_", "second_heater.ring_") for words in (error.key, error.expected)
            )
            raise GeometryError(key, error.value, expected, error.hint, **error.sizes) from error


class Stacked(NamedTuple):
    """A block as `part` of the section, between the levels `bottom` and `top` [m]."""

    part: str
    box: Box
    bottom: float
    top: float
