"""The heat break above the nozzle; all lengths in metres."""

from __future__ import annotations

from dataclasses import dataclass

from meltzone.geometry.errors import GeometryError
from meltzone.geometry.lengths import require_length


@dataclass(frozen=True)
class HeatBreak:
    """Heat break above the nozzle: threaded into the block, a thin neck, then a cooled length; lengths in [m].

    Its bore meets the nozzle's at the joint; the filament runs in an air gap above the block. `soldered` is without a joint to
    the nozzle, as of one piece with it.
    """

    bore: float = 2.0e-3
    neck_diameter: float = 3.0e-3
    neck_length: float = 2.0e-3
    cooled_length: float = 5.0e-3
    soldered: bool = False

    def __post_init__(self) -> None:
        for field in ("bore", "neck_diameter", "neck_length", "cooled_length"):
            require_length(f"heat_break.{field}", getattr(self, field))
        if self.neck_diameter - self.bore < 0.1e-3:
            raise GeometryError(
                "heat_break.neck_diameter",
                self.neck_diameter,
                "at least {least:g} above the bore of {bore:g}",
                "The neck's wall is half the difference.",
                bore=self.bore,
                least=0.1e-3,
            )
