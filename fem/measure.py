"""The one place that knows the measure of the axisymmetric section: 2 pi r dA for volumes, 2 pi r ds for surfaces."""

from __future__ import annotations

import numpy as np
from skfem import AbstractBasis

TWO_PI = 2.0 * np.pi


def revolved(basis: AbstractBasis) -> np.ndarray:
    """Quadrature weights of the revolved body, 2 pi r dx, shape (n, n_q): [m3] on cells, [m2] on facets."""
    return TWO_PI * np.asarray(basis.global_coordinates())[0] * basis.dx


def plane(basis: AbstractBasis) -> np.ndarray:
    """Quadrature weights of the flat section, dx, shape (n, n_q): [m2] on cells, [m] on facets.

    For integrands that hold the measure already, such as the gradient of a stream function.
    """
    return np.asarray(basis.dx)
