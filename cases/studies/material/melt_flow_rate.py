"""What melt flow rates tell of a viscosity: the flow of a law through the standard die, and the law moved until it agrees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from meltzone.cases.studies.material.flow_curve import scaled
from meltzone.materials.viscosity import Viscosity

GRAVITY = 9.80665  # [m/s2]
# ISO 1133-1, from memory: mean area of barrel and piston [m2], diameter and length of the die [m]
AREA, DIE, DIE_LENGTH = 0.711e-4, 2.095e-3, 8.000e-3
STATED = (
    0.6,
    1.7,
)  # factors on a viscosity so found: entrance loss neglected, shape of another grade; assumed, no source
_X, _W = np.polynomial.legendre.leggauss(60)


@dataclass(frozen=True)
class FlowRate:
    """A melt flow rate: `mass_flow` [kg/s] at `temperature` [K] under the `load` [kg]."""

    temperature: float
    load: float
    mass_flow: float

    @property
    def wall_stress(self) -> float:
        """Shear stress at the die's wall, p R / (2 L) without the entrance's loss [Pa]."""
        pressure = self.load * GRAVITY / AREA
        return float(pressure * DIE / 4.0 / DIE_LENGTH)


def die_flow(law: Viscosity, rate: FlowRate) -> float:
    """Volume flow [m3/s] of `law` through the standard die under the load of `rate`.

    Q = pi R^3/tau_w^3 times the integral of tau^2 rate(tau) over tau (Weissenberg and Rabinowitsch; fully developed, no slip),
    written over the rate: d(tau) = d(eta rate).
    """
    wall = rate.wall_stress
    share = (1.0 + _X) / 2.0
    stress = wall * share
    shear = _rates(law, stress, rate.temperature)
    integral = wall * float(np.sum(_W / 2.0 * stress**2 * shear))
    return float(np.pi * (DIE / 2.0) ** 3 / wall**3 * integral)


def _rates(law: Viscosity, stress: np.ndarray, temperature: float) -> np.ndarray:
    """Rate of shear [1/s] at each `stress` (n,) [Pa], by halving in the logarithm."""
    rest = float(law.zero_shear(temperature))
    low = np.log(stress / rest)
    high = low + 60.0
    for _ in range(80):
        middle = (low + high) / 2.0
        over = law(np.exp(middle), temperature) * np.exp(middle) > stress
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return np.asarray(np.exp((low + high) / 2.0))


def moved_to(law: Viscosity, rates: Sequence[FlowRate], density: Sequence[float]) -> Viscosity:
    """`law` times a factor, and with two loads or more its exponent too, until the die passes `rates`.

    `density` holds that of the melt [kg/m3] at each. What it was measured over becomes what the die tells.
    """
    from scipy.optimize import least_squares  # slow to load

    flows = [each.mass_flow / own for each, own in zip(rates, density, strict=True)]
    two = len({each.load for each in rates}) > 1

    def with_(values: np.ndarray) -> Viscosity:
        moved = scaled(law, float(np.exp(values[0])))
        return replace(moved, n=float(values[1])) if two else moved

    def misses(values: np.ndarray) -> np.ndarray:
        moved = with_(values)
        return np.array([np.log(die_flow(moved, each) / flow) for each, flow in zip(rates, flows, strict=True)])

    start, low, high = [0.0, law.n], [-8.0, 0.05], [8.0, 0.99]
    found = least_squares(misses, start[: 1 + two], bounds=(low[: 1 + two], high[: 1 + two]), x_scale="jac")
    shear = [4.0 * flow / (np.pi * (DIE / 2.0) ** 3) for flow in flows]
    hot = [each.temperature for each in rates]
    return replace(
        with_(found.x), temperatures=(min(hot) - 1.0, max(hot) + 1.0), rates=(min(shear) / 1.1, max(shear) * 1.1)
    )
