"""Velocity of the polymer as a stream function: solid column, plug, power-law, or shaped by the viscosity of each section."""

from __future__ import annotations

import numpy as np

from meltzone.fem.divided import streams_at
from meltzone.fem.rheology import section_flow, section_heating
from meltzone.fem.space import Space
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.lengths import SAME
from meltzone.geometry.stack import fill_length
from meltzone.materials.viscosity import Viscosity


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
    return from_solid(arrangement, points, profile_share(r / arrangement.wall.radius(z), exponent))


def from_solid(arrangement: Arrangement, points: np.ndarray, filled: np.ndarray) -> np.ndarray:
    """The solid column's stream function at `points` (2, n) [m], going over to that of the filled bore, `filled` (n,) [-]."""
    r, z = points
    solid = profile_share(r / (arrangement.filament.diameter / 2.0), 0.0)
    blend = _filled_share(arrangement, z)
    return (1.0 - blend) * solid + blend * filled


def _filled_share(arrangement: Arrangement, z: np.ndarray) -> np.ndarray:
    """Share of the filled bore's profile at height `z`: 0 above the block, 1 a fill length below its upper face [-]."""
    t = np.clip((arrangement.block_top - z) / fill_length(arrangement), 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)


def filled_sections(space: Space) -> np.ndarray:
    """The unknowns of every level of the filled bore, from the axis to the wall, bottom level first: shape (n, m)."""
    points, polymer, arrangement = space.points, space.dofs_of("polymer"), space.section.arrangement
    below = polymer[points[1, polymer] < arrangement.block_top + SAME]
    below = below[np.argsort(points[1, below], kind="stable")]
    level = np.concatenate([[0], np.cumsum(np.diff(points[1, below]) > SAME)])
    ordered, levels = below[np.lexsort((points[0, below], level))], int(level[-1]) + 1
    return ordered.reshape(levels, -1)


def shaped_stream(
    arrangement: Arrangement,
    points: np.ndarray,
    sections: np.ndarray,
    temperature: np.ndarray,
    flow: float,
    law: Viscosity,
    wetted: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Stream function [-] and viscous heat [W/m3] on the filled `sections` (n, m), shaped by the viscosity there.

    For the unknowns `temperature` (size,) [K]; in a divided length for each of its streams. Where the skin is hard the filament
    slides as a plug: `wetted` (n,) is the share of melt contact at the wall [-], and the profile goes over from plug to the
    shear flow of `section_flow` with it.
    """
    radius, heights = points[0][sections], points[1][sections[:, 0]]
    warmth, streams = temperature[sections], streams_at(arrangement, heights)
    radius = streams.narrowing[:, None] * radius
    sheared, gradient = section_flow(radius, warmth, flow / streams.count, law)
    plug = unit_stream(arrangement, points[:, sections.ravel()], 0.0).reshape(sections.shape)
    share = (wetted * _filled_share(arrangement, heights))[:, None]
    heating = share * streams.open_share[:, None] * section_heating(radius, warmth, gradient, law)
    return (1.0 - share) * plug + share * sheared, heating
