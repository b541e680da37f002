"""What a feeder grips by where a case does not say, and where it would stop."""

from __future__ import annotations

from dataclasses import dataclass

USUAL_GRIP = 72.0  # order of magnitude, some 30 MPa on this filament: Mackay 2018, doi 10.1122/1.5037687 [N]
USUAL_GRIPS = (50.0, 100.0)  # common practice, no source [N]


@dataclass(frozen=True)
class UsualStall:
    """The `flow` at which pushing takes `USUAL_GRIP`, and its range from `low` to `high` [m3/s]."""

    flow: float
    low: float
    high: float
