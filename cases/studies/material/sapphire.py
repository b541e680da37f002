"""Heat capacity from three heating runs: the sample, sapphire in the same pans, and the empty pans (ISO 11357-4)."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

# Heat capacity of corundum, 298 to 2327 K [J/mol/K, t in 1000 K]: Chase 1998, NIST-JANAF Thermochemical Tables, in the NIST
# WebBook: A + B t + C t^2 + D t^3 + E / t^2
SHOMATE = (102.4290, 38.74980, -15.91090, 2.628181, -3.007551)
MOLAR_MASS = 0.101961  # [kg/mol]


class Run(NamedTuple):
    """Heat flow [W] over rising temperature [K], (n,) each."""

    temperature: np.ndarray
    flow: np.ndarray

    def at(self, temperature: np.ndarray) -> np.ndarray:
        """The heat flow at `temperature` (m,) [K], nan where the run did not reach [W]."""
        return np.interp(temperature, self.temperature, self.flow, left=np.nan, right=np.nan)


def sapphire_capacity(temperature: np.ndarray) -> np.ndarray:
    """Heat capacity of sapphire at `temperature` (n,) [K], (n,) [J/kg/K]; a little below 298 K carried on."""
    t = np.asarray(temperature) / 1000.0
    a, b, c, d, e = SHOMATE
    return np.asarray((a + t * (b + t * (c + t * d)) + e / t**2) / MOLAR_MASS)


def against_sapphire(
    temperature: np.ndarray, above: np.ndarray, sapphire_above: np.ndarray, sapphire_over_sample: float
) -> np.ndarray:
    """Heat capacity of the sample at `temperature` (n,) [K], (n,) [J/kg/K].

    `above` and `sapphire_above` (n,) [W] are the heat flows of sample and sapphire less that of the empty pans, of whichever
    sign; `sapphire_over_sample` the ratio of their masses [-]. The heating rate cancels. Source: ISO 11357-4.
    """
    return np.asarray(sapphire_capacity(temperature) * sapphire_over_sample * above / sapphire_above)
