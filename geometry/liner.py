"""The liner in the heat break that guides the filament; all lengths in metres."""

from __future__ import annotations

from dataclasses import dataclass

from meltzone.geometry.errors import GeometryError
from meltzone.geometry.lengths import LARGEST, require_length


@dataclass(frozen=True)
class Liner:
    """A tube in a counterbore of the heat break, from its upper end down to `end` below the block's upper face.

    `end` [m] None reaches down to the nozzle; below zero it ends above the block. Where it ends the heat break's own bore
    follows.
    """

    inner_diameter: float = 2.0e-3
    outer_diameter: float = 4.0e-3
    end: float | None = None

    def __post_init__(self) -> None:
        for field in ("inner_diameter", "outer_diameter"):
            require_length(f"liner.{field}", getattr(self, field))
        if self.outer_diameter - self.inner_diameter < 0.1e-3:
            raise GeometryError(
                "liner.outer_diameter",
                self.outer_diameter,
                "at least {least:g} above the inner diameter of {inner_diameter:g}",
                "The liner's wall is half the difference.",
                inner_diameter=self.inner_diameter,
                least=0.1e-3,
            )
        if self.end is not None and not abs(self.end) <= LARGEST:
            raise GeometryError(
                "liner.end",
                self.end,
                "at most {largest:g} either way",
                "Check the number and its unit.",
                largest=LARGEST,
            )
