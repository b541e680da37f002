"""Whole hot ends in time: the steady state at both ends, heat that closes, a heater within its bounds, bursts, order."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from support import JET, STILL, ZERO_CELSIUS, problem_for, system_of, usual_problem

from meltzone.cases.studies.wording import reason
from meltzone.fem.discretise import in_surroundings
from meltzone.fem.faults import WorkingFlowTooHigh
from meltzone.fem.in_time.course import Regime, course_of
from meltzone.fem.in_time.storage import stores_of
from meltzone.fem.in_time.timestep import Instant, Kept, stepped
from meltzone.fem.in_time.transient import Pace, start_of
from meltzone.fem.in_time.unsteady import Burst, Response, WarmUp, burst, controller, respond, warm_up
from meltzone.fem.limits import melt_ceiling
from meltzone.fem.problem import Problem
from meltzone.fem.steady import solve_at_flow

COARSE = -3.0
CLOSED = 1e-6  # of the heater's heat: what a history may leave unaccounted for
QUICK = Pace(0.05)
MM3 = 1e-9


@cache
def short() -> Problem:
    """The short block, PLA at 210 degC, 40 W."""
    return usual_problem("short", level=COARSE)


@cache
def warmed() -> WarmUp:
    return warm_up(system_of(short()), pace=QUICK)


@cache
def stepped_up() -> Response:
    """From 5 to 15 mm3/s."""
    changes = [Regime(-1.0, 5.0 * MM3, STILL), Regime(0.0, 15.0 * MM3, STILL)]
    return respond(system_of(short()), changes, 40.0, QUICK)


@cache
def idle_burst() -> Burst:
    return burst(system_of(short()), 0.0, 25.0 * MM3, 30.0, QUICK)


def closed(found: WarmUp | Response | Burst) -> bool:
    heats = found.history.heats
    return abs(heats.imbalance) < CLOSED * heats.heater


def test_without_a_change_nothing_changes() -> None:
    changes = [Regime(-1.0, 5.0 * MM3, STILL), Regime(0.0, 5.0 * MM3, replace(STILL))]
    found = respond(system_of(short()), changes, 20.0, QUICK)
    for name in ("core", "inner", "mean", "tip", "power"):
        assert np.ptp(found.history.of(name)) < 1e-4, name


def test_the_end_of_a_step_is_the_steady_state() -> None:
    last, steady = stepped_up().history, solve_at_flow(system_of(short()), 15.0 * MM3)
    for name in ("core", "inner", "mean", "wall", "tip", "sensor"):
        assert getattr(last.field, name) == pytest.approx(getattr(steady, name), abs=2e-3), name
    assert last.moments[-1].power == pytest.approx(steady.power, abs=1e-3)


def test_heat_closes_in_every_kind_of_history() -> None:
    assert closed(warmed()) and closed(stepped_up()) and closed(idle_burst())


def test_heat_closes_with_a_velocity_shaped_by_the_viscosity() -> None:
    problem = problem_for(level=COARSE, profile="shaped")
    found = respond(system_of(problem), [Regime(-1.0, 5.0 * MM3, STILL), Regime(0.0, 12.0 * MM3, STILL)], 15.0, QUICK)
    assert found.history.heats.viscous > 0.0 and closed(found)
    assert found.after is not None and found.history.field.inner == pytest.approx(found.after.inner, abs=0.2)


def test_the_fan_alone_cools_the_tip_and_asks_for_power() -> None:
    found = respond(system_of(short()), [Regime(-1.0, 5.0 * MM3, STILL), Regime(0.0, 5.0 * MM3, JET)], 40.0, QUICK)
    steady = solve_at_flow(system_of(usual_problem("short", fan=True, level=COARSE)), 5.0 * MM3)
    assert found.history.field.tip == pytest.approx(steady.tip, abs=5e-3)
    assert found.history.moments[-1].power == pytest.approx(steady.power, abs=5e-3)
    assert steady.power > found.before.power + 1.0 and closed(found)


def test_other_surroundings_leave_the_mesh_and_change_the_faces() -> None:
    system = in_surroundings(system_of(short()), JET)
    other = system_of(usual_problem("short", fan=True, level=COARSE))
    assert system.space is system_of(short()).space
    for face, expected in zip(system.faces, other.faces, strict=True):
        assert float(face.loss(480.0)) == pytest.approx(float(expected.loss(480.0)), rel=1e-12), face.name


def test_warming_up_takes_the_heat_stored_over_the_power_left_for_it() -> None:
    """Bounds of a lumped body: all of the power is stored, or all but the steady loss at the setpoint is."""
    found, problem = warmed(), short()
    assert found.reached is not None
    moment = next(m for m in found.history.moments if math.isclose(m.time, found.reached))
    assert moment.sensor == pytest.approx(problem.operation.setpoint - 1.0, abs=2e-3)
    loss = solve_at_flow(system_of(problem), 0.0).power
    stored, rating = moment.heats.stored, problem.operation.rating
    assert stored / rating < found.reached < stored / (rating - loss)
    before = [m for m in found.history.moments[1:] if m.time <= found.reached]
    assert all(m.power == rating for m in before)


def test_after_warming_up_the_sensor_is_held() -> None:
    found, problem = warmed(), short()
    sensor, power = found.history.of("sensor"), found.history.of("power")
    assert sensor.max() < problem.operation.setpoint + 0.3, "hardly any overshoot with an ideal controller"
    assert sensor[-1] == pytest.approx(problem.operation.setpoint, abs=1e-3)
    assert power[-1] == pytest.approx(solve_at_flow(system_of(problem), 0.0).power, abs=0.05)
    assert power.min() >= 0.0 and power.max() <= problem.operation.rating


def test_half_the_rating_takes_more_than_twice_as_long() -> None:
    weaker = replace(short(), operation=replace(short().operation, rating=20.0))
    found = warm_up(system_of(weaker), pace=QUICK)
    assert found.reached is not None and warmed().reached is not None
    assert found.reached > 2.0 * warmed().reached


def test_a_heater_that_is_too_weak_never_gets_there() -> None:
    weak = replace(short(), operation=replace(short().operation, rating=6.0))
    found = warm_up(system_of(weak), 1500.0, QUICK)
    assert found.reached is None and found.ready is None
    rises = np.diff(found.history.of("sensor"))
    assert rises[-1] / np.diff(found.history.of("time"))[-1] < 2e-3, "all but steady"
    assert found.history.moments[-1].power == 6.0 and closed(found)


def test_a_rating_that_a_step_uses_up_lets_the_sensor_sag_and_recover() -> None:
    tight = replace(short(), operation=replace(short().operation, rating=12.0))
    changes = [Regime(-1.0, 2.0 * MM3, STILL), Regime(0.0, 14.0 * MM3, STILL), Regime(30.0, 2.0 * MM3, STILL)]
    found = respond(system_of(tight), changes, 120.0, QUICK)
    times, power, sensor = (found.history.of(name) for name in ("time", "power", "sensor"))
    assert power.max() == 12.0 and power[(times > 15.0) & (times < 30.0)].min() == 12.0
    assert sensor.min() < tight.operation.setpoint - 3.0
    assert sensor[-1] == pytest.approx(tight.operation.setpoint, abs=1e-2) and closed(found)


def test_a_burst_from_rest_empties_about_the_hot_bore() -> None:
    """It lasts longer than from the working flow, and no longer than new filament takes through the block twice over."""
    found, working = idle_burst(), burst(system_of(short()), 8.0 * MM3, 25.0 * MM3, 30.0, QUICK)
    assert found.lasts is not None and working.lasts is not None and found.volume is not None
    assert working.lasts < found.lasts
    bore = math.pi / 4.0 * short().arrangement.nozzle.bore ** 2 * short().arrangement.block_top
    assert 0.5 * bore < found.volume < 2.0 * bore
    assert found.history.field.inner == pytest.approx(short().materials.polymer.flow_temperature, abs=5e-3)
    assert found.ceiling == pytest.approx(melt_ceiling(system_of(short())).flow, rel=1e-6)


def test_bursts_are_the_shorter_the_faster_and_last_for_ever_below_the_ceiling() -> None:
    ceiling = melt_ceiling(system_of(short())).flow
    lasts = [burst(system_of(short()), 6.0 * MM3, share * ceiling, 60.0, QUICK).lasts for share in (1.05, 1.3, 2.0)]
    assert all(a is not None and b is not None and a > b for a, b in pairwise(lasts))
    assert burst(system_of(short()), 6.0 * MM3, 0.97 * ceiling, 60.0, QUICK).lasts is None


def test_a_working_flow_that_does_not_melt_has_no_burst() -> None:
    with pytest.raises(WorkingFlowTooHigh) as caught:
        burst(system_of(short()), 16.0 * MM3, 25.0 * MM3, 30.0, QUICK)
    assert "the working flow of 16 mm³/s does not melt through" in reason(caught.value)


def test_finer_steps_change_little() -> None:
    """The burst's end and the path of the core, at a tenth of the error allowed."""
    finer = burst(system_of(short()), 0.0, 25.0 * MM3, 30.0, Pace(0.005))
    assert finer.lasts == pytest.approx(idle_burst().lasts, rel=0.01)
    times = np.linspace(0.05, 1.9, 20)
    coarse, fine = (np.interp(times, h.of("time"), h.of("core")) for h in (idle_burst().history, finer.history))
    assert coarse == pytest.approx(fine, abs=1.0)


