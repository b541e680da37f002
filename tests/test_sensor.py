"""A sensor with a contact of its own: two resistances in series by hand, and slopes against whole solves."""

from __future__ import annotations

import pytest
from support import problem_for, system_of

from meltzone.cases.inputs.levers import levers_of
from meltzone.cases.studies.run import sought
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.explain import explain
from meltzone.fem.in_time.unsteady import controller
from meltzone.fem.problem import Problem
from meltzone.fem.sensor import reads_low
from meltzone.fem.steady import solve_at_flow


def problem(contact: float | None, leads: float = 500.0) -> Problem:
    return problem_for("short", level=-1.0, sensor_contact=contact, sensor_leads=leads)


def test_the_metal_is_hotter_by_what_crosses_the_contact() -> None:
    """Heat by the leads (T_setpoint - T_air)/R_l crosses R_c: 185/500 * 20 = 7.4 K at 210 degC in air at 25 degC."""
    made = problem(20.0)
    field = solve_at_flow(system_of(made), 6e-9)
    assert field.sensor - made.operation.setpoint == pytest.approx(7.4, rel=1e-9)
    assert reads_low(made, field.sensor) == pytest.approx(7.4, rel=1e-9)
    drive = controller(system_of(made))
    assert drive.miss(field.temperature) == pytest.approx(0.0, abs=1e-6)


def test_without_a_contact_nothing_changes_and_a_perfect_one_is_none() -> None:
    plain = find_ceilings(problem(None)).flow
    assert find_ceilings(problem_for("short", level=-1.0)).flow == plain
    assert find_ceilings(problem(1e-12)).flow == pytest.approx(plain, rel=1e-9)


@pytest.mark.parametrize("key", ["heater.sensor_contact", "heater.sensor_leads", "surroundings.air_temperature"])
def test_slopes_are_those_of_whole_solves(key: str) -> None:
    made = problem(20.0)
    (lever,) = (each for each in levers_of(system_of(made)) if each.key == key)
    step = 1e-2 * lever.step
    low, high = (find_ceilings(lever.at(lever.value + move)).flow for move in (-step, step))
    (effect,) = explain(find_ceilings(made), [lever]).effects
    assert effect.slope == pytest.approx((high - low) / (2.0 * step), rel=1e-2)


def test_a_loose_sensor_lets_the_hot_end_melt_more_than_it_says() -> None:
    loose, screwed = (sought(f"short-block-{name}-sensor", {"mesh.level": 0.25}) for name in ("loose", "screwed"))
    assert loose.flow_ceiling is not None and screwed.flow_ceiling is not None
    assert loose.flow_ceiling > screwed.flow_ceiling
