"""The chosen fields of the manufactured solution and the sources that make them one, derived symbolically."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
import sympy as sp  # type: ignore[import-untyped]

from meltzone.fem.contact import BoreLaw

R, OUTER, L = 1e-3, 1.6e-3, 3e-3  # bore, outer face and length before the taper [m]
TAPER = 0.3  # the radii grow by this share from z = 0 to L
FILM, EMISSIVITY, AIR = 40.0, 0.9, 298.15
MELTING, PEAK, WIDTH = 4e4, 430.0, 120.0
GAS, MELT, WETS = 300.0, 1500.0, 1.2e-3  # bore contact [W/m2/K], and the depth at which half of it is melt [m]
SIGMA = 5.670374419e-8
RHO = 1000.0

Field = Callable[[np.ndarray, np.ndarray], np.ndarray]


@dataclass(frozen=True)
class Exact:
    """Fields over (r, z): temperature and gradient of one part, and the source that makes them a solution at a mass flow."""

    value: Field
    by_r: Field
    by_z: Field
    source: Callable[[np.ndarray, np.ndarray, float], np.ndarray]
    conductivity: Field


def _symbols() -> tuple[sp.Symbol, sp.Symbol, sp.Symbol]:
    return sp.symbols("r z m", real=True)


def conductivity_of(part: str, temperature: sp.Expr) -> sp.Expr:
    """k(T) of the polymer and of the shell, both linear [W/m/K]."""
    return 0.15 + 2e-4 * (temperature - 300) if part == "polymer" else 15 + 0.01 * (temperature - 300)


def heat_capacity_of(temperature: sp.Expr) -> sp.Expr:
    """Apparent heat capacity of the polymer: linear, with the peak of the quintic smooth step [J/kg/K]."""
    s = sp.Min(sp.Max((temperature - PEAK) / WIDTH + sp.Rational(1, 2), 0), 1)
    return 1500 + 2 * (temperature - 300) + MELTING * 30 * (s * (1 - s)) ** 2 / WIDTH


@cache
def exact(part: str) -> Exact:
    """The chosen field of a part and the source -div(k grad T) + h'(T) m . grad T, derived symbolically."""
    r, z, m = _symbols()
    x, y = r / R, z / L
    if part == "polymer":
        t = 430 + 60 * sp.sin(2.2 * y + 0.4) * sp.cos(0.9 * x**2) - 25 * y**2
    else:
        t = 480 + 25 * sp.cos(1.5 * y) + 6 * sp.sin(1.1 * x - 0.3 * y)
    k = conductivity_of(part, t)
    source = -(sp.diff(r * k * sp.diff(t, r), r) / r + sp.diff(k * sp.diff(t, z), z))
    if part == "polymer":
        stream = (x / (1 + TAPER * y)) ** 2
        flux_r, flux_z = m * sp.diff(stream, z) / (2 * sp.pi * r), -m * sp.diff(stream, r) / (2 * sp.pi * r)
        source += heat_capacity_of(t) * (flux_r * sp.diff(t, r) + flux_z * sp.diff(t, z))
    pieces = [sp.lambdify((r, z), e, "numpy") for e in (t, sp.diff(t, r), sp.diff(t, z), k)]
    return Exact(pieces[0], pieces[1], pieces[2], sp.lambdify((r, z, m), source, "numpy"), pieces[3])


def bore_law(flow: float) -> BoreLaw:
    """The solver's law of the bore, with half of the contact wetted at the depth `WETS` for the `flow` [m3/s]."""
    return BoreLaw(gas=GAS, melt=MELT, top=L, softening_length=WETS / flow, holes=None)


def across(r: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Heat across the bore contact by the chosen fields [W/m2]."""
    depth = ((L - z) / WETS) ** 4
    return (GAS + (MELT - GAS) * depth / (1.0 + depth)) * (exact("polymer").value(r, z) - exact("shell").value(r, z))


def lost(r: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Convection and radiation of the outer face by the chosen field [W/m2]."""
    surface = exact("shell").value(r, z)
    return FILM * (surface - AIR) + EMISSIVITY * SIGMA * (surface**4 - AIR**4)


def bent(r: np.ndarray, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Taper the body and make its inner lines wavy; outer faces and bore stay straight."""
    wave = 0.06 * L * np.sin(np.pi * z / L) * np.cos(np.pi * r / R)
    bulge = 0.08 * R * np.sin(np.pi * r / R) * np.sin(np.pi * z / L) * (r < R)
    height = z + wave
    return (r + bulge) * (1.0 + TAPER * height / L), height
