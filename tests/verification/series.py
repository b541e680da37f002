"""Closed forms of heat conduction and of the entry problems: what the solver is held against."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

PLUG = "Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, ch. 7 (chapter from memory); series summed here"
TERMS = 400


@cache
def robin_roots(biot: float, terms: int = TERMS) -> np.ndarray:
    """Roots of b J1(b) = Bi J0(b), one in every interval between zeros of J1 and J0; Bi = inf gives the zeros of J0."""
    upper = jn_zeros(0, terms)
    if np.isinf(biot):
        return upper
    lower = np.concatenate([[0.0], jn_zeros(1, terms)[:-1]])
    return np.array(
        [brentq(lambda b: b * j1(b) - biot * j0(b), lo, hi, xtol=1e-14) for lo, hi in zip(lower, upper, strict=True)]
    )


def plug(fourier: ArrayLike, s: ArrayLike = 0.0, biot: float = np.inf) -> np.ndarray:
    """(T_w - T)/(T_w - T_in) of a plug at Fo = alpha x/(U R^2) and s = r/R; `biot` = h R/k at the wall."""
    b = robin_roots(biot)
    weight = 2.0 * j1(b) / (b * (j0(b) ** 2 + j1(b) ** 2))
    fo, s = np.broadcast_arrays(np.asarray(fourier, float)[..., None], np.asarray(s, float)[..., None])
    return np.asarray((weight * j0(b * s) * np.exp(-(b**2) * fo)).sum(axis=-1))


def plug_mean(fourier: ArrayLike, biot: float = np.inf) -> np.ndarray:
    """Mean of `plug` over the section."""
    b = robin_roots(biot)
    weight = 4.0 * j1(b) ** 2 / (b**2 * (j0(b) ** 2 + j1(b) ** 2))
    return np.asarray((weight * np.exp(-(b**2) * np.asarray(fourier, float)[..., None])).sum(axis=-1))


def plug_nusselt(fourier: ArrayLike) -> np.ndarray:
    """Local Nusselt number of a plug at constant wall temperature, -d ln(mean)/d Fo."""
    b = robin_roots(np.inf)
    decay = np.exp(-(b**2) * np.asarray(fourier, float)[..., None])
    return np.asarray(4.0 * decay.sum(axis=-1) / (4.0 / b**2 * decay).sum(axis=-1))


GRAETZ = (  # lambda_n^2, C_n, G_n of the parabola; first six, 30-digit eigen-solve
    (7.313586916, 1.476435407, 0.7487745551),
    (44.6094611, -0.8061238956, 0.5438279562),
    (113.9210308, 0.5887621536, 0.4628610602),
    (215.2405433, -0.4758504262, 0.4154184535),
    (348.5641154, 0.4050218107, 0.3829191881),
    (513.8900606, -0.3557565064, 0.3586855659),
)


@cache
def _graetz_terms(count: int = 200) -> np.ndarray:
    """lambda^2, C, G; beyond the sixth by the asymptotes of Sellars, Tribus & Klein 1956 (from memory)."""
    n = np.arange(6, count)
    root = 4.0 * n + 8.0 / 3.0
    tail = np.column_stack([root**2, (-1.0) ** n * 2.84606 * root ** (-2.0 / 3.0), 1.01276 * root ** (-1.0 / 3.0)])
    return np.vstack([GRAETZ, tail])


def graetz(x: ArrayLike) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """theta_centre, theta_mean and local Nu of the parabolic profile at x* = (x/D)/(Re Pr)."""
    square, c, g = _graetz_terms().T
    decay = np.exp(-2.0 * square * np.asarray(x, float)[..., None])
    mean = (g / square * decay).sum(axis=-1)
    return (c * decay).sum(axis=-1), 8.0 * mean, (g * decay).sum(axis=-1) / (2.0 * mean)


def cylinder_with_flux_band(r: float, z: float, terms: int = 4000) -> float:
    """Temperature rise [K] in the hollow cylinder of the axisymmetric benchmark: r 0.02-0.10 m, z 0-0.14 m, k = 52 W/m/K,
    5e5 W/m2 into the inner face between z = 0.04 and 0.10 m, top, bottom and outer face cold.

    Sine series along z, exponentially scaled modified Bessel functions along r.
    """
    from scipy.special import i0e, i1e, k0e, k1e

    inner, outer, height, k, flux = 0.02, 0.10, 0.14, 52.0, 5e5
    n = np.arange(1, terms + 1)
    a = n * np.pi / height
    b = 2.0 / height * flux / a * (np.cos(a * 0.04) - np.cos(a * 0.10))
    # f(r) = I0(ar) K0(ab) - K0(ar) I0(ab); scaled by exp(a (outer - inner))
    grow = np.exp(a * ((r - outer) - (outer - inner)))
    fall = np.exp(-a * (r - inner))
    f = i0e(a * r) * k0e(a * outer) * grow - k0e(a * r) * i0e(a * outer) * fall
    slope = a * (i1e(a * inner) * k0e(a * outer) * np.exp(-2.0 * a * (outer - inner)) + k1e(a * inner) * i0e(a * outer))
    return float(np.sum(-b / k * f / slope * np.sin(a * z)))
