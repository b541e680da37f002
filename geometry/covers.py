"""What is put around the exposed nozzle and the block: sleeve and insulation; all lengths in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from meltzone.geometry.errors import GeometryError
from meltzone.geometry.lengths import require_length

WrapPlace = Literal["block", "nozzle"]


@dataclass(frozen=True)
class Sleeve:
    """A threaded sleeve (or stacked nuts) on the exposed thread, tight against the block; lengths in [m].

    `width` is across the flats of a hexagon, or the diameter where `round` is set.
    """

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


@dataclass(frozen=True)
class Wrap:
    """Insulation of one `thickness` [m]: a boot on the block (side and lower face), a wrap on the exposed nozzle, or both."""

    thickness: float = 1.5e-3
    covers: tuple[WrapPlace, ...] = ("block", "nozzle")

    def __post_init__(self) -> None:
        require_length("wrap.thickness", self.thickness, least=1e-5)
        if not self.covers or not set(self.covers) <= {"block", "nozzle"}:
            raise GeometryError(
                "wrap.covers", self.covers, 'a list of "block", "nozzle" or both', "Leave [wrap] out for none."
            )
