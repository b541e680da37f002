"""The rubbery stress of entangled chains that are drawn out along their streamlines: one mode of Giesekus's law."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

MOBILITY = 0.3  # Giesekus's alpha [-]: usual for melts, from memory; 0.1 to 0.5 is found
SLOWEST = 1e-7  # relaxation times in a step [-]: what is held for less does not relax
ALONG, ACROSS = 2.0, -1.0  # what a unit rate of extension pulls along the stretch and across it
TINY = 1e-20  # imaginary step of a derivative


def steady_excess(pull: np.ndarray, mobility: float = MOBILITY) -> np.ndarray:
    """Excess y = C - 1 of a principal conformation C in steady extension, the shape of `pull` [-].

    The greater root of alpha y^2 + (1 - pull) y - pull = 0. `pull` is twice the relaxation time times the rate of extension
    along the stretch, and minus once that across it. Source: Giesekus 1982, J. Non-Newtonian Fluid Mech. 11:69-109
    (from memory).
    """
    linear = 1.0 - pull
    apart = np.sqrt(linear**2 + 4.0 * mobility * pull)
    # in the form that does not cancel
    return np.where(np.real(linear) > 0.0, 2.0 * pull / (linear + apart), (apart - linear) / (2.0 * mobility))


def held(
    excess: np.ndarray, pull: np.ndarray, decay: np.ndarray, mobility: float = MOBILITY
) -> tuple[np.ndarray, np.ndarray]:
    """Excess y of a principal conformation after `decay` relaxation times under a steady `pull`, and its integral [-].

    y' = -(alpha y^2 + (1 - pull) y - pull) has constant coefficients: with the roots a > b, (y - a) / (y - b) falls as
    exp(-alpha (a - b) t). Exact, from rest to rubber; all arguments broadcast.
    """
    high = steady_excess(pull, mobility)
    spread = np.sqrt((1.0 - pull) ** 2 + 4.0 * mobility * pull)
    low = high - spread / mobility
    first = (excess - high) / (excess - low)
    last = first * np.exp(-spread * decay)
    return (high - low * last) / (1.0 - last), high * decay + np.log((1.0 - last) / (1.0 - first)) / mobility


@dataclass(frozen=True, eq=False)
class Drawing:
    """Chains that were at rest, drawn through steps of extension, on any number of streamlines.

    `strains` (n,) are the steps' Hencky strains [-], negative where the stream widens, `decays` (n, m) their durations over
    the relaxation time [-], one for each streamline; `modulus` G [Pa]. Conformations A along and B across the flow are
    principal since nothing shears:

        A' = 2 e A - ((A - 1) + alpha (A - 1)^2) / lambda,   B' = -e B - ((B - 1) + alpha (B - 1)^2) / lambda

    with the rate of extension e; the work is the integral of the stress G (A - B) over the strain. Rate and relaxation time
    are constant in a step.
    """

    strains: np.ndarray
    decays: np.ndarray
    modulus: float
    mobility: float = MOBILITY

    @cached_property
    def _times(self) -> np.ndarray:
        return np.maximum(self.decays, SLOWEST)

    def _step(self, pulls: float, excess: np.ndarray, times: np.ndarray, k: Any) -> tuple[np.ndarray, np.ndarray]:
        """Excess after step(s) `k` that pull `pulls` times the rate, and their part of the work over the modulus [-]."""
        rate = self.strains[k, None] / times
        after, summed = held(excess, pulls * rate, times, self.mobility)
        return after, math.copysign(1.0, pulls) * rate * summed

    @cached_property
    def _along(self) -> tuple[np.ndarray, np.ndarray]:
        return self._before(ALONG)

    @cached_property
    def _across(self) -> tuple[np.ndarray, np.ndarray]:
        return self._before(ACROSS)

    def _before(self, pulls: float) -> tuple[np.ndarray, np.ndarray]:
        """Excess before every step, (n, m), and the work over the modulus, (m,) [-]."""
        excess, work = np.zeros_like(self._times), np.zeros(self._times.shape[1:])
        for k, times in enumerate(self._times):
            after, done = self._step(pulls, excess[k], times, k)
            work = work + done
            if k + 1 < len(excess):
                excess[k + 1] = after
        return excess, work

    @property
    def work(self) -> np.ndarray:
        """Work of drawing per volume on every streamline, (m,) [J/m3 = Pa]."""
        return self.modulus * (self._along[1] + self._across[1])

    @property
    def slopes(self) -> np.ndarray:
        """Derivative of the work by the decay of every step, (n, m) [Pa]: complex steps, chained backwards."""
        found, every = np.zeros_like(self._times), slice(None)
        for pulls, (excess, _) in ((ALONG, self._along), (ACROSS, self._across)):
            by_excess = self._step(pulls, excess + 1j * TINY, self._times, every)
            by_time = self._step(pulls, excess, self._times + 1j * TINY, every)
            onwards = np.zeros(found.shape[1])
            for k in reversed(range(len(found))):
                found[k] += (by_time[1][k].imag + onwards * by_time[0][k].imag) / TINY
                onwards = (by_excess[1][k].imag + onwards * by_excess[0][k].imag) / TINY
        return np.where(self.decays > SLOWEST, self.modulus * found, 0.0)
