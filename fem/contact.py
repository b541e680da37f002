"""Contact conductances: joints between metals, and the bore wall, which the filament wets once its skin has softened."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import erfcx

from meltzone.fem.inputs import Contacts, MaterialSet, Operation
from meltzone.geometry.parts import Arrangement


@dataclass(frozen=True)
class JointLaw:
    """A constant conductance [W/m2/K]."""

    conductance: float

    def __call__(self, heights: np.ndarray, flow: float) -> tuple[np.ndarray, np.ndarray]:
        """Conductance [W/m2/K] and its derivative by the flow, zero here, both of the shape of `heights` [m]."""
        return np.full_like(heights, self.conductance), np.zeros_like(heights)


@dataclass(frozen=True)
class BoreLaw:
    """Gas gap until the filament's skin has softened, melt contact below.

    `gas` and `melt` conductances [W/m2/K]; the skin enters at the level `top` [m] and softens after the length
    `softening_length` times the flow [m per m3/s]. With x the depth over that length, the melt's share is
    x^4 / (1 + x^4): h = h_gas + (h_melt - h_gas) x^4 / (1 + x^4).
    """

    gas: float
    melt: float
    top: float
    softening_length: float

    def __call__(self, heights: np.ndarray, flow: float) -> tuple[np.ndarray, np.ndarray]:
        """Conductance [W/m2/K] at `heights` [m] and its derivative by the `flow` [m3/s], both of the shape of `heights`."""
        share = self.wetted(heights, flow)
        rise = self.melt - self.gas
        return self.gas + rise * share, -4.0 * rise * share * (1.0 - share) / flow

    def wetted(self, heights: np.ndarray, flow: float) -> np.ndarray:
        """Share of melt contact at `heights` [m] for the `flow` [m3/s], 0 to 1 [-]."""
        depth = np.clip(self.top - heights, 0.0, None)
        x = np.minimum(depth / (self.softening_length * flow), 1e3) ** 4
        return np.asarray(x / (1.0 + x))


ContactLaw = JointLaw | BoreLaw


def softening_fourier(theta: float, biot: float) -> float:
    """Fourier number at which a skin heated through a film reaches theta = (T_wall - T)/(T_wall - T_in) [-].

    exp(x^2) erfc(x) = theta with x = Bi sqrt(Fo): half-space with surface exchange, exact while the heat stays near the
    skin. Source: Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., semi-infinite solid with radiation at the
    surface (from memory). Infinite for theta <= 0: such a skin never softens.
    """
    if theta <= 0.0:
        return math.inf
    if theta >= 1.0:
        return 0.0
    high = max(1.0, 1.0 / theta)  # erfcx(x) < 1/(sqrt(pi) x)
    x = brentq(lambda x: float(erfcx(x)) - theta, 0.0, high, xtol=1e-14, rtol=1e-13)
    return (x / biot) ** 2


def gas_gap_conductance(arrangement: Arrangement, air_conductivity: float) -> float:
    """Conductance of the concentric gas gap around the solid filament, k / (R_b ln(R_b/R_f)), on the bore's area [W/m2/K]."""
    bore, filament = arrangement.nozzle.bore / 2.0, arrangement.filament.diameter / 2.0
    return air_conductivity / (bore * math.log(bore / filament))


def contact_law(
    name: str, arrangement: Arrangement, contacts: Contacts, materials: MaterialSet, operation: Operation
) -> ContactLaw:
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
    return _bore_law(arrangement, contacts, materials, operation)


def _bore_law(arrangement: Arrangement, contacts: Contacts, materials: MaterialSet, operation: Operation) -> BoreLaw:
    """Where the skin softens: heated from the block's upper face on through the gas gap, by a wall at the setpoint."""
    polymer, cold, hot = materials.polymer, operation.inlet_temperature, operation.setpoint
    soft = polymer.softening_temperature
    # the gas is about as warm as the mean of the softening skin and the hot wall
    gas = gas_gap_conductance(arrangement, float(materials.air.conductivity((soft + hot) / 2.0)))
    conductivity = float(polymer.conductivity((soft + cold) / 2.0))
    rise = float(polymer.enthalpy(soft) - polymer.enthalpy(cold)) / (soft - cold)
    fourier = softening_fourier((hot - soft) / (hot - cold), gas * arrangement.nozzle.bore / 2.0 / conductivity)
    # Fo = pi alpha x / Q, whatever the radius
    diffusivity = conductivity / (polymer.reference_density * rise)
    length = min(fourier / (math.pi * diffusivity), 1e12)
    return BoreLaw(gas, contacts.bore_melt, arrangement.block_top, length)
