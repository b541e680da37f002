"""The entry problem of a section without axial conduction: decay rates, and exact decay along the flow by modes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve, eigh

from meltzone.fem.across.section import Section


@dataclass(frozen=True, eq=False)
class Modes:
    """Decay along the flow at constant properties: mdot c dT/dz = -A (T - T_wall), webs eliminated.

    `rates` (m,) [W/m/K] rise; a mode falls as exp(-rate z / (mdot c)). `shapes` (n, m) are the modes at all unknowns of
    `section`, normalised to unit mean square over the flow, webs and held wall included.
    """

    section: Section
    rates: np.ndarray
    shapes: np.ndarray

    def advanced(self, excess: np.ndarray, way: float) -> np.ndarray:
        """Excess over the wall's temperature (n,) [K] after `way` = z / (mdot c) [m K/W] from `excess` (n,) [K]."""
        return self.shapes @ (np.exp(-self.rates * way) * (self.shapes.T @ (self.section.carried @ excess)))


def modes_of(section: Section, conductivity: float) -> Modes:
    """All modes of `section` with the polymer's `conductivity` [W/m/K].

    The generalised eigenvalue problem of conduction and flow: temperatures of the webs follow from those of the polymer
    without delay (static condensation), and a held wall has no excess. Dense: meant for a few hundred unknowns.
    """
    flowing, webs = section.flowing, section.webs
    whole = conductivity * section.unit_conduction + section.dense_outside
    stiffness = whole[np.ix_(flowing, flowing)]
    follow = np.zeros((0, flowing.size))
    if webs.size:
        follow = -cho_solve(cho_factor(whole[np.ix_(webs, webs)]), whole[np.ix_(webs, flowing)])
        stiffness = stiffness + whole[np.ix_(flowing, webs)] @ follow
    rates, within = eigh(0.5 * (stiffness + stiffness.T), section.mass)
    shapes = np.zeros((section.size, rates.size))
    shapes[flowing] = within
    shapes[webs] = follow @ within
    return Modes(section, rates, shapes)
