"""Slow flow of the melt: cone and pipe in closed form, a manufactured solution, work equal to heat, mass, lubrication."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.sparse import csc_matrix
from skfem import MeshQuad

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.fem.discretise import discretise
from meltzone.fem.field import Field
from meltzone.fem.limits import melt_ceiling
from meltzone.fem.rheology import section_flow
from meltzone.fem.slow_flow.creep import Creep, Flowing, solve_creep
from meltzone.fem.slow_flow.feeding import feeding
from meltzone.fem.slow_flow.stokes import MeltFlow, Passage, melt_flow, melt_flow_of
from meltzone.fem.slow_flow.taylor_hood import FlowSpace
from meltzone.fem.steady import solve_at_flow
from meltzone.materials.polymer import CrossWLF

# at n = 1 the Cross law halves the viscosity at rest
NEWTONIAN = CrossWLF(n=1.0 - 1e-9, tau_star=1e5, D1=2.0, D2=150.0, A1=1e-12, A2=51.6)
THINNING = CrossWLF(n=0.3, tau_star=0.5, D1=1.0, D2=150.0, A1=1e-12, A2=51.6)
HALF_ANGLE = math.radians(30.0)
Flow = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]
Scalar = Callable[[np.ndarray, np.ndarray], np.ndarray]


def cone(n: int) -> FlowSpace:
    """A truncated cone about the axis, from 1 to 2 along the axis from its apex."""
    mesh = MeshQuad.init_tensor(np.linspace(0.0, 1.0, n + 1), np.linspace(1.0, 2.0, n + 1))
    mesh = MeshQuad(np.vstack([mesh.p[0] * mesh.p[1] * math.tan(HALF_ANGLE), mesh.p[1]]), mesh.t)
    return FlowSpace(mesh, np.arange(mesh.nelements))


def rates_of(flow: Flow, r: np.ndarray, z: np.ndarray, step: float = 1e-5) -> np.ndarray:
    """Rates of strain of a velocity given in closed form, by central differences: rr, zz, hoop, sqrt(2) rz."""
    by_r = [(a - b) / (2.0 * step) for a, b in zip(flow(r + step, z), flow(r - step, z), strict=True)]
    by_z = [(a - b) / (2.0 * step) for a, b in zip(flow(r, z + step), flow(r, z - step), strict=True)]
    return np.stack([by_r[0], by_z[1], flow(r, z)[0] / r, (by_z[0] + by_r[1]) / math.sqrt(2.0)], axis=2)


def solved(space: FlowSpace, flow: Flow, pressure: Scalar, law: CrossWLF, rest: Scalar, body: bool) -> Flowing:
    """Flow held to `flow` on top and wall, pushed below by its own stress; with `body` by its own forces inside too."""
    r, z = np.asarray(space.basis.global_coordinates())
    n, size = space.cells.size, space.size
    none = csc_matrix((2 * size, 2 * size))
    creep = Creep(space, law, rest(r, z), np.empty(0, dtype=int), np.empty(0), none)
    rates = rates_of(flow, r, z)
    stress = 2.0 * creep.viscosity(rates)[0][:, :, None] * rates
    stress[:, :, :3] -= pressure(r, z)[:, :, None]
    local = np.matmul((space.volume[:, :, None] * stress).reshape(n, 1, -1), space.strain.reshape(n, -1, 18))[:, 0]
    load = np.bincount(space.dofs.ravel(), local.ravel(), 2 * size)
    nodes_r, nodes_z = space.points
    below, axis = nodes_z < 1.0 + 1e-9, nodes_r < 1e-9
    wall = nodes_r > nodes_z * math.tan(HALF_ANGLE) - 1e-9
    stuck = wall | (nodes_z > 2.0 - 1e-9)
    if not body:
        load[~np.tile(below, 2)] = 0.0
    fixed = np.flatnonzero(np.concatenate([stuck | axis, stuck]))
    exact = np.concatenate(flow(nodes_r, nodes_z))
    return solve_creep(replace(creep, fixed=fixed, held=exact[fixed], load=load))


def errors(found: Flowing, flow: Flow, pressure: Scalar) -> tuple[float, float]:
    """Mean square errors of velocity and pressure, relative."""
    space = found.creep.space
    r, z = np.asarray(space.basis.global_coordinates())
    exact, p = flow(r, z), pressure(r, z)
    parts = [space.at_points(part) for part in found.velocity.reshape(2, -1)]
    miss = sum(np.sum((a - b) ** 2 * space.volume) for a, b in zip(parts, exact, strict=True))
    whole = sum(np.sum(b**2 * space.volume) for b in exact)
    p_miss = found.pressure[space.pressure_dofs] @ space.pressure_values - p
    return math.sqrt(miss / whole), math.sqrt(np.sum(p_miss**2 * space.volume) / np.sum(p**2 * space.volume))


def to_the_apex(r: np.ndarray, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Creeping flow to the apex of a cone of half angle a, viscosity 1: -(cos^2 t - cos^2 a) / R^2 along the radius R.

    Harrison 1920, Proc. Cambridge Phil. Soc. 19:307 (from memory); derived anew from the equations in spherical coordinates.
    """
    far = np.hypot(r, z)
    speed = -((z / far) ** 2 - math.cos(HALF_ANGLE) ** 2) / far**2
    return speed * r / far, speed * z / far


