"""Hot volumes and residence times against closed forms; the derivative of the volume against differences."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support import constant, problem_for, system_of

from meltzone.cases.inputs.levers import levers_of
from meltzone.fem.adjoint import weighing
from meltzone.fem.field import Field
from meltzone.fem.hot_volume import volume_above
from meltzone.fem.motion import profile_share
from meltzone.fem.problem import Problem
from meltzone.fem.residence import LAYER, residence_of
from meltzone.fem.steady import AT_SETPOINT, solve_at_flow
from meltzone.fem.trade import hot_volume, trade_at

FLOW = 6e-9


@cache
def problem(exponent: float = 0.0) -> Problem:
    """The short block with a polymer of one density, so that volumes over flow are times."""
    made = problem_for("short", profile_exponent=exponent)
    polymer = replace(made.materials.polymer, density=constant("density", "kg/m3", 1100.0))
    return replace(made, materials=replace(made.materials, polymer=polymer))


def with_temperature(made: Problem, kelvin: np.ndarray) -> Field:
    return Field(system_of(made), FLOW, 10.0, kelvin, 0)


def bore_volume(made: Problem, lower: float, upper: float) -> float:
    """Volume of the passage between two levels: the integral of pi R(z)^2, by fine trapezia."""
    z = np.linspace(lower, upper, 200_001)
    areas = np.pi * made.arrangement.wall.radius(z) ** 2
    return float(np.sum((areas[1:] + areas[:-1]) / 2.0) * (z[1] - z[0]))


@pytest.mark.parametrize("level", [5.3e-3, 2.9e-3, 1.2e-3])
def test_volume_below_a_level_is_that_of_tube_cone_and_capillary(level: float) -> None:
    made = problem()
    z = system_of(made).space.points[1]
    found = volume_above(system_of(made).space, 500.0 - 1e4 * (z - level), 500.0).volume
    assert found == pytest.approx(bore_volume(made, 0.0, level), rel=2e-4)


@pytest.mark.parametrize("radius", [0.3e-3, 0.61e-3, 0.97e-3])
def test_volume_of_a_hot_wall_layer_is_that_of_a_hollow_cylinder(radius: float) -> None:
    """Temperature that rises with r^2, the filled bore above the cone only: pi (R^2 - r^2) L."""
    made = problem()
    a, (r, z) = made.arrangement, system_of(made).space.points
    low, high = a.nozzle.land + a.nozzle.inner_cone_height, a.block_top
    kelvin = np.where((z > low - 1e-9) & (z < high + 1e-9), 500.0 + 1e7 * (r**2 - radius**2), 300.0)
    found = volume_above(system_of(made).space, kelvin, 500.0).volume
    closed = math.pi * ((a.nozzle.bore / 2.0) ** 2 - radius**2) * (high - low)
    assert found == pytest.approx(closed, rel=0.03)  # cells at both ends go from cold to hot


def test_everything_hot_and_nothing_hot() -> None:
    made = problem()
    space = system_of(made).space
    whole = float(space.cells.volume[system_of(made).polymer_cells].sum())
    assert volume_above(space, np.full(space.size, 500.0), 400.0).volume == pytest.approx(whole, rel=1e-12)
    assert volume_above(space, np.full(space.size, 300.0), 400.0).volume == 0.0


def test_derivative_is_that_of_differences() -> None:
    field = solve_at_flow(system_of(problem()), FLOW)
    space, threshold = field.system.space, 431.0
    direction = np.random.default_rng(4).normal(size=space.size)
    sides = [volume_above(space, field.temperature + h * direction, threshold).volume for h in (-1e-3, 1e-3)]
    slope = float(volume_above(space, field.temperature, threshold).by_temperature @ direction)
    assert slope == pytest.approx((sides[1] - sides[0]) / 2e-3, rel=1e-3)


def test_plug_flow_in_a_tube_stays_volume_over_flow() -> None:
    """One density, all of the melt zone hot: every stream tube takes V / Q, the closed form of a plug."""
    made = problem()
    a = made.arrangement
    field = with_temperature(made, np.full(system_of(made).space.size, 600.0))
    found = residence_of(field)
    lower, upper = field.melt_zone
    assert lower == a.nozzle.land and upper == pytest.approx(a.top, abs=1e-6)
    time = bore_volume(made, lower, a.block_top) / FLOW
    assert found.hot_time == pytest.approx(found.hot / FLOW, rel=1e-12)
    # above the block the solid filament moves on as it is
    above = math.pi * (a.filament.diameter / 2.0) ** 2 * (upper - a.block_top) / FLOW
    assert found.zone_time == pytest.approx(time + above, rel=0.01)


@pytest.mark.parametrize("exponent", [0.25, 0.5, 1.0])
def test_layers_of_a_power_law_melt(exponent: float) -> None:
    """In the filled bore a share of the flow between the radii s_1 and s_2 stays pi R^2 (s_2^2 - s_1^2) L / (share Q)."""
    made = problem(exponent)
    a, space = made.arrangement, system_of(made).space
    low = a.nozzle.land + a.nozzle.inner_cone_height
    high = a.block_top - 1.2e-3  # below the length over which the profile spreads
    wall_hot = np.where(space.points[1] < high, 600.0, 400.0)
    field = with_temperature(made, wall_hot)
    found = residence_of(field)
    s = np.linspace(0.0, 1.0, 100_001)
    inner, outer = (float(np.interp(share, profile_share(s, exponent), s)) for share in (LAYER, 1.0 - LAYER))
    length = bore_volume(made, a.nozzle.land, field.melt_zone[1]) / (math.pi * (a.nozzle.bore / 2.0) ** 2)
    whole = math.pi * (a.nozzle.bore / 2.0) ** 2 * length / (LAYER * FLOW)
    assert low < field.melt_zone[1] < a.block_top
    assert found.zone_time == pytest.approx(LAYER * whole, rel=0.01)
    assert found.core_time == pytest.approx(whole * inner**2, rel=0.03)
    assert found.wall_time == pytest.approx(whole * (1.0 - outer**2), rel=0.03)
    assert found.core_time < found.zone_time < found.wall_time


def test_hot_volume_falls_with_the_flow_and_the_finer_mesh_agrees() -> None:
    slow, fast = (hot_volume(solve_at_flow(system_of(problem()), flow)) for flow in (3e-9, 9e-9))
    assert slow > fast > 0.0
    finer = hot_volume(solve_at_flow(system_of(replace(problem(), level=2.0)), 9e-9))
    assert fast == pytest.approx(finer, rel=3e-3)


def test_slopes_of_the_trade_are_those_of_whole_solves() -> None:
    """Hot volume, ceiling and power by adjoints against differences of solves."""
    made = problem_for("sleeve", level=0.0)
    levers = {lever.key: lever for lever in levers_of(system_of(made))}
    chosen = [levers[key] for key in ("block.height", "heater.setpoint", "nozzle.length and nozzle.exposed")]
    here = trade_at(system_of(made), chosen, FLOW)
    assert here.differences == 0 and here.hot is not None
    for k, lever in enumerate(chosen):
        step = 1e-3 * lever.value
        sides = [trade_at(system_of(lever.at(lever.value + move)), [], FLOW) for move in (-step, step)]
        for name in ("melt", "heater", "hot"):
            low, high = (getattr(side, name).value for side in sides)
            assert getattr(here, name).slopes[k] == pytest.approx((high - low) / (2.0 * step), rel=2e-2), (
                lever.key,
                name,
            )


def test_the_cost_of_slopes_does_not_rise_with_the_levers() -> None:
    made = problem_for("short", level=0.0)
    levers = [lever for lever in levers_of(system_of(made)) if lever.kind == "design" and lever.key != "sleeve.height"]
    one, many = (trade_at(system_of(made), chosen, FLOW) for chosen in (levers[:1], levers[:10]))
    assert many.factorisations == one.factorisations <= 12


def test_weights_of_a_measure_that_nothing_moves_are_nothing() -> None:
    field = solve_at_flow(system_of(problem()), FLOW)
    adjoint = weighing(field, ("power",), (AT_SETPOINT,), np.zeros(field.system.space.size), {})
    assert not adjoint.weights.any() and not adjoint.multipliers.any()
