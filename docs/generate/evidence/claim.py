"""What the model cannot do, in the sentence that stands beside its claim; numbers as the shipped data file has them."""

from __future__ import annotations

import math

from meltzone.cases.studies.bands.compared import Compared, evidence

FILE, ORIFICE = "pla-lengths", 0.4  # the second-hand lengths, and the orifice [mm]


def length_gain() -> tuple[float, float, float]:
    """Measured gain from the longer melt zone, its standard uncertainty, and the predicted gain [%]."""
    row, base = lengths_of_gain()
    ratio = row.measured / base.measured
    spread = math.hypot(row.uncertainty, base.uncertainty) * ratio
    return 100.0 * (ratio - 1.0), spread, 100.0 * (row.predicted / base.predicted - 1.0)


def lengths_of_gain() -> tuple[Compared, Compared]:
    """The longer row and the one that its gain is counted from."""
    [pair] = [pair for pair in evidence().gains if pair[0].file == FILE and pair[0].at.orifice == ORIFICE]
    return pair


def claim() -> str:
    """The sentence."""
    row, base = lengths_of_gain()
    measured, spread, predicted = length_gain()
    return (
        f"What a longer melt zone buys is overstated: through {ORIFICE:g} mm at {row.at.setpoint:g} degC, {row.at.length:g} mm "
        f"in place of {base.at.length:g} mm gained {measured:+.0f} % (± {spread:.0f}, second hand) where {predicted:+.0f} % is "
        "predicted."
    )
