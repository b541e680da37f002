"""One sector of a divided bore in three dimensions with ngsolve: flow through splitting and joining, layers, heat.

Half a wedge around one hole between two planes of symmetry; the flow runs along z. Lengths in mm, the flow is 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import ngsolve as ng
import numpy as np
from netgen import occ

FAR = 10.0  # beyond every part [mm]
PENALTY = 1e7  # on the velocity through the oblique plane of symmetry, over the viscosity [1/mm]
STRIDE = 0.02  # of a path traced [mm]
LONGEST = 1500  # strides
INSIDE = 0.985  # paths begin this far out in a hole, and no farther [-]


@dataclass(frozen=True)
class Sector:
    """`count` holes of radius `hole` on the radius `ring` divide a bore of radius `bore`; lengths along the flow; all [mm].

    `size` is that of the tetrahedra.
    """

    count: int
    hole: float
    ring: float
    bore: float
    before: float
    divided: float
    after: float
    size: float

    @property
    def half(self) -> float:
        """Half the sector's angle, that of the mesh [rad]."""
        return math.pi / self.count

    @property
    def end(self) -> float:
        """Level of the outlet [mm]."""
        return self.before + self.divided + self.after

    @cached_property
    def mesh(self) -> ng.Mesh:
        """Tetrahedra, their faces called "inlet", "outlet", "wall", "level" and "oblique" (the planes of symmetry)."""

        def rod(x: float, radius: float, low: float, length: float) -> occ.Solid:
            return occ.Cylinder((x, 0, low), occ.Z, radius, length)

        below = self.before + self.divided
        shape = rod(0, self.bore, 0, self.before) + rod(self.ring, self.hole, self.before, self.divided)
        shape = shape + rod(0, self.bore, below, self.after)
        corners = occ.WorkPlane(occ.Axes((0, 0, -1), n=occ.Z, h=occ.X)).MoveTo(0, 0).LineTo(FAR, 0)
        wedge = corners.LineTo(FAR * math.cos(self.half), FAR * math.sin(self.half)).LineTo(0, 0).Face()
        shape = shape * wedge.Extrude(self.end + 2)
        across = np.array([-math.sin(self.half), math.cos(self.half)])
        for face in shape.faces:
            here = face.center
            planes = {
                "inlet": here.z,
                "outlet": here.z - self.end,
                "level": here.y,
                "oblique": across @ [here.x, here.y],
            }
            face.name = next((name for name, off in planes.items() if abs(off) < 1e-6), "wall")
        mesh = ng.Mesh(occ.OCCGeometry(shape).GenerateMesh(maxh=self.size))
        mesh.Curve(3)
        return mesh

    @cached_property
    def plug(self) -> ng.CoefficientFunction:
        """Velocity of a flow that slips at its walls, a plug far from the holes' ends: a potential's gradient [1/mm2].

        Its normal part vanishes at walls and planes; on the inlet it is even.
        """
        space = ng.H1(self.mesh, order=3, dirichlet="outlet")
        u, v = space.TnT()
        form = ng.BilinearForm(ng.grad(u) * ng.grad(v) * ng.dx).Assemble()
        load = ng.LinearForm(v / self._area("inlet") * ng.ds("inlet")).Assemble()
        potential = ng.GridFunction(space)
        potential.vec.data = form.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky") * load.vec
        return -ng.grad(potential)

    @cached_property
    def smooth_plug(self) -> ng.GridFunction:
        """The same made continuous and quadratic, so that it has rates of strain [1/mm2]."""
        found = ng.GridFunction(ng.VectorH1(self.mesh, order=2))
        found.Set(self.plug)
        return found

    @cached_property
    def sticking(self) -> ng.GridFunction:
        """Velocity of a melt of constant viscosity that sticks to its walls, developed at the inlet [1/mm2]; Taylor-Hood."""
        mesh = self.mesh
        space = ng.VectorH1(mesh, order=2, dirichlet="wall|inlet", dirichlety="level") * ng.H1(mesh, order=1)
        (u, p), (v, q) = space.TnT()
        across = ng.CoefficientFunction((-math.sin(self.half), math.cos(self.half), 0.0))
        form = ng.BilinearForm(space, symmetric=False)
        strain, test = ng.Sym(ng.Grad(u)), ng.Sym(ng.Grad(v))
        form += (2.0 * ng.InnerProduct(strain, test) - ng.div(u) * q - ng.div(v) * p - 1e-10 * p * q) * ng.dx
        form += PENALTY * (u * across) * (v * across) * ng.ds("oblique")
        form.Assemble()
        found = ng.GridFunction(space)
        inside = 1.0 - (ng.x**2 + ng.y**2) / self.bore**2
        found.components[0].Set(
            ng.CoefficientFunction((0.0, 0.0, 2.0 * inside / self._area("inlet"))), definedon=mesh.Boundaries("inlet")
        )
        rest = found.vec.CreateVector()
        rest.data = -(form.mat * found.vec)
        found.vec.data += form.mat.Inverse(space.FreeDofs(), inverse="umfpack") * rest
        return found.components[0]

    def _area(self, name: str) -> float:
        return float(ng.Integrate(1.0, self.mesh, ng.BND, definedon=self.mesh.Boundaries(name)))

    def traced(self, velocity: ng.CoefficientFunction, start: np.ndarray, level: float) -> np.ndarray:
        """Where paths from `start` (3, n) cross the plane z = `level` [mm], (3, n); NaN for those that leave the mesh.

        Fourth order in strides of equal length.
        """
        return self._paths(velocity, start, level)[1]

    def _paths(
        self, velocity: ng.CoefficientFunction, start: np.ndarray, level: float
    ) -> tuple[list[np.ndarray], np.ndarray]:
        """The places after every stride, NaN for paths that have ended, and where they cross the `level`."""
        way = 1.0 if level > start[2, 0] else -1.0
        here, found = start.copy(), np.full_like(start, np.nan)
        alive = np.ones(start.shape[1], dtype=bool)

        def direction(places: np.ndarray) -> np.ndarray:
            at = self.mesh(*places)
            good = at["nr"] >= 0
            result = np.full(places.shape, np.nan)
            if good.any():
                flow = np.asarray(velocity(at[good])).T
                result[:, good] = way * flow / np.maximum(np.linalg.norm(flow, axis=0), 1e-300)
            return result

        path = []
        for _ in range(LONGEST):
            path.append(np.where(alive, here, np.nan))
            if not alive.any():
                break
            at = here[:, alive]
            first = direction(at)
            second = direction(at + 0.5 * STRIDE * np.nan_to_num(first))
            third = direction(at + 0.5 * STRIDE * np.nan_to_num(second))
            fourth = direction(at + STRIDE * np.nan_to_num(third))
            move = STRIDE / 6.0 * (first + 2.0 * second + 2.0 * third + fourth)
            gone = np.isnan(move).any(axis=0)
            move[:, gone] = STRIDE * np.nan_to_num(first[:, gone])  # beside the mesh: the last direction that is known
            gone = np.isnan(first).any(axis=0)
            after = at + move
            crossed = way * (after[2] - level) >= 0.0
            share = np.where(crossed, (level - at[2]) / np.where(move[2] == 0.0, 1.0, move[2]), 1.0)
            rows = np.flatnonzero(alive)
            found[:, rows[crossed & ~gone]] = (at + share * move)[:, crossed & ~gone]
            here[:, rows] = after
            alive[rows[crossed | gone]] = False
        return path, found

    def strained(self, velocity: ng.GridFunction, start: np.ndarray, level: float) -> np.ndarray:
        """Strain along the paths from `start` (3, n) to `level` [mm], (n,) [-]: the equivalent rate sqrt(2/3 D:D) over time."""
        rate = ng.Sym(ng.Grad(velocity))
        equivalent = ng.sqrt(2.0 / 3.0 * ng.InnerProduct(rate, rate))
        path, ends = self._paths(velocity, start, level)
        total = np.zeros(start.shape[1])
        for places in path:
            good = ~np.isnan(places).any(axis=0)
            at = self.mesh(*np.where(good, places, start))
            good &= at["nr"] >= 0
            speed = np.linalg.norm(np.asarray(velocity(at[good])), axis=1)
            total[good] += STRIDE * np.asarray(equivalent(at[good])).ravel() / np.maximum(speed, 1e-300)
        return np.where(np.isnan(ends).any(axis=0), np.nan, total)

    def hole_points(self, level: float, rings: int = 9) -> np.ndarray:
        """Points (3, n) spread evenly over half a hole at `level` [mm]."""
        places = []
        for i in range(rings):
            radius = INSIDE * self.hole * (i + 0.5) / rings
            turns = math.pi * (np.arange(3 * i + 3) + 0.5) / (3 * i + 3)
            places += [(self.ring + radius * math.cos(t), radius * math.sin(t), level) for t in turns]
        return np.array(places).T

    def excess(
        self, velocity: ng.CoefficientFunction, peclet_length: float, film: float, inlet: ng.CoefficientFunction
    ) -> ng.GridFunction:
        """Excess temperature over the metal's [-] of the `inlet`'s: advection and conduction at constant properties.

        `peclet_length` is rho c Q/k of the flow through the mesh [mm], `film` the walls' conductance over k [1/mm].
        """
        space = ng.H1(self.mesh, order=3, dirichlet="inlet")
        t, v = space.TnT()
        form = ng.BilinearForm(space)
        form += (ng.grad(t) * ng.grad(v) + peclet_length * (velocity * ng.grad(t)) * v) * ng.dx
        form += film * t * v * ng.ds("wall")
        form.Assemble()
        found = ng.GridFunction(space)
        found.Set(inlet, definedon=self.mesh.Boundaries("inlet"))
        rest = found.vec.CreateVector()
        rest.data = -(form.mat * found.vec)
        found.vec.data += form.mat.Inverse(space.FreeDofs(), inverse="umfpack") * rest
        return found

    def wedge_points(self, rings: int = 14) -> np.ndarray:
        """Points (3, n) of equal areas over the outlet, just inside the mesh."""
        places = []
        for i in range(rings):
            radius = 0.999 * self.bore * (i + 0.5) / rings
            turns = self.half * (np.arange(2 * i + 1) + 0.5) / (2 * i + 1)
            places += [(radius * math.cos(t), radius * math.sin(t), self.end - 1e-6) for t in turns]
        return np.array(places).T
