"""A tube that the polymer flows through: cells graded to wall and inlet, means, wall slopes, the wall held at a temperature."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from meltzone.fem.motion import profile_share
from meltzone.fem.space import Space
from meltzone.fem.system import System
from meltzone.geometry.mesh import SectionMesh

from .bodies import at_r, at_z, body, everywhere, growing
from .solving import assemble, at, constant, plain_polymer, solved

COLD, HOT = 300.0, 400.0
K, RHO_C, PECLET = 0.2, 2.0e6, 2000.0
ALPHA = K / RHO_C
RADIUS = 1e-3


@dataclass(frozen=True, eq=False)
class Tube:
    """A tube of `radius` [m], flow downwards from z = 0 to -`length` [m]; sections at `stations` below the inlet [m]."""

    space: Space
    stream: np.ndarray
    radius: float
    length: float
    stations: np.ndarray

    @property
    def flow(self) -> float:
        """Flow at the Peclet number U R/alpha of the checks [m3/s]."""
        return np.pi * self.radius * ALPHA * PECLET

    def wall_and_inlet(self) -> np.ndarray:
        """Unknowns on the wall and the inlet."""
        return np.union1d(self.space.facet_dofs("wall"), self.space.facet_dofs("inlet"))

    def wall(self) -> np.ndarray:
        """Unknowns on the wall below the inlet; the corner belongs to the wall."""
        return self.space.facet_dofs("wall")

    def core(self, temperature: np.ndarray) -> np.ndarray:
        """Temperature of the axis at the stations [K]."""
        return np.array([at(self.space, temperature, 0.0, -x) for x in self.stations])

    def mean(self, temperature: np.ndarray) -> np.ndarray:
        """Flow-weighted mean, integral of T dPsi, at the stations [K]."""
        return np.array([weights @ temperature[dofs] for dofs, weights in self.mean_weights])

    @property
    def mean_weights(self) -> list[tuple[np.ndarray, np.ndarray]]:
        """Unknowns and weights of the flow-weighted mean of every station."""
        mesh = self.space.section.mesh
        height = mesh.p[1][mesh.facets]
        found = []
        for x in self.stations:
            facets = self.space.facets(np.flatnonzero(np.all(np.abs(height + x) < 1e-12 * self.length, axis=0)))
            weights = np.einsum("eiq,eq->ei", facets.values, facets.flow_through(self.stream))
            dofs, inverse = np.unique(facets.dofs, return_inverse=True)
            found.append((dofs, np.bincount(inverse.ravel(), weights=weights.ravel())))
        return found

    def wall_slope(self, temperature: np.ndarray) -> np.ndarray:
        """dT/dr at the wall at the stations [K/m], by the parabola through the outermost cell's three unknowns."""
        r, z = self.space.points
        result = []
        for x in self.stations:
            row = np.flatnonzero(np.abs(z + x) < 1e-12 * self.length)
            row = row[np.argsort(r[row])][-3:]
            step = r[row[2]] - r[row[1]]
            result.append(temperature[row] @ np.array([1.0, -4.0, 3.0]) / (2.0 * step))
        return np.array(result)

    def nusselt(self, temperature: np.ndarray) -> np.ndarray:
        """Local Nusselt number 2 R dT/dr / (T_wall - T_mean) at the stations [-]."""
        wall = np.array([at(self.space, temperature, self.radius, -x, "polymer") for x in self.stations])
        return 2.0 * self.radius * self.wall_slope(temperature) / (wall - self.mean(temperature))


def wall_graded(first: float = 3e-4, ratio: float = 1.4, largest: float = 0.07) -> np.ndarray:
    """Relative radii from the axis to the wall, finest at the wall [-]."""
    return (1.0 - growing(first, ratio, 1.0, largest))[::-1]


def along(fourier: np.ndarray, first: float = 1e-6, ratio: float = 1.3, largest: float = 0.008) -> np.ndarray:
    """Distances from the inlet in Fo: growing up to the first station, then by `largest` at most between stations [-]."""
    pieces = [growing(first, ratio, fourier[0], min(largest, fourier[0] / 8.0))]
    for a, b in itertools.pairwise(fourier):
        pieces.append(np.linspace(a, b, int(np.ceil((b - a) / min(largest, a / 8.0) - 1e-9)) + 1)[1:])
    return np.concatenate(pieces)


def tube(
    fourier: np.ndarray, exponent: float = 0.0, radius: float = RADIUS, peclet: float = PECLET, shell: bool = False
) -> Tube:
    """Tube of cells graded to wall and inlet, with a section at every Fo of `fourier`; `shell` adds a metal wall."""
    x = along(fourier) * peclet * radius
    length = float(x[-1])
    z = -x[::-1]  # the inlet at zero, where the shortest cells need the finest digits
    r = wall_graded() * radius
    if shell:
        r = np.concatenate([r, [1.1 * radius]])
    section = _tube_section(r, z, radius, length, shell)
    space = Space(section)
    stream = np.zeros(space.size)
    inside = space.dofs_of("polymer")
    stream[inside] = profile_share(space.points[0, inside] / radius, exponent)
    return Tube(space, stream, radius, length, peclet * radius * fourier)


def _tube_section(r: np.ndarray, z: np.ndarray, radius: float, length: float, shell: bool) -> SectionMesh:
    faces = {
        "wall": ("polymer", at_r(radius)),
        "inlet": ("polymer", at_z(0.0)),
        "outlet": ("polymer", at_z(-length)),
        "melt zone end": ("polymer", at_z(-length)),
    }
    if not shell:
        return body(r, z, everywhere("polymer"), faces)
    parts = lambda r, z: np.where(r < radius, "polymer", "shell")  # noqa: E731
    return body(r, z, parts, faces, (("polymer", "shell", at_r(radius)),))


def heated(tube: Tube) -> tuple[System, np.ndarray]:
    """System with the wall at 400 K and the inlet at 300 K, and its solution."""
    system = assemble(
        tube.space.section,
        {"polymer": constant(K)},
        tube.wall_and_inlet(),
        polymer=plain_polymer(K, 1000.0, RHO_C / 1000.0),
        stream=tube.stream,
        space=tube.space,
        inlet_temperature=COLD,
    )
    start = np.full(tube.space.size, COLD)
    start[tube.wall()] = HOT
    return system, solved(system, start, tube.flow)


def theta(temperature: np.ndarray) -> np.ndarray:
    """(T_w - T)/(T_w - T_in) [-]."""
    return (HOT - temperature) / (HOT - COLD)
