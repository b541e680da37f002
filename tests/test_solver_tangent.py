"""Newton's tangent against central differences, term by term and part by part; convergence as a true Newton converges."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from functools import partial

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.sparse.linalg import splu
from scipy.special import j0, j1
from support import JET, KINDS, STILL, problem_for, smooth_random, system_of, usual_problem

from meltzone.fem.contact import BoreLaw
from meltzone.fem.forms import contact_heat, contact_slope, outflow, outflow_slope, surface_loss, surface_slope
from meltzone.fem.heated_bar import softening_fourier
from meltzone.fem.limits import melt_ceiling
from meltzone.fem.linearise import Linearisation
from meltzone.fem.problem import Problem
from meltzone.fem.sparse import scatter
from meltzone.fem.steady import solve_at_flow

STEP = 2e-4  # K: large enough for round-off, small enough for the third derivatives
AGREES = 2e-6
FLOW = 12e-9


def direction(problem: Problem, seed: int = 7) -> np.ndarray:
    d = np.random.default_rng(seed).standard_normal(system_of(problem).space.size)
    d[system_of(problem).inlet] = 0.0
    return d


def off(found: np.ndarray, expected: np.ndarray) -> float:
    size = float(np.linalg.norm(expected))
    assert size > 0.0  # a term that does nothing would prove nothing
    return float(np.linalg.norm(found - expected)) / size


@pytest.mark.parametrize(
    ("kind", "plastic"),
    [
        ("short", "pla"),
        ("short", "abs"),
        ("sleeve wrapped", "pa6"),
        ("rings", "pp"),
        ("thick filament", "petg"),
        ("boot", "pc"),
    ],
)
def test_tangent_of_the_whole_balance_on_every_part(kind: str, plastic: str) -> None:
    problem = problem_for(kind, plastic, level=-1.0, surroundings=JET, profile_exponent=0.4)
    system = system_of(problem)
    state, d = smooth_random(problem), direction(problem)
    tangent = Linearisation.at(system, state, FLOW, 20.0).tangent() @ d
    plus, minus = (Linearisation.at(system, state + s * STEP * d, FLOW, 20.0).free_residual for s in (1.0, -1.0))
    difference = (plus - minus) / (2.0 * STEP)
    for part in system.space.section.parts:
        here = system.space.dofs_of(part)
        assert off(difference[here], tangent[here]) < AGREES, part


@pytest.mark.parametrize("fan", [False, True])
def test_tangent_of_every_face_and_contact_by_itself(fan: bool) -> None:
    problem = usual_problem("sleeve wrapped", fan, -1.0)
    system, d = system_of(problem), direction(problem)
    state = smooth_random(problem, seed=3)
    size = system.space.size
    terms: list[tuple[str, np.ndarray, Callable[[np.ndarray], np.ndarray], np.ndarray]] = [
        (f.name, f.facets.dofs, partial(surface_loss, f), surface_slope(f, state)) for f in system.faces
    ]
    terms += [(c.name, c.dofs, partial(contact_heat, c, flow=FLOW), contact_slope(c, FLOW)) for c in system.contacts]
    seen = set()
    for name, dofs, form, matrix in terms:
        tangent = scatter([np.einsum("eij,ej->ei", matrix, d[dofs])], [dofs], size)
        plus, minus = (scatter([form(state + s * STEP * d)], [dofs], size) for s in (1.0, -1.0))
        assert off((plus - minus) / (2.0 * STEP), tangent) < AGREES, name
        seen.add(name)
    assert {"bore", "thread", "shoulder", "wrap", "sleeve thread", "cold end", "wrap side", "neck"} <= seen


@pytest.mark.parametrize("plastic", ["pla", "pa6", "abs"])
def test_tangent_of_the_enthalpy_that_leaves(plastic: str) -> None:
    problem = problem_for("short", plastic, level=-1.0)
    system, d = system_of(problem), direction(problem)
    centre = problem.materials.polymer.melting_peak if problem.materials.polymer.melting_enthalpy else 420.0
    state = np.full(system.space.size, centre + 2.0)  # in the middle of melting, where the enthalpy bends most
    tangent = np.einsum("eij,ej->ei", outflow_slope(system, state), d[system.outlet.dofs])
    plus, minus = (outflow(system, state + s * STEP * d) for s in (1.0, -1.0))
    assert off((plus - minus) / (2.0 * STEP), tangent) < AGREES


def test_tangent_through_the_melting_peak() -> None:
    problem = problem_for("short", "pa6", level=-1.0)
    system, d = system_of(problem), direction(problem)
    peak, width = problem.materials.polymer.melting_peak, problem.materials.polymer.melting_width
    state = peak + 0.4 * width * np.sin(900.0 * system.space.points[1])
    tangent = Linearisation.at(system, state, 50e-9, 20.0).tangent() @ d
    plus, minus = (Linearisation.at(system, state + s * STEP * d, 50e-9, 20.0).free_residual for s in (1.0, -1.0))
    here = system.space.dofs_of("polymer")
    assert off(((plus - minus) / (2.0 * STEP))[here], tangent[here]) < AGREES


def test_bore_law_goes_from_gas_to_melt_and_knows_its_slope() -> None:
    law = BoreLaw(gas=280.0, melt=4000.0, top=16.5e-3, softening_length=2e-3 / 10e-9, holes=None)
    heights = np.linspace(0.5e-3, 17e-3, 331)
    flow, step = 10e-9, 1e-14
    plus, minus = law(heights, flow + step)[0], law(heights, flow - step)[0]
    assert np.allclose((plus - minus) / (2.0 * step), law(heights, flow)[1], rtol=1e-6, atol=1e-3 * 4000.0 / flow)
    assert law(np.array([16.5e-3 - 2e-3]), flow)[0] == pytest.approx(2140.0)  # half way where the skin softens
    assert law(np.array([17e-3]), flow)[0] == pytest.approx(280.0)
    assert law(np.array([-1.0]), flow)[0] == pytest.approx(4000.0)
    # twice the flow, twice the way
    assert law(np.array([16.5e-3 - 4e-3]), 2.0 * flow)[0] == pytest.approx(2140.0)


@pytest.mark.parametrize(("biot", "theta"), [(0.5, 0.93), (1.0, 0.9), (1.4, 0.85), (1.4, 0.93)])
def test_softening_of_the_skin_is_near_the_exact_series_of_the_cylinder(biot: float, theta: float) -> None:
    # theta(R) = sum 2 Bi/(b^2 + Bi^2) exp(-b^2 Fo) with b J1(b) = Bi J0(b),
    # the cylinder with surface exchange of Carslaw and Jaeger; the half-space that the
    # law uses lacks the curvature: a skin on a rod warms sooner, by a third of the way at most
    fourier = softening_fourier(theta, biot)
    grid = np.linspace(1e-6, 200.0, 400001)
    sign = grid * j1(grid) - biot * j0(grid)
    roots = [
        brentq(lambda b: b * j1(b) - biot * j0(b), x0, x1)
        for x0, x1, f0, f1 in zip(grid[:-1], grid[1:], sign[:-1], sign[1:], strict=True)
        if f0 * f1 < 0.0
    ]
    b = np.array(roots)
    weights = 2.0 * biot / (b**2 + biot**2)

    def skin(fo: float) -> float:
        return float(weights @ np.exp(-(b**2) * fo))

    assert skin(0.0) == pytest.approx(1.0, abs=0.02)  # the series starts from a cold rod
    exact = brentq(lambda fo: skin(fo) - theta, 1e-5, 5.0)
    assert 0.6 * fourier < exact <= 1.02 * fourier


def test_a_skin_that_never_softens_and_one_that_is_soft_already() -> None:
    assert softening_fourier(-0.1, 1.0) == math.inf
    assert softening_fourier(1.2, 1.0) == 0.0


@pytest.mark.parametrize("kind", ["short", "sleeve wrapped"])
def test_derivatives_by_flow_and_power_are_exact(kind: str) -> None:
    problem = usual_problem(kind, level=-1.0)
    system, state = system_of(problem), smooth_random(problem)
    here = Linearisation.at(system, state, FLOW, 20.0)
    step = 1e-4 * FLOW
    plus, minus = (Linearisation.at(system, state, FLOW + s * step, 20.0).residual for s in (1.0, -1.0))
    assert off(here.by_flow, (plus - minus) / (2.0 * step)) < AGREES
    # the balance is linear in the power, so a difference over any step is the derivative
    by_power = (Linearisation.at(system, state, FLOW, 35.0).residual - here.residual) / 15.0
    assert off(-system.source, by_power) < 1e-11
    assert system.source.sum() == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_newton_s_own_iteration_converges_quadratically(kind: str) -> None:
    # plain Newton at fixed flow and power on the assembled residual and tangent, from some kelvin beside the answer
    field = solve_at_flow(system_of(usual_problem(kind, True, -1.0)), FLOW)
    system, answer = field.system, field.temperature
    r, z = system.space.points
    state = answer + 12.0 * np.sin(700.0 * r) * np.cos(300.0 * z)
    state[system.inlet] = answer[system.inlet]
    errors = [float(np.abs(state - answer).max())]
    for _ in range(6):
        here = Linearisation.at(system, state, field.flow, field.power)
        state = state - splu(here.tangent()).solve(here.free_residual)
        errors.append(float(np.abs(state - answer).max()))
    assert errors[-1] < 1e-4  # the answer itself is good to the tolerance of its own iteration
    near = [(a, b) for a, b in itertools.pairwise(errors) if 0.05 < a < 5.0]
    assert near
    for before, after in near:
        assert after < max(0.2 * before**2, 1e-3)


def test_starting_from_the_answer_costs_at_most_one_factorisation() -> None:
    problem = usual_problem("short", level=-1.0)
    first = melt_ceiling(system_of(problem))
    again = melt_ceiling(system_of(problem), first.state)
    assert first.factorisations > 1
    assert again.factorisations <= 1
    assert again.flow == pytest.approx(first.flow, rel=1e-8)


# the motion that the tangent's advection rests on -----------------------------------------------------------------------


@pytest.mark.parametrize("exponent", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("kind", ["short", "long nozzle", "thick filament"])
def test_flow_is_free_of_divergence_and_whole_at_every_section(kind: str, exponent: float) -> None:
    system = system_of(problem_for(kind, level=0.0, surroundings=STILL, profile_exponent=exponent))
    space, chosen = system.space, system.polymer_cells
    cells = space.cells
    n_q = cells.values.shape[1]
    # weakly: the integral of m . grad v vanishes for every v that is zero at both ends
    load = -np.einsum("eij,ej->ei", cells.gradients[chosen], system.drift)
    out = np.einsum("eiq,eq->ei", system.outlet.values, system.outlet_share)
    divergence = scatter([load, out], [cells.dofs[chosen], system.outlet.dofs], space.size)
    divergence[system.inlet] = 0.0
    assert np.abs(divergence).max() < 1e-13
    # what passes a section is the stream function at the wall less that on the axis
    r, z = space.points
    polymer = space.dofs_of("polymer")
    for level in np.unique(np.round(z[polymer], 12)):
        row = polymer[np.abs(z[polymer] - level) < 1e-10]
        order = row[np.argsort(r[row])]
        assert system.stream[order[0]] == pytest.approx(0.0, abs=1e-12)
        assert system.stream[order[-1]] == pytest.approx(1.0, abs=1e-12)
    assert system.outlet_share.sum() == pytest.approx(1.0, abs=1e-12)
    assert system.judged["mean"].weights.sum() == pytest.approx(1.0, abs=1e-12)
    # nowhere upwards
    assert (system.drift[:, n_q:] / cells.area[chosen]).max() <= 1e-9 * np.abs(system.drift[:, n_q:]).max()


@pytest.mark.parametrize("exponent", [0.0, 0.25, 1.0])
def test_profile_of_the_filled_bore_is_that_of_a_power_law_fluid(exponent: float) -> None:
    # u/U = (3n+1)/(n+1) (1 - s^((n+1)/n)) for fully developed pipe flow; plug for n = 0
    # the interpolated stream function has second order slopes: a level up halves the number of cells' area and the error
    coarse, fine = (
        _profile_error(problem_for("short", level=x, profile_exponent=exponent), exponent) for x in (1.0, 3.0)
    )
    assert coarse < 0.01
    assert fine < max(coarse / 2.5, 1e-9)


def _profile_error(problem: Problem, n: float) -> float:
    """Root mean square over the bore's section of the departure of u/U from the exact profile [-]."""
    system, radius = system_of(problem), problem.arrangement.nozzle.bore / 2.0
    cells, chosen = system.space.cells, system.polymer_cells
    n_q = cells.values.shape[1]
    r, z = (np.einsum("ei,iq->eq", x[cells.dofs[chosen]], cells.values) for x in system.space.points)
    speed = -system.drift[:, n_q:] / cells.volume[chosen] * math.pi * radius**2
    straight = (z > 4e-3) & (z < 15e-3)
    s = r[straight] / radius
    exact = np.ones_like(s) if n == 0.0 else (3 * n + 1) / (n + 1) * (1 - s ** ((n + 1) / n))
    weight = cells.volume[chosen][straight]
    return float(np.sqrt(np.sum(weight * (speed[straight] - exact) ** 2) / weight.sum()))
