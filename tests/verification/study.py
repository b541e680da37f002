"""Galerkin or streamline-upwind: the entry problem with few cells, and a hot end over mesh levels."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.special import j0, j1

from meltzone.fem.discretise import discretise
from meltzone.fem.guess import first_guess
from meltzone.fem.inputs import Contacts, MaterialSet, Operation, Surroundings
from meltzone.fem.newton import Condition
from meltzone.fem.problem import Problem
from meltzone.fem.space import Space
from meltzone.fem.system import System
from meltzone.geometry.arrangement import Arrangement
from meltzone.materials import library

from .bodies import at_r, at_z, body, everywhere, growing
from .checks import Check, bound, group
from .chosen import RHO
from .manufactured import PECLETS, SIZES, Manufactured, convergence, order
from .series import robin_roots
from .solving import assemble, constant, linear_loss, plain_polymer
from .stabilised import Upwinding, solved_with
from .tube import ALPHA, COLD, HOT, RADIUS, RHO_C, K

STATION = 0.25  # Fo at which the profile is judged
END = 0.4
CELLS = (10, 20, 40)
CELL_PECLETS = (5.0, 50.0, 500.0)
WALLS = {"jump": np.inf, "film": 7.49}
LEVELS = (-1.0, 0.0, 1.0, 2.0)
REFERENCE_LEVEL = 3.0
FLOWS = (13e-9, 25e-9)  # [m3/s]


@dataclass(frozen=True)
class Quality:
    """How a way of discretising does: error of the axis [K] and of the profile (rms) [K], and overshoot [K], per 100 K."""

    core: float
    profile: float
    overshoot: float


def _exact(biot: float, peclet: float, s: np.ndarray, x: float) -> np.ndarray:
    """Temperature of the half-infinite tube with axial conduction at relative radii `s`, x/R = `x` [K]."""
    b = robin_roots(biot)
    weight = 2.0 * j1(b) / (b * (j0(b) ** 2 + j1(b) ** 2))
    decay = np.exp(-peclet / 2.0 * (np.sqrt(1.0 + 4.0 * b**2 / peclet**2) - 1.0) * x)
    return HOT - (HOT - COLD) * (j0(np.outer(s, b)) @ (weight * decay))


@cache
def entry_case(wall: str, cell_peclet: float, cells: int) -> dict[str, Quality]:
    """Both ways on even cells along the tube; 20 cells have the cell Peclet number U dx/(2 alpha) given."""
    peclet = float(np.sqrt(2.0 * cell_peclet * 20 / END))
    length = END * peclet * RADIUS
    system, start = _even_tube(wall, cells, length)
    flow = np.pi * RADIUS * ALPHA * peclet
    galerkin, _ = solved_with(None, system, start, flow)
    mass_flow = system.density * flow
    upwind, _ = solved_with(Upwinding(system, mass_flow, galerkin), system, start, flow)
    naive, _ = solved_with(Upwinding(system, mass_flow, galerkin, crosswise=0.0), system, start, flow)
    r, z = system.space.points
    row = np.flatnonzero(np.abs(z + length * STATION / END) < 1e-9 * length)
    row = row[np.argsort(r[row])]
    exact = _exact(WALLS[wall], peclet, r[row] / RADIUS, STATION * peclet)
    found = {}
    for name, t in (("galerkin", galerkin), ("upwind", upwind), ("naive", naive)):
        apart = t[row] - exact
        beyond = max(float(t.max()) - HOT, COLD - float(t.min()), 0.0)
        rms = float(np.sqrt(np.trapezoid(apart**2 * r[row], r[row]) * 2.0) / RADIUS)
        found[name] = Quality(float(apart[0]), rms, beyond)
    return found


def _even_tube(wall: str, cells: int, length: float) -> tuple[System, np.ndarray]:
    r = (1.0 - growing(0.03, 1.25, 1.0, 0.11))[::-1] * RADIUS
    even = np.linspace(-END, 0.0, cells + 1)
    # the station becomes a line of its own where no even line lies on it
    fourier = even if np.abs(even + STATION).min() < 1e-9 else np.sort(np.append(even, -STATION))
    z = fourier * length / END
    faces = {"wall": ("polymer", at_r(RADIUS)), "inlet": ("polymer", at_z(0.0)), "outlet": ("polymer", at_z(-length))}
    section = body(r, z, everywhere("polymer"), faces)
    space = Space(section)
    held, start = space.facet_dofs("inlet"), np.full(space.size, COLD)
    losses = {}
    if wall == "jump":
        held = np.union1d(held, space.facet_dofs("wall"))
        start[space.facet_dofs("wall")] = HOT
    else:
        losses["wall"] = linear_loss(WALLS[wall] * K / RADIUS, HOT)
    polymer = plain_polymer(K, 1000.0, RHO_C / 1000.0)
    stream = (space.points[0] / RADIUS) ** 2
    return assemble(section, {"polymer": constant(K)}, held, losses, (), polymer, stream, space=space), start


@dataclass(frozen=True, eq=False)
class HotEnd:
    """One way at one mesh level: unknowns, temperatures at the end of the melt zone [K], overshoot [K], the radial profile."""

    unknowns: int
    core: float
    inner: float
    mean: float
    power: float
    overshoot: float
    radius: np.ndarray
    profile: np.ndarray


def hot_end_problem(level: float) -> Problem:
    """The short block with PLA at 210 degC."""
    pick = library.solid
    materials = MaterialSet(
        polymer=library.polymer("pla"),
        block=pick("aluminium"),
        nozzle=pick("brass"),
        heat_break=pick("stainless_steel"),
        air=library.air(),
    )
    return Problem(Arrangement(), materials, Contacts(), Surroundings(), Operation(setpoint=483.15), level)


@cache
def hot_end(level: float, flow: float = 13e-9) -> dict[str, HotEnd]:
    """Both ways at a mesh level, flow given [m3/s]."""
    system = discretise(hot_end_problem(level))
    condition = Condition(system.sensor, system.problem.operation.setpoint)
    guess = first_guess(system, flow)
    plain, power = solved_with(None, system, guess.temperature, flow, guess.power, condition)
    upwinding = Upwinding(system, system.density * flow, plain)
    upwind, upwind_power = solved_with(upwinding, system, plain, flow, power, condition)
    return {"galerkin": _read(system, plain, power), "upwind": _read(system, upwind, upwind_power)}


def _read(system: System, t: np.ndarray, power: float) -> HotEnd:
    judged, space = system.judged, system.space
    dofs = judged["mean"].dofs
    row = dofs[np.argsort(space.points[0, dofs])]
    block = t[space.dofs_of("block")].max()
    polymer = t[space.dofs_of("polymer")]
    cold = system.problem.operation.inlet_temperature
    beyond = max(cold - float(polymer.min()), float(polymer.max() - block), 0.0)
    return HotEnd(
        space.size,
        judged["core"].of(t),
        judged["inner"].of(t),
        judged["mean"].of(t),
        power,
        beyond,
        space.points[0, row],
        t[row],
    )


def profile_error(one: HotEnd, reference: HotEnd) -> float:
    """Root mean square over the section of the difference of two profiles at the end of the melt zone [K]."""
    r = np.linspace(0.0, reference.radius[-1], 200)
    apart = np.interp(r, one.radius, one.profile) - np.interp(r, reference.radius, reference.profile)
    return float(np.sqrt(np.trapezoid(apart**2 * r, r) * 2.0) / r[-1])


@cache
def upwind_convergence(peclet: float) -> np.ndarray:
    """Rows of n, L2 and H1 error of the streamline-upwind variant on the manufactured solution."""
    rows = []
    for n in SIZES:
        case = Manufactured(n, peclet)
        plain = case.solution()
        upwinding = Upwinding(case.system, case.mass_flow, plain, case.volume_source)
        t, _ = solved_with(upwinding, case.system, plain, case.mass_flow / RHO, 1.0)
        rows.append([n, *case.errors(t)])
    return np.array(rows)


@group("stabilisation", "Galerkin or streamline-upwind")
def study_checks() -> list[Check]:
    """A streamline-upwind variant, consistent to the second derivatives of the biquadratic shapes, against the
    solver's Galerkin form. These rows hold the conclusions below to their numbers.
    """
    return [*_entry_checks(), *_hot_end_checks(), *_order_checks()]


def worst_axis(way: str) -> float:
    """Largest error on the axis over all entry cases [K], of 100 K."""
    return max(abs(entry_case(w, p, n)[way].core) for w in WALLS for p in CELL_PECLETS for n in CELLS)


def hot_end_gap() -> float:
    """Largest difference of the core between both ways at the default mesh level [K]."""
    both = [hot_end(1.0, flow) for flow in FLOWS]
    return max(abs(b["galerkin"].core - b["upwind"].core) for b in both)


def _entry_checks() -> list[Check]:
    series = "series with axial conduction"
    plain, upwind, naive = (worst_axis(way) for way in ("galerkin", "upwind", "naive"))
    return [
        bound(
            "upwind-entry-galerkin", "axis, worst entry case, Galerkin, of 100 K", series, "at most", 0.05, plain, "K"
        ),
        bound("upwind-entry-supg", "axis, worst entry case, upwind, of 100 K", series, "at most", 0.05, upwind, "K"),
        bound(
            "upwind-entry-better", "Galerkin's worst over upwind's worst", "comparison", "at most", 1.0, plain / upwind
        ),
        bound("upwind-naive", "axis, worst, upwind without the crosswise bound", series, "at least", 0.3, naive, "K"),
    ]


def _hot_end_checks() -> list[Check]:
    here = [hot_end(1.0, flow)["galerkin"] for flow in FLOWS]
    fine = [hot_end(REFERENCE_LEVEL, flow)["galerkin"] for flow in FLOWS]
    moved = max(abs(h.core - f.core) for h, f in zip(here, fine, strict=True))
    beyond = max(h.overshoot for h in here)
    claim = "core of the hot end"
    return [
        bound(
            "upwind-hot-end",
            f"{claim}, Galerkin less upwind, level 1",
            "comparison",
            "at most",
            0.01,
            hot_end_gap(),
            "K",
        ),
        bound("upwind-hot-end-mesh", f"{claim}, level 1 less level 3", "comparison", "at most", 0.02, moved, "K"),
        bound(
            "upwind-overshoot", "overshoot of the hot end, Galerkin, level 1", "bounds", "at most", 0.05, beyond, "K"
        ),
    ]


def _order_checks() -> list[Check]:
    theory = "theory of streamline-upwind (Johnson 1987, from memory): order p + 1/2 = 2.5 in L2 assured"
    upwind, plain = upwind_convergence(PECLETS["advection"]), convergence(PECLETS["advection"])
    gain = plain[-1, 1] / upwind[-1, 1]
    claim = "Galerkin's L2 error over upwind's, advection alone, 64 cells"
    return [
        bound("upwind-mms-L2", "order in L2, upwind, advection alone", theory, "at least", 2.5, order(upwind[:, 1])),
        Check("upwind-mms-H1", "order in H1, upwind, advection alone", theory, 2.0, order(upwind[:, 2]), 0.15),
        bound("upwind-mms-gain", claim, "comparison", "at least", 5.0, gain),
    ]
