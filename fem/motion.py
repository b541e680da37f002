"""Velocity of the polymer as a stream function: plug or power-law profile, filling the bore below the block's upper face."""

from __future__ import annotations

import numpy as np

from meltzone.geometry.parts import Arrangement
from meltzone.geometry.stack import fill_length


def profile_share(s: np.ndarray, exponent: float) -> np.ndarray:
    """Share of the flow inside relative radius s = r/R for u/U = (3n+1)/(n+1) (1 - s^((n+1)/n)) [-].

    F(s) = ((3n+1) s^2 - 2n s^((3n+1)/n)) / (n+1); n = `exponent`, n = 0 is plug flow, n = 1 the parabola.
    Source: fully developed pipe flow of a power-law fluid, integrated.
    """
    s = np.clip(s, 0.0, 1.0)
    if exponent <= 0.0:
        return s**2
    n = exponent
    return ((3.0 * n + 1.0) * s**2 - 2.0 * n * s ** ((3.0 * n + 1.0) / n)) / (n + 1.0)


def unit_stream(arrangement: Arrangement, points: np.ndarray, exponent: float) -> np.ndarray:
    """Stream function at `points` (2, n) [m] for a unit flow: the share of the mass flow inside radius r [-].

    2 pi r rho u_z = -m dPsi/dr and 2 pi r rho u_r = m dPsi/dz for the mass flow m: free of divergence as
    interpolated, and each section carries exactly m. Above the block the filament moves as a plug; over the fill
    length below it the solid column gives way to the profile of the filled bore.
    """
    r, z = points
    inner = np.array([arrangement.nozzle.inner_radius(level) for level in z])
    filled = profile_share(r / inner, exponent)
    solid = profile_share(r / (arrangement.filament.diameter / 2.0), 0.0)
    t = np.clip((arrangement.block_top - z) / fill_length(arrangement), 0.0, 1.0)
    blend = t * t * (3.0 - 2.0 * t)
    return (1.0 - blend) * solid + blend * filled
