"""Contact conductances: joints between metals, and the bore wall whose contact depends on the filament's skin."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from meltzone.fem.inputs import Contacts, MaterialSet
from meltzone.geometry.parts import Arrangement


@dataclass(frozen=True)
class JointLaw:
    """A constant conductance [W/m2/K]."""

    conductance: float

    def __call__(self, skin: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Conductance [W/m2/K] and its derivative by the first side's temperature, both of the shape of `skin`."""
        return np.full_like(skin, self.conductance), np.zeros_like(skin)


@dataclass(frozen=True)
class BoreLaw:
    """Gas gap while the skin is hard, melt contact once it has softened.

    h = h_gas + (h_melt - h_gas) / (1 + exp(-(T_skin - T_soft)/w)): conductances [W/m2/K], temperatures [K]; the rise
    from 12 to 88 percent takes 4 w.
    """

    gas: float
    melt: float
    softening: float
    width: float

    def __call__(self, skin: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Conductance [W/m2/K] and its derivative by the skin temperature, both of the shape of `skin` [K]."""
        share = self.wetted(skin)
        rise = self.melt - self.gas
        return self.gas + rise * share, rise * share * (1.0 - share) / self.width

    def wetted(self, skin: np.ndarray) -> np.ndarray:
        """Share of melt contact at the skin temperature [K], 0 to 1 [-]."""
        return np.asarray(expit((skin - self.softening) / self.width))


ContactLaw = JointLaw | BoreLaw


def gas_gap_conductance(arrangement: Arrangement, air_conductivity: float) -> float:
    """Conductance of the concentric gas gap around the solid filament, k / (R_b ln(R_b/R_f)), on the bore's area [W/m2/K]."""
    bore, filament = arrangement.nozzle.bore / 2.0, arrangement.filament.diameter / 2.0
    return air_conductivity / (bore * math.log(bore / filament))


def contact_law(name: str, arrangement: Arrangement, contacts: Contacts, materials: MaterialSet) -> ContactLaw:
    """The law of the contact `name`; threads carry the flank area ratio of their profile."""
    flanks = arrangement.nozzle.thread.flank_area_ratio
    joints = {
        "thread": contacts.thread * flanks,
        "sleeve thread": contacts.sleeve_thread * flanks,
        "sleeve face": contacts.sleeve_face,
        "block face": contacts.sleeve_face,
        "shoulder": contacts.shoulder,
        "wrap": contacts.wrap,
    }
    if name != "bore":
        return JointLaw(joints[name])
    softening = materials.polymer.softening_temperature
    # the gas is about as warm as the mean of the softening skin and the hot wall, some 140 K above it
    gas = gas_gap_conductance(arrangement, float(materials.air.conductivity(softening + 70.0)))
    return BoreLaw(gas, contacts.bore_melt, softening, contacts.bore_width)
