"""A round bar heated from its surface, by series: how long its skin or its axis takes to a temperature, and all of it then."""

from __future__ import annotations

import math
from functools import cache, lru_cache

import numpy as np
from scipy.special import j0, j1, jn_zeros

TERMS, FILM_TERMS = 12, 60
STEPS, CLOSE = 60, 1e-13  # of Newton's iteration for a time, and where it ends, as a share of the time


@cache
def _held() -> tuple[np.ndarray, np.ndarray]:
    """Roots b of J0(b) = 0 and weights 2 / (b J1(b)) of a bar whose surface is held at a temperature, each (TERMS,)."""
    roots = jn_zeros(0, TERMS)
    return roots, 2.0 / (roots * j1(roots))


def core_fourier(theta: float) -> float:
    """Fourier number at which the axis of a bar held at T_wall all around reaches theta = (T_wall - T)/(T_wall - T_in) [-].

    theta = sum 2/(b J1(b)) exp(-b^2 Fo) with J0(b) = 0 (heated cylinder, e.g. Carslaw and Jaeger, Conduction of Heat in Solids,
    2nd ed.); `theta` from 1e-3 to 0.99.
    """
    return _time_to(theta, *_held())


def temperatures(share: np.ndarray, fourier: np.ndarray) -> np.ndarray:
    """theta of the same bar at `share` (n,) of its radius [-] after `fourier` (n,) [-], shape (n,)."""
    roots, weights = _held()
    return np.einsum("k,kn,kn->n", weights, j0(roots[:, None] * share), np.exp(-(roots[:, None] ** 2) * fourier))


def first_decay(fourier: np.ndarray) -> np.ndarray:
    """How far the slowest term of that series has come down after `fourier` [-], of its shape [-]."""
    return np.asarray(np.exp(-(_held()[0][0] ** 2) * fourier))


@lru_cache(maxsize=4096)  # every perturbed problem asks again, mostly for the same numbers
def softening_fourier(theta: float, biot: float) -> float:
    """Fourier number at which the skin of a round bar, heated through a film, reaches theta = (T_wall - T)/(T_wall - T_in) [-].

    theta = sum 2 Bi / (b^2 + Bi^2) exp(-b^2 Fo) with b J1(b) = Bi J0(b). Source: Carslaw and Jaeger, Conduction of Heat in
    Solids, 2nd ed., cylinder with radiation at the surface (from memory). Infinite for theta <= 0: such a skin never softens.
    """
    if theta <= 0.0:
        return math.inf
    roots = _film_roots(biot)
    weights = 2.0 * biot / (roots**2 + biot**2)
    if float(weights.sum()) <= theta:  # within the first instant, which this many terms do not resolve
        return 0.0
    return _time_to(theta, roots, weights)


def _time_to(theta: float, roots: np.ndarray, weights: np.ndarray) -> float:
    """Fourier number at which sum of weights exp(-roots^2 Fo) has come down to `theta`, by Newton on the logarithm of the sum.

    That is nearly straight, and bends to one side only: from where the slowest term alone would be there, or from the start, no
    step passes the answer.
    """
    squares = roots**2
    fourier = max(math.log(weights[0] / theta) / squares[0], 0.0)
    for _ in range(STEPS):
        terms = weights * np.exp(-squares * fourier)
        total = float(terms.sum())
        step = math.log(total / theta) * total / float(squares @ terms)
        fourier += step
        if abs(step) <= CLOSE * fourier:
            break
    return fourier


def _film_roots(biot: float) -> np.ndarray:
    """The first roots of b J1(b) = Bi J0(b), each between a zero of J1 and the next of J0, by bisection, (FILM_TERMS,)."""
    low, high = _root_bounds()
    for _ in range(50):
        middle = (low + high) / 2.0
        short = middle * j1(middle) < biot * j0(middle)
        # J0 and J1 change sign together from one interval to the next
        short = short == (j0(middle) > 0.0)
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return (low + high) / 2.0


@cache
def _root_bounds() -> tuple[np.ndarray, np.ndarray]:
    """Zeros of J1 with 0 before them, and of J0: lower and upper bounds of the roots, each (FILM_TERMS,)."""
    return np.concatenate([[0.0], jn_zeros(1, FILM_TERMS - 1)]), jn_zeros(0, FILM_TERMS)