def apex_pressure(r: np.ndarray, z: np.ndarray) -> np.ndarray:
    """The pressure that goes with it: -2 (cos^2 t - 1/3) / R^3."""
    far = np.hypot(r, z)
    return -2.0 * ((z / far) ** 2 - 1.0 / 3.0) / far**3


def made_up(r: np.ndarray, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A velocity free of divergence: of the stream function r^2 (1 + r^2) sin z cos z / 2."""
    return -(r + r**3) * np.cos(2.0 * z) / 2.0, (2.0 + 4.0 * r**2) * np.sin(2.0 * z) / 4.0


def ones(r: np.ndarray, z: np.ndarray) -> np.ndarray:
    return np.full_like(r, 2.0)


def varied(r: np.ndarray, z: np.ndarray) -> np.ndarray:
    return 3.0 * np.exp(2.0 * np.sin(3.0 * z) - r)


def test_creeping_flow_to_the_apex_of_a_cone() -> None:
    coarse, fine = (solved(cone(n), to_the_apex, apex_pressure, NEWTONIAN, ones, body=False) for n in (6, 12))
    before, after = errors(coarse, to_the_apex, apex_pressure), errors(fine, to_the_apex, apex_pressure)
    assert after[0] < 1e-4
    assert after[1] < 5e-3
    assert math.log2(before[0] / after[0]) > 2.7  # three orders for the velocity, two for the pressure
    assert math.log2(before[1] / after[1]) > 1.8


def test_order_of_convergence_where_the_melt_thins_and_varies() -> None:
    def pressure(r: np.ndarray, z: np.ndarray) -> np.ndarray:
        return np.cos(2.0 * r) * z

    coarse, fine = (solved(cone(n), made_up, pressure, THINNING, varied, body=True) for n in (6, 12))
    before, after = errors(coarse, made_up, pressure), errors(fine, made_up, pressure)
    assert math.log2(before[0] / after[0]) > 2.7
    assert math.log2(before[1] / after[1]) > 1.8


@cache
def at_the_ceiling() -> tuple[Field, MeltFlow]:
    field = melt_ceiling(discretise(problem_of(load_case("short-block", {"mesh.level": 0.5}))))
    return field, melt_flow_of(field)


def test_work_of_the_feeder_is_the_heat_of_the_melt() -> None:
    field, found = at_the_ceiling()
    assert found.pressure * found.flow == pytest.approx(found.load(field.system.space.size).sum(), rel=1e-6)


def test_every_section_carries_the_flow() -> None:
    field, found = at_the_ceiling()
    nozzle = field.problem.arrangement.nozzle
    straight = found.passage.heights > nozzle.land + nozzle.inner_cone_height + 0.2e-3
    np.testing.assert_allclose(found.carried[straight, -1], 1.0, atol=6e-3)
    # at the sharp edge of the land the velocity is not smooth, and the pressure of linear elements lets a little by
    np.testing.assert_allclose(found.carried[:, -1], 1.0, atol=0.07)
    assert np.all(found.stream[:, -1] == 1.0)
    assert np.all(np.diff(found.stream, axis=1) > 0.0)


@cache
def isothermal(n: float, rest: float, tau_star: float) -> tuple[Field, MeltFlow]:
    law = CrossWLF(n=n, tau_star=tau_star, D1=rest, D2=150.0, A1=1e-12, A2=51.6)
    problem = problem_of(load_case("short-block", {"mesh.level": 0.5}))
    polymer = replace(problem.materials.polymer, viscosity=law, plateau_modulus=1e13)  # chains relax at once
    field = solve_at_flow(discretise(replace(problem, materials=replace(problem.materials, polymer=polymer))), 8e-9)
    return field, melt_flow_of(field)


@pytest.mark.parametrize(("n", "rest", "tau_star"), [(1.0 - 1e-9, 2000.0, 1e5), (0.4, 1e9, 1e-3)])
def test_pipe_of_a_power_law_melt(n: float, rest: float, tau_star: float) -> None:
    # dp/dz = 2 K / R ((3n+1)/(n pi) Q / R^3)^n, any fluid text; at n = 1 the Cross law halves the viscosity at rest.
    field, found = isothermal(n, rest, tau_star)
    consistency = 1000.0 if n > 0.9 else rest**n * tau_star ** (1.0 - n)
    bore = field.problem.arrangement.nozzle.bore / 2.0
    expected = 2.0 * consistency / bore * ((3.0 * n + 1.0) / (n * math.pi) * 8e-9 / bore**3) ** n
    low, high = levels_near(found, 5e-3, 13e-3)
    assert found.spent(low, high) / (high - low) == pytest.approx(expected, rel=2e-3)


def levels_near(found: MeltFlow, low: float, high: float) -> tuple[float, float]:
    """The levels of the mesh closest to two heights."""
    levels = found.passage.heights[::2]
    return float(levels[np.argmin(np.abs(levels - low))]), float(levels[np.argmin(np.abs(levels - high))])


def test_straight_bore_with_a_stiff_core_agrees_with_lubrication() -> None:
    field, _ = at_the_ceiling()
    passage = Passage.of(field.system)
    law = field.problem.materials.polymer.viscosity
    assert law is not None
    radius = passage.space.points[0][passage.local]
    # the same at every height: wall at 210 degC, core 90 K colder
    temperature = np.full(field.temperature.size, 483.15)
    temperature[passage.sections] -= 90.0 * (1.0 - (radius / passage.wall[:, None]) ** 2)
    found = melt_flow(passage, temperature, field.flow, law)
    _, gradient = section_flow(radius, temperature[passage.sections], np.full(len(radius), field.flow), law)
    low, high = levels_near(found, 5e-3, 10e-3)
    middle = int(np.argmin(np.abs(passage.heights - 7e-3)))
    assert found.spent(low, high) / (high - low) == pytest.approx(gradient[middle], rel=2e-3)


def test_newtonian_cone_against_the_radial_flow() -> None:
    # The closed form above: its heat 2 eta D:D between two caps over the flow. The nozzle's cone ends in planes, not caps.
    field, found = isothermal(1.0 - 1e-9, 2000.0, 1e5)
    nozzle = field.problem.arrangement.nozzle
    half = nozzle.cone_angle / 2.0
    edge = math.cos(half) ** 2
    strength = 3.0 * 8e-9 / (2.0 * math.pi * (1.0 - math.cos(half)) ** 2 * (1.0 + 2.0 * math.cos(half)))
    t = np.linspace(0.0, half, 2001)
    # rates of v = -A f / R^2: 2 A f / R^3 along R, half of it back across, shear A f' / R^3
    f, slope = np.cos(t) ** 2 - edge, -np.sin(2.0 * t)
    shell = 2.0 * 1000.0 * strength**2 * (6.0 * f**2 + slope**2 / 2.0) * 2.0 * math.pi * np.sin(t)
    ends = [radius / math.sin(half) for radius in (nozzle.orifice / 2.0, nozzle.bore / 2.0)]
    radial = np.trapezoid(shell, t) / 3.0 * (ends[0] ** -3 - ends[1] ** -3) / 8e-9
    estimate = feeding(field)
    # at 60 degrees lubrication is a third short of the radial flow; with stretching it is there within 0.3 percent
    assert estimate.cone == pytest.approx(0.665 * radial, rel=0.01)
    # drawing goes by the viscosity at rest, which the Cross law halves at n = 1
    assert estimate.cone + estimate.stretching / 2.0 == pytest.approx(radial, rel=0.01)
    assert found.cone == pytest.approx(radial, rel=0.06)


def test_the_bound_of_the_viscosity_hardly_shows() -> None:
    field, found = at_the_ceiling()
    law = field.problem.materials.polymer.viscosity
    assert law is not None
    # the same law held from 15 K higher: the bound falls by a factor of 94, the pressure by 2.4 %
    rise = 15.0
    bound, shift = float(law.zero_shear(law.D2 + rise)), law.A2 + rise
    lower = replace(law, D1=bound, D2=law.D2 + rise, A1=law.A1 * law.A2 / shift, A2=shift)
    assert lower.zero_shear(500.0) == pytest.approx(law.zero_shear(500.0), rel=1e-9)
    assert lower.D1 < law.D1 / 90.0
    polymer = replace(field.problem.materials.polymer, viscosity=lower)
    problem = replace(field.problem, materials=replace(field.problem.materials, polymer=polymer))
    held = replace(field, system=replace(field.system, problem=problem))
    assert melt_flow_of(held).pressure == pytest.approx(found.pressure, rel=0.03)
