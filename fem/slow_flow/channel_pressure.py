"""What the channels of a divided length take of the feeding pressure: shear along their walls, and dividing at their entry."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import simpson

from meltzone.fem.rheology import section_flow
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.stack import within
from meltzone.materials.polymer import CrossWLF

TROUTON = 3.0  # uniaxial extension over shear viscosity of a slowly stretched liquid [-]
CONVERGENCE = math.radians(45.0)  # half angle at which the melt finds its way into a hole: assumed, no source
NARROWINGS = 17


@dataclass(frozen=True)
class ChannelPressure:
    """Pressure [Pa] along the channels' walls, `shear`, and to press melt and stiff core into them, `entry`."""

    shear: float = 0.0
    entry: float = 0.0


def channel_pressure(
    arrangement: Arrangement,
    radius: np.ndarray,
    heights: np.ndarray,
    temperature: np.ndarray,
    flow: float,
    law: CrossWLF,
) -> ChannelPressure:
    """Pressure that a divided length takes at `flow` [m3/s]; none where the bore is not divided.

    `radius` [m] and `temperature` [K] (n, m) run from axis to wall at the `heights` (n,) [m] of the equivalent passage; over
    the share of the flow they hold for every channel, which carries its part of the flow. Shear by lubrication, sticking to
    the wall. Entry: as in a cone of half angle 45 degrees that narrows from the channel's share of the bore to the channel, the
    mean over the flow of 3 eta d(eps)/dt times d(ln area) (see `feeding`).
    """
    channels, (lower, upper) = arrangement.channels, arrangement.divided_levels
    if channels is None:
        return ChannelPressure()
    inside = within(heights, lower, upper)
    narrowing = channels.hole_radius / radius[inside, -1:]
    each = np.full(int(inside.sum()), flow / channels.number)
    _, gradient = section_flow(narrowing * radius[inside], temperature[inside], each, law)
    shear = float(simpson(gradient, x=heights[inside]))
    top = np.flatnonzero(inside)[-1]
    share = (radius[top] / radius[top, -1]) ** 2
    wide = radius[top, -1] / math.sqrt(channels.number)
    return ChannelPressure(shear, entry_pressure(wide, channels.hole_radius, share, temperature[top], each[0], law))


def entry_pressure(
    wide: float, narrow: float, share: np.ndarray, temperature: np.ndarray, flow: float, law: CrossWLF
) -> float:
    """Pressure to press one stream of `flow` [m3/s] from the radius `wide` to `narrow` [m]; none where it widens [Pa].

    `temperature` (m,) [K] over the `share` of the flow (m,) [-], from the coldest.
    """
    if narrow >= wide:
        return 0.0
    return extension(flow, math.tan(CONVERGENCE), np.geomspace(narrow, wide, NARROWINGS), share, temperature, law)


def extension(
    flow: float, slope: float, radii: np.ndarray, share: np.ndarray, temperature: np.ndarray, law: CrossWLF
) -> float:
    """Pressure that stretching takes in a cone of `slope` dR/dz [-], whose wall passes the `radii` (n,) [m]: [Pa].

    `temperature` [K] over the `share` of the `flow` [m3/s] inside each point [-], both (n, m), or (m,) where all sections are
    alike. Whether the area shrinks or grows along the flow, both are extension that costs work.
    """
    rate = 2.0 * flow / (np.pi * radii[:, None] ** 3) * abs(slope)
    stress = TROUTON * law(rate, temperature) * rate
    mean = np.sum((stress[:, 1:] + stress[:, :-1]) / 2.0 * np.diff(share, axis=-1), axis=1)
    return abs(float(simpson(mean, x=2.0 * np.log(radii))))
