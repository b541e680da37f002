"""The code in three dimensions, behind docs/three-dimensions.md, against the axisymmetric model and against closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

pytest.importorskip("ngsolve", reason="needs ngsolve: install the extra 'test'")

import ngsolve as ng
from sector import Sector
from solid import Solid
from solid_shape import Layout, tetrahedra

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.fem.discretise import discretise
from meltzone.fem.problem import Problem
from meltzone.fem.steady import solve_at_flow

pytestmark = pytest.mark.independent

FLOW = 8e-9  # a flow that the case melts [m3/s]
COARSE = 0.6  # tetrahedra at the bore wall [mm]
AGREEMENT = 0.01  # relative, on that mesh; on the page's the two agree to a tenth of it


@pytest.fixture(scope="module")
def problem() -> Problem:
    read = problem_of(load_case("short-block"))
    return replace(read, operation=replace(read.operation, profile="plug"))


@pytest.mark.slow
def test_a_disc_in_three_dimensions_is_the_axisymmetric_model(problem: Problem) -> None:
    ours = solve_at_flow(discretise(problem), FLOW)
    solid = Solid(problem, fine=COARSE, order=2)
    theirs = solid.solved(FLOW, solid.start())
    core = solid.around(theirs.temperature, "filament", 0.0, solid.at.land + 1e-6).mean
    inlet = problem.operation.inlet_temperature
    print(f"power {ours.power:.4f} {theirs.power:.4f} W, core {ours.core:.2f} {core:.2f} K")
    assert theirs.power == pytest.approx(ours.power, rel=AGREEMENT)
    assert core - inlet == pytest.approx(ours.core - inlet, rel=AGREEMENT)


def test_a_rectangular_block_is_the_box_less_its_holes(problem: Problem) -> None:
    block, layout = problem.arrangement.block, Layout.of(problem.arrangement)
    mesh = tetrahedra(problem.arrangement, layout, COARSE)
    thread = 5.350481  # pitch diameter of M6 x 1, ISO 724 [mm]
    depth, height = 1e3 * block.depth, 1e3 * block.height
    round_areas = [math.pi * d**2 / 4.0 for d in (layout.cartridge, layout.sensor, thread)]
    box = 1e3 * block.width * depth * height - (round_areas[0] + round_areas[1]) * depth - round_areas[2] * height
    assert 2.0 * ng.Integrate(1.0, mesh, definedon=mesh.Materials("block")) == pytest.approx(box, rel=1e-4)
    walls = {"cartridge": layout.cartridge, "sensor": layout.sensor}
    for name, diameter in walls.items():
        wall = 2.0 * ng.Integrate(1.0, mesh, ng.BND, definedon=mesh.Boundaries(name))
        assert wall == pytest.approx(math.pi * diameter * depth, rel=1e-4)
    sides = 2.0 * (1e3 * block.width + depth) * height - 2.0 * (round_areas[0] + round_areas[1])
    meshed = 2.0 * ng.Integrate(1.0, mesh, ng.BND, definedon=mesh.Boundaries("block side"))
    assert meshed == pytest.approx(sides, rel=1e-4)


@pytest.fixture(scope="module")
def sector() -> Sector:
    return Sector(3, 0.4, 0.55, 1.0, 1.2, 1.2, 1.2, 0.2)


def test_slow_flow_in_a_hole_is_that_of_a_long_tube(sector: Sector) -> None:
    """Hagen-Poiseuille: twice the mean velocity in the middle, nothing at half a hole's length to tell of its ends."""
    middle = sector.before + sector.divided / 2.0
    mean = 1.0 / (math.pi * sector.hole**2 / 2.0)
    for off in (0.0, 0.5):
        place = sector.mesh(sector.ring + off * sector.hole, 1e-6, middle)
        assert sector.sticking(place)[2] == pytest.approx(2.0 * mean * (1.0 - off**2), rel=0.03)


def test_layers_come_back_to_their_radius(sector: Sector) -> None:
    """Slow flow is reversible: through a part that is the same from both ends, a path leaves at the radius it entered at."""
    start = sector.hole_points(sector.before + sector.divided / 2.0, rings=4)
    came, went = (sector.traced(sector.sticking, start, level) for level in (0.05, sector.end - 0.05))
    inside = (came[0] ** 2 + came[1] ** 2) ** 0.5, (went[0] ** 2 + went[1] ** 2) ** 0.5
    assert inside[1] == pytest.approx(inside[0], abs=0.05 * sector.bore, nan_ok=True)
    assert (inside[0] == inside[0]).mean() > 0.9
