"""What G' and G'' tell: a spectrum of relaxation, viscosity at rest, and the plateau modulus where the data reach it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

PER_DECADE = 2  # modes of relaxation
SCATTER = 0.05  # of a point, relative: common practice, no source
EDGE = 0.97  # of the highest frequency: a least loss tangent there is none


@dataclass(frozen=True, eq=False)
class Moduli:
    """Moduli over angular frequency at one temperature: `frequency` [1/s], `storage` and `loss` [Pa], each (n,)."""

    temperature: float
    frequency: np.ndarray
    storage: np.ndarray
    loss: np.ndarray

    @property
    def viscosity(self) -> np.ndarray:
        """Complex viscosity |G*|/omega, (n,) [Pa s]."""
        return np.asarray(np.hypot(self.storage, self.loss) / self.frequency)


@dataclass(frozen=True, eq=False)
class Spectrum:
    """Maxwell modes of `times` [s] and `strengths` [Pa], (k,), that carry `moduli`; `misses` (2, n) [-] of G' and G''.

    `plateau` [Pa] is G' where the loss tangent is least, None where that lies at the end of the data; `at_least` [Pa] is the
    greatest G' measured.
    """

    moduli: Moduli
    times: np.ndarray
    strengths: np.ndarray
    misses: np.ndarray
    plateau: float | None
    at_least: float

    @property
    def rest(self) -> float:
        """Viscosity at rest, the sum of strengths times times [Pa s]."""
        return float(self.strengths @ self.times)


def spectrum_of(moduli: Moduli) -> Spectrum:
    """Modes at fixed times, `PER_DECADE`, by least squares without negative strengths, of relative misses.

    G' = sum g (w t)^2/(1 + (w t)^2), G'' = sum g w t/(1 + (w t)^2): Ferry, Viscoelastic Properties of Polymers (1980), chapter
    3, equations from memory. The plateau by the least loss tangent: Liu, He, van Ruymbeke, Keunings and Bailly, Polymer
    47:4461 (2006), attribution from memory.
    """
    from scipy.optimize import nnls  # slow to load

    order = np.argsort(moduli.frequency)
    omega, storage, loss = (each[order] for each in (moduli.frequency, moduli.storage, moduli.loss))
    low, high = np.log10(1.0 / omega[-1]), np.log10(1.0 / omega[0])
    times = 10.0 ** np.linspace(low, high, max(2, round(PER_DECADE * (high - low)) + 1))
    reduced = omega[:, None] * times
    kernels = np.concatenate([reduced**2 / (1.0 + reduced**2), reduced / (1.0 + reduced**2)])
    data = np.concatenate([storage, loss])
    strengths, _ = nnls(kernels / data[:, None], np.ones(data.size))
    misses = (kernels @ strengths / data - 1.0).reshape(2, -1)
    tangent = loss / storage
    least = int(np.argmin(tangent))
    inside = 0 < least < omega.size - 1 and omega[least] < EDGE * omega[-1]
    ordered = Moduli(moduli.temperature, omega, storage, loss)
    return Spectrum(ordered, times, strengths, misses, float(storage[least]) if inside else None, float(storage.max()))