def test_second_order_in_time_with_flow_and_a_moving_bore_contact() -> None:
    """The whole balance after a step in flow, the heater at a fixed power; order by halving the step."""
    problem, stores = short(), stores_of(system_of(short()))
    before = solve_at_flow(system_of(problem), 5.0 * MM3)
    (_, phase) = course_of(system_of(problem), [Regime(-1.0, 5.0 * MM3, STILL), Regime(0.0, 9.0 * MM3, STILL)], 10.0)
    drive = controller(system_of(problem)).pinned(before.power)
    start = start_of(phase.system, stores, before.temperature, 0.0, before.power)

    def after(point: Instant, span: float, count: int) -> Instant:
        kept = Kept(close=1e-8)
        for _ in range(count):
            times = (point.time + share * span / count for share in (1.0 - math.sqrt(0.5), 1.0))
            first, second = (phase.at(time, before.temperature) for time in times)
            point = stepped((first, second), phase.flow, stores, point, span / count, drive, kept).end
        return point

    begin = after(start, 0.6, 12)
    exact = after(begin, 0.8, 64)
    judged = system_of(problem).judged["mean"]
    errors = [judged.of(after(begin, 0.8, n).temperature) - judged.of(exact.temperature) for n in (4, 8, 16)]
    orders = [math.log2(abs(a / b)) for a, b in pairwise(errors)]
    assert min(orders) > 1.8, (orders, errors)


def test_times_that_do_not_rise_are_refused() -> None:
    with pytest.raises(ValueError, match="rise"):
        course_of(system_of(short()), [Regime(0.0, 1e-9, STILL), Regime(0.0, 2e-9, STILL)], 5.0)


def test_temperatures_stay_between_the_coldest_and_the_hottest() -> None:
    for found in (warmed(), stepped_up(), idle_burst()):
        for name in ("core", "inner", "mean", "tip"):
            values = found.history.of(name) - ZERO_CELSIUS
            assert values.min() > 22.0 and values.max() < 211.0
