"""Fully developed velocity in a duct of any section: plug, Newtonian and power-law, by quadratic elements."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, DiscreteField, LinearForm, asm
from skfem.helpers import dot, grad

REGULARISED = 1e-4  # shear rates below this share of their mean count as this, where a thinning law has a pole
THINNING = 0.75  # from one exponent to the next on the way to a small one
CONVERGED, MOST_STEPS = 1e-9, 60


@BilinearForm
def _viscous(u: DiscreteField, v: DiscreteField, w: dict) -> np.ndarray:
    """Tangent of the drag, (s^2)^((n-1)/2) (grad u . grad v + (n - 1) (g . grad u)(g . grad v) / s^2)."""
    n, g, s2 = w["exponent"], w["last"].grad, w["square"]
    aligned = dot(g, grad(u)) * dot(g, grad(v)) / s2
    return s2 ** ((n - 1.0) / 2.0) * (dot(grad(u), grad(v)) + (n - 1.0) * aligned)


@LinearForm
def _drag(v: DiscreteField, w: dict) -> np.ndarray:
    """Drag less drive, (s^2)^((n-1)/2) g . grad v - drive v."""
    return w["square"] ** ((w["exponent"] - 1.0) / 2.0) * dot(w["last"].grad, grad(v)) - w["drive"] * v


@BilinearForm
def _laplace(u: DiscreteField, v: DiscreteField, _: dict) -> np.ndarray:
    return dot(grad(u), grad(v))


@LinearForm
def _unit(v: DiscreteField, _: dict) -> np.ndarray:
    return 1.0 * v


def newtonian(basis: Basis, no_slip: np.ndarray) -> np.ndarray:
    """Solution of laplace(u) = -1 [m2] at all unknowns of `basis`, zero at the unknowns `no_slip` (n,).

    The mean speed is this times the pressure gradient over the viscosity, averaged.
    """
    return _solved(csr_array(asm(_laplace, basis)), asm(_unit, basis), _moving(basis, no_slip))


def power_law(basis: Basis, no_slip: np.ndarray, exponent: float) -> np.ndarray:
    """Solution of div(|grad u|^(n-1) grad u) = -1, its shape only, at all unknowns of `basis`, zero at `no_slip` (n,).

    Newton's method, from the Newtonian profile down to the `exponent` n by a few exponents between. The drive is chosen so
    that u is of order one. Raises ValueError for an exponent of zero or less.
    """
    if not exponent > 0.0:
        raise ValueError(f"exponent {exponent:g}: expected more than 0; a plug needs no velocity to be solved")
    moving = _moving(basis, no_slip)
    n, u = 1.0, newtonian(basis, no_slip)
    while n != exponent:
        n = max(exponent, THINNING * n) if exponent < 1.0 else min(exponent, n / THINNING)
        u = _newton(basis, moving, n, u)
    return u


def _newton(basis: Basis, moving: np.ndarray, n: float, u: np.ndarray) -> np.ndarray:
    drive = float(np.sum(basis.dx)) ** (-0.5 * (1.0 + n))
    u = u * _balancing(basis, n, drive, u)
    floor = REGULARISED**2 * np.mean(np.sum(basis.interpolate(u).grad ** 2, axis=0))
    for _ in range(MOST_STEPS):
        last = basis.interpolate(u)
        terms = {"last": last, "square": np.sum(last.grad**2, axis=0) + floor, "exponent": n}
        step = _solved(csr_array(asm(_viscous, basis, **terms)), -asm(_drag, basis, drive=drive, **terms), moving)
        while np.abs(step).max() > CONVERGED and not _falls(basis, n, drive, floor, u, step):
            step = 0.5 * step
        u = u + step
        if np.abs(step).max() < CONVERGED * np.abs(u).max():
            return u
    raise ArithmeticError(f"the velocity of exponent {n:g} did not settle in {MOST_STEPS} steps")


def _falls(basis: Basis, n: float, drive: float, floor: float, u: np.ndarray, step: np.ndarray) -> bool:
    """Whether the functional that the velocity makes least, drag's potential less the drive's work, falls along `step`."""

    def potential(velocity: np.ndarray) -> float:
        field = basis.interpolate(velocity)
        square = np.sum(field.grad**2, axis=0) + floor
        return float(np.sum(basis.dx * (square ** ((n + 1.0) / 2.0) / (n + 1.0) - drive * np.asarray(field))))

    before = potential(u)
    return potential(u + step) <= before + 1e-14 * abs(before)


def _balancing(basis: Basis, n: float, drive: float, u: np.ndarray) -> float:
    """The factor to `u` at which the drive's work is what the drag spends."""
    field = basis.interpolate(u)
    spent = np.sum(basis.dx * np.sum(field.grad**2, axis=0) ** ((n + 1.0) / 2.0))
    return float((drive * np.sum(basis.dx * np.asarray(field)) / spent) ** (1.0 / n))


def _moving(basis: Basis, no_slip: np.ndarray) -> np.ndarray:
    return np.setdiff1d(np.unique(basis.element_dofs), no_slip)


def _solved(matrix: csr_array, load: np.ndarray, free: np.ndarray) -> np.ndarray:
    found = np.zeros(load.size)
    found[free] = splu(matrix[free][:, free].tocsc()).solve(load[free])
    return found
