"""A manufactured solution of the whole operator: k(T), enthalpy with melting, a converging flow, a bore contact, radiation."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from meltzone.fem.space import Facets, Space
from meltzone.fem.sparse import scatter
from meltzone.fem.surroundings import loss_curve
from meltzone.fem.system import System
from meltzone.geometry.faces import ExposedFace
from meltzone.materials.curves import Curve

from .bodies import at_r, at_z, body
from .checks import Check, bound, group
from .chosen import (
    EMISSIVITY,
    FILM,
    MELTING,
    OUTER,
    PEAK,
    RHO,
    TAPER,
    WIDTH,
    Field,
    L,
    R,
    across,
    bent,
    bore_law,
    exact,
    lost,
)
from .films import air_at, still
from .solving import assemble, melting_polymer, solved


def line(name: str, slope: float, intercept: float, step: float) -> Curve:
    """A straight line as a table from 100 to 1100 K, which the solver's curve reproduces exactly inside."""
    temperatures = np.arange(100.0, 1101.0, step)
    return Curve(name, "SI", temperatures, intercept + slope * (temperatures - 300.0), "input of a check")


@dataclass(frozen=True, eq=False)
class Manufactured:
    """The problem on a mesh of n x n cells in the polymer and n/2 x n in the shell, at a Peclet number U R/alpha."""

    n: int
    peclet: float

    @property
    def mass_flow(self) -> float:
        """Mass flow [kg/s]; alpha of k = 0.18 W/m/K and 2000 J/kg/K."""
        return self.peclet * np.pi * R * 0.18 / 2000.0

    @cached_property
    def space(self) -> Space:
        """Graded towards the bore wall and the outlet, tapered, with wavy lines inside."""
        s = np.linspace(0.0, 1.0, self.n + 1)
        grown = (np.exp(1.2 * s) - 1.0) / (np.exp(1.2) - 1.0)
        shell = R + (OUTER - R) * np.linspace(0.0, 1.0, self.n // 2 + 1)
        parts = lambda r, z: np.where(r < R, "polymer", "shell")  # noqa: E731
        faces = {
            "inlet": ("polymer", at_z(L)),
            "outlet": ("polymer", at_z(0.0)),
            "side": ("shell", at_r(OUTER)),
            "shell bottom": ("shell", at_z(0.0)),
            "shell top": ("shell", at_z(L)),
        }
        lines = np.concatenate([R * (1.0 - grown[::-1]), shell[1:]])
        section = body(lines, L * grown, parts, faces, (("polymer", "shell", at_r(R)),), bent)
        return Space(section)

    @cached_property
    def system(self) -> System:
        """The solver's system with the manufactured sources as a load for 1 W."""
        space = self.space
        polymer = melting_polymer(
            line("conductivity", 2e-4, 0.15, 100.0),
            line("heat capacity", 2.0, 1500.0, 100.0),
            _density(),
            MELTING,
            PEAK,
            WIDTH,
        )
        face = ExposedFace("side", "shell", "side", 0.01, 0.01, 1.0)
        loss = loss_curve(face, air_at(), still({"side": FILM}), EMISSIVITY)
        conductors = {"polymer": polymer.conductivity, "shell": line("conductivity", 0.01, 15.0, 100.0)}
        return assemble(
            space.section,
            conductors,
            np.union1d(space.facet_dofs("inlet"), space.facet_dofs("shell top")),
            {"side": loss},
            (bore_law(self.mass_flow / RHO),),
            polymer,
            self.stream,
            self._load(),
            space=space,
        )

    @property
    def stream(self) -> np.ndarray:
        """The plug's stream function in the tapered bore at the unknowns [-]."""
        space = self.space
        stream = np.zeros(space.size)
        inside = space.dofs_of("polymer")
        r, z = space.points[:, inside]
        stream[inside] = (r / (R * (1.0 + TAPER * z / L))) ** 2
        return stream

    @cached_property
    def volume_source(self) -> np.ndarray:
        """The manufactured source at the quadrature points [W/m3]."""
        r, z = self.space.basis.global_coordinates().value
        result = np.zeros_like(r)
        for part in ("polymer", "shell"):
            cells = self.space.cells_of(part)
            result[cells] = exact(part).source(r[cells], z[cells], self.mass_flow)
        return result

    def _load(self) -> np.ndarray:
        space, cells = self.space, self.space.cells
        loads, dofs = [(self.volume_source * cells.volume) @ cells.values.T], [cells.dofs]
        pair = space.section.contacts[0]
        tilt = TAPER / L
        bore, side = np.array([1.0, -R * tilt]), np.array([1.0, -OUTER * tilt])
        for facets, part, normal, extra in (
            (pair.facets_first, "polymer", bore, across),
            (pair.facets_second, "shell", -bore, lambda r, z: -across(r, z)),
            (space.section.mesh.boundaries["side"], "shell", side, lost),
            (space.section.mesh.boundaries["outlet"], "polymer", np.array([0.0, -1.0]), None),
            (space.section.mesh.boundaries["shell bottom"], "shell", np.array([0.0, -1.0]), None),
        ):
            face = space.facets(facets)
            loads.append(_surface_load(face, part, normal / np.linalg.norm(normal), extra))
            dofs.append(face.dofs)
        return scatter(loads, dofs, space.size)

    def exact_at(self, points: np.ndarray, part: str) -> np.ndarray:
        """The chosen temperature [K] at `points` (2, ...) [m]."""
        return np.asarray(exact(part).value(points[0], points[1]))

    @cached_property
    def interpolant(self) -> np.ndarray:
        """The chosen temperature at the unknowns [K]."""
        result = np.empty(self.space.size)
        for part in ("polymer", "shell"):
            dofs = self.space.dofs_of(part)
            result[dofs] = self.exact_at(self.space.points[:, dofs], part)
        return result

    def start(self) -> np.ndarray:
        """A start away from the solution, with the held values in place [K]."""
        start = np.full(self.space.size, 420.0)
        start[self.system.inlet] = self.interpolant[self.system.inlet]
        return start

    def solution(self) -> np.ndarray:
        """The solver's answer [K]."""
        return solved(self.system, self.start(), self.mass_flow / RHO, 1.0)

    def errors(self, temperature: np.ndarray) -> tuple[float, float]:
        """Error in the norms L2 [K] and H1 [K/mm], root mean square over the body's volume."""
        cells = self.space.cells
        r, z = self.space.basis.global_coordinates().value
        n_q = r.shape[1]
        local = temperature[cells.dofs]
        value, slope = local @ cells.values, np.einsum("ei,eij->ej", local, cells.gradients)
        for part in ("polymer", "shell"):
            here = self.space.cells_of(part)
            e = exact(part)
            value[here] -= e.value(r[here], z[here])
            slope[here] -= np.hstack([e.by_r(r[here], z[here]), e.by_z(r[here], z[here])])
        total = cells.volume.sum()
        square = slope[:, :n_q] ** 2 + slope[:, n_q:] ** 2
        return float(np.sqrt(np.sum(value**2 * cells.volume) / total)), float(
            np.sqrt(np.sum(square * cells.volume) / total)
        ) / 1e3

    @property
    def cell_peclet(self) -> float:
        """Largest U h/(2 alpha) of the polymer's cells, h their height [-]."""
        mesh = self.space.section.mesh
        z = mesh.p[1][mesh.t[:, self.space.cells_of("polymer")]]
        return self.peclet * float((z.max(axis=0) - z.min(axis=0)).max()) / R / 2.0


def _density() -> Curve:
    return Curve.constant("density", "kg/m3", RHO, "input of a check")


def _surface_load(face: Facets, part: str, normal: np.ndarray, extra: Field | None) -> np.ndarray:
    """Load of k dT/dn plus what the face's own law takes."""
    e, (r, z) = exact(part), face.points
    flux = e.conductivity(r, z) * (e.by_r(r, z) * normal[0] + e.by_z(r, z) * normal[1])
    if extra:
        flux = flux + extra(r, z)
    return np.einsum("eiq,eq->ei", face.values, flux * face.area)


SIZES = (4, 8, 16, 32, 64)
PECLETS = {"conduction": 1.0, "hot-end": 50.0, "advection": 1e5}


@cache
def convergence(peclet: float) -> np.ndarray:
    """Rows of n, L2 error, H1 error, L2 error of the interpolant, H1 error of the interpolant, cell Peclet."""
    rows = []
    for n in SIZES:
        case = Manufactured(n, peclet)
        rows.append([n, *case.errors(case.solution()), *case.errors(case.interpolant), case.cell_peclet])
    return np.array(rows)


def order(errors: np.ndarray) -> float:
    """Observed order between the two finest meshes."""
    return float(np.log2(errors[-2] / errors[-1]))


THEORY = "interpolation theory of quadratic elements: order 3 in L2, 2 in H1"
ADVECTIVE = "theory of Galerkin's method without diffusion (Johnson 1987, from memory): order 2 in L2, 1 in H1 assured"


@group("manufactured", "Manufactured solution of the whole operator")
def manufactured_checks() -> list[Check]:
    """k(T), melting enthalpy, a converging stream function, a contact whose conductance follows height and flow, film and
    radiation outside; the mesh is graded, tapered and wavy. Sources are derived symbolically. Orders are observed
    between 32 and 64 cells; magnitude is told by the ratio to the error of interpolating the exact field on the
    same mesh. U R/alpha is 1 (conduction), 50 (a hot end at its ceiling; the errors there still fall faster than
    order 3 towards the interpolation error), and 100,000 (advection alone). In the last the aim of order 3 is NOT
    met: without stabilisation only order 2 is assured, and that is what is seen.
    """
    low, middle, high = (convergence(peclet) for peclet in PECLETS.values())
    cell = f"cell Peclet {high[-1, 5]:.2g}"
    return [
        *_orders("conduction", low, 1.1),
        *_orders("hot-end", middle, 2.0),
        Check("mms-advection-L2", f"order in L2, {cell}", ADVECTIVE, 2.0, order(high[:, 1]), 0.15),
        bound("mms-advection-H1", f"order in H1, {cell}", ADVECTIVE, "at least", 1.0, order(high[:, 2])),
        bound("mms-advection-size", f"L2 error, {cell}, field of 100 K", "bound", "at most", 0.01, high[-1, 1], "K"),
    ]


def _orders(name: str, table: np.ndarray, size: float) -> list[Check]:
    """Orders and magnitudes where conduction still counts; L2 error at most `size` times that of interpolation."""
    cell = f"cell Peclet {table[-1, 5]:.2g}"
    in_l2, in_h1 = order(table[:, 1]), order(table[:, 2])
    over_l2, over_h1 = table[-1, 1] / table[-1, 3], table[-1, 2] / table[-1, 4]
    first = (
        Check("mms-conduction-L2", f"order in L2, {cell}", THEORY, 3.0, in_l2, 0.15)
        if name == "conduction"
        else bound(f"mms-{name}-L2", f"order in L2, {cell}", THEORY, "at least", 2.85, in_l2)
    )
    return [
        first,
        Check(f"mms-{name}-H1", f"order in H1, {cell}", THEORY, 2.0, in_h1, 0.15),
        bound(f"mms-{name}-size-L2", f"L2 error over interpolation error, {cell}", "bound", "at most", size, over_l2),
        bound(f"mms-{name}-size-H1", f"H1 error over interpolation error, {cell}", "bound", "at most", 1.1, over_h1),
    ]
