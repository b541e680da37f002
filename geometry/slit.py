"""The slit between the hexagon and what lies above it: how far it is open to the air, and how heat crosses it as it closes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.lengths import SAME

# From this height on the two faces see the air as if each stood alone; below, less and less of it [m]. Assumed, no source: less
# than the 0.5 mm that the usual arrangements leave.
OPEN_FROM = 0.4e-3
SHOULDER = "nozzle shoulder"


@dataclass(frozen=True)
class Slit:
    """A slit round the thread, `height` high and out to `radius` [m], between the shoulder and the face `above`.

    `contact` is the joint that it becomes where it is closed.
    """

    above: str
    contact: str
    height: float
    radius: float

    @property
    def open_share(self) -> float:
        """Share of the air that its faces see, 3 s^2 - 2 s^3 of the height over that from which on it is open [-]."""
        s = min(self.height / OPEN_FROM, 1.0)
        return s * s * (3.0 - 2.0 * s)

    def conductance(self, closed: float, gas: float) -> float:
        """Conductance across it [W/m2/K]: the `closed` joint's, in series with air of the conductivity `gas` [W/m/K].

        (1 - open share) / (1/h + height/k), so that it goes over to the joint as the height goes to zero, and to none where the
        slit is open: there the air between moves, and takes the heat away.
        """
        return (1.0 - self.open_share) / (1.0 / closed + self.height / gas)


def slit_of(arrangement: Arrangement) -> Slit | None:
    """The slit of `arrangement`; None where there is none, a wrap fills it, or it is open."""
    nozzle, sleeve, wrap = arrangement.nozzle, arrangement.sleeve, arrangement.wrap
    above, contact, outer = "block bottom", "block face", arrangement.block.radius
    height, covered = arrangement.block_bottom - nozzle.shoulder, {"nozzle", "block"}
    if sleeve is not None:
        above, contact, outer = "sleeve bottom", "sleeve face", sleeve.radius
        height, covered = height - sleeve.height, {"nozzle"}
    filled = wrap is not None and not covered.isdisjoint(wrap.covers)
    found = Slit(above, contact, height, min(outer, nozzle.hexagon_radius))
    return None if filled or height <= SAME or found.open_share == 1.0 else found


def seen_share(arrangement: Arrangement, face: str, radii: np.ndarray) -> np.ndarray:
    """Share of the air that the face called `face` sees at `radii` [m], of their shape: 1 but in a slit [-]."""
    slit = slit_of(arrangement)
    if slit is None or face not in (SHOULDER, slit.above):
        return np.ones_like(radii)
    return np.where(radii < slit.radius, slit.open_share, 1.0)
