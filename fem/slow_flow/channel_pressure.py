"""What the channels of a divided length take of the feeding pressure: shear along their walls, and drawing at their entry."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from meltzone.fem.rheology import gradient_slopes, section_flow
from meltzone.fem.slow_flow.streamlines import Streamlines
from meltzone.fem.slow_flow.stretching import Drawing
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.stack import within
from meltzone.materials.viscosity import Viscosity

CONVERGENCE = math.radians(45.0)  # half angle at which the melt finds its way into a hole: assumed, no source


@dataclass(frozen=True)
class ChannelPressure:
    """Pressure [Pa] along the channels' walls, `shear`, and to draw the melt into them, `entry`."""

    shear: float = 0.0
    entry: float = 0.0


def channel_pressure(
    arrangement: Arrangement,
    radius: np.ndarray,
    heights: np.ndarray,
    temperature: np.ndarray,
    flow: float,
    law: Viscosity,
    modulus: float | None,
) -> ChannelPressure:
    """Pressure that a divided length takes at `flow` [m3/s]; none where the bore is not divided.

    `radius` [m] and `temperature` [K] (n, m) run from axis to wall at the `heights` (n,) [m] of the equivalent passage; over
    the share of the flow they hold for every channel, which carries its part of the flow. Shear by lubrication, sticking to
    the wall. Entry: chains are drawn as in a cone of half angle 45 degrees that narrows from the channel's share of the bore to
    the channel (see `meltzone.fem.slow_flow.stretching`), with the plateau `modulus` [Pa]; none where that is not known.
    """
    parts = _Divided.of(arrangement, radius, heights, temperature, flow)
    if parts is None:
        return ChannelPressure()
    _, gradient = section_flow(parts.radius, parts.temperature, parts.each, law)
    from scipy.integrate import simpson  # loaded only where a bore is divided

    shear = float(simpson(gradient, x=parts.heights))
    if modulus is None:
        return ChannelPressure(shear)
    return ChannelPressure(shear, float(parts.shares @ parts.entering(law, modulus).work))


def channel_slopes(
    arrangement: Arrangement,
    radius: np.ndarray,
    heights: np.ndarray,
    temperature: np.ndarray,
    flow: float,
    law: Viscosity,
    modulus: float,
) -> tuple[np.ndarray, float]:
    """Derivatives of all of `channel_pressure`, same arguments: by the temperatures, (n, m) [Pa/K], and by ln(flow) [Pa]."""
    found = np.zeros(temperature.shape)
    parts = _Divided.of(arrangement, radius, heights, temperature, flow)
    if parts is None:
        return found, 0.0
    _, gradient = section_flow(parts.radius, parts.temperature, parts.each, law)
    by_flow, by_warmth = gradient_slopes(parts.radius, parts.temperature, parts.each, gradient, law)
    from scipy.integrate import simpson  # loaded only where a bore is divided

    pressed = simpson(np.eye(len(gradient)), x=parts.heights) * gradient
    found[parts.inside] = pressed[:, None] * by_warmth
    drawing = parts.entering(law, modulus)
    by_fluidity, drawn_by_flow = parts.lines.slopes(drawing, 2)
    found[parts.top] -= by_fluidity.sum(axis=0) * parts.shares * law.zero_shear_slope(temperature[parts.top])
    return found, float(pressed @ by_flow + parts.shares @ drawn_by_flow)


@dataclass(frozen=True, eq=False)
class _Divided:
    """A divided length as one of its channels: levels `inside` of the passage, `top` the highest, `each` one's flow [m3/s]."""

    inside: np.ndarray
    top: int
    radius: np.ndarray
    heights: np.ndarray
    temperature: np.ndarray
    each: np.ndarray
    shares: np.ndarray
    lines: Streamlines

    @classmethod
    def of(
        cls, arrangement: Arrangement, radius: np.ndarray, heights: np.ndarray, temperature: np.ndarray, flow: float
    ) -> _Divided | None:
        """None where the bore is not divided."""
        channels, (lower, upper) = arrangement.channels, arrangement.divided_levels
        if channels is None:
            return None
        inside = np.flatnonzero(within(heights, lower, upper))
        narrowing = channels.hole_radius / radius[inside, -1:]
        top = int(inside[-1])
        width = np.diff((radius[top] / radius[top, -1]) ** 2)
        return cls(
            inside,
            top,
            narrowing * radius[inside],
            heights[inside],
            temperature[inside],
            np.full(inside.size, flow / channels.number),
            (np.append(width, 0.0) + np.insert(width, 0, 0.0)) / 2.0,
            _entry_lines(arrangement, radius[top, -1]),
        )

    def entering(self, law: Viscosity, modulus: float) -> Drawing:
        """What the way into a channel does to the chains."""
        fluidity = np.tile(1.0 / law.zero_shear(self.temperature[-1]), (2, 1))
        return self.lines.drawing(fluidity, self.each[0], modulus)


def _entry_lines(arrangement: Arrangement, bore: float) -> Streamlines:
    """The way into one channel, from its share of the bore's section of radius `bore` [m]; no step where it widens."""
    channels = arrangement.channels
    assert channels is not None, "no channels here"
    wide, narrow = bore / math.sqrt(channels.number), channels.hole_radius
    if narrow >= wide:
        return Streamlines.along(np.array([0.0, 1.0]), np.array([narrow, narrow]))
    return Streamlines.along(np.array([0.0, (wide - narrow) / math.tan(CONVERGENCE)]), np.array([narrow, wide]))
