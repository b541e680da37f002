"""The force ceiling: against bisection of whole solves, which ceiling governs, what is said where it is not sought."""

from __future__ import annotations

from functools import cache

import pytest

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.levers import levers_of
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.outputs.bars_figure import COLOURS, Bar, bars_figure
from meltzone.cases.outputs.record import record as record_of
from meltzone.cases.studies.completing import with_usual
from meltzone.cases.studies.explain import explain
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.run import ceiling, solve
from meltzone.fem.adjoint import adjoint_of
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.explain import slope_by
from meltzone.fem.slow_flow.feeding import feeding
from meltzone.fem.slow_flow.force import force_ceiling
from meltzone.fem.steady import solve_at_flow

COARSE = {"mesh.level": 0.25}


@cache
def gripped(grip: float, case: str = "short-block") -> Result:
    return ceiling(case, {**COARSE, "feeder.grip": f"{grip:g} N"})


def test_force_ceiling_agrees_with_solves_on_either_side() -> None:
    found = gripped(14.0)
    assert found.ceilings is not None and found.ceilings.force is not None
    flow = found.ceilings.force.flow
    low, high = (feeding(solve_at_flow(found.system, flow * (1.0 + s))).force for s in (-1e-3, 1e-3))
    assert low < 14.0 < high
    assert found.feeding_force == pytest.approx(14.0, rel=2e-4)


def test_the_least_of_the_three_governs() -> None:
    weak, strong = gripped(14.0), gripped(90.0)
    assert weak.governs == "force"
    assert weak.flow_ceiling == weak.force_ceiling
    assert "grip of 14 N" in weak.statement
    assert strong.governs == "melt"
    assert strong.force_ceiling is not None and strong.melt_ceiling is not None
    assert strong.force_ceiling > strong.melt_ceiling == weak.melt_ceiling


def test_a_grip_that_is_never_used_up_says_so() -> None:
    found = ceiling(
        "short-block", {**COARSE, "feeder.grip": "500 N", "nozzle.orifice": "1 mm", "nozzle.tip_diameter": "2 mm"}
    )
    assert found.force_ceiling is None and found.governs == "melt"
    assert found.ceilings is not None
    assert "the grip of 500 N is not used up" in found.reasons["force"]


def test_without_grip_or_viscosity_it_is_not_sought() -> None:
    free = with_usual(ceiling("short-block", COARSE))
    assert free.ceilings is not None
    assert free.reasons["force"].startswith(
        "not sought: the case gives no grip; a usual feeder of 72 N, 50 to 100 N, would stop"
    )
    assert free.feeding_force is None and free.factorisations <= 8
    soft = {**COARSE, "feeder.grip": "14 N", "polymer.material": "TPU", "heater.setpoint": "225 degC"}
    dull = ceiling("short-block", soft)
    assert dull.ceilings is not None
    assert "holds no plateau modulus" in dull.reasons["force"]
    assert "holds no plateau modulus" in solve("short-block", "8 mm^3/s", overrides=soft).statement
    with pytest.raises(ValueError, match="gives no grip"):
        force_ceiling(free.ceilings.melt)  # type: ignore[arg-type]


def test_record_and_explanation_of_a_force_ceiling() -> None:
    found = gripped(14.0)
    record = record_of(found)
    assert record["ceilings"]["governs"] == "force"
    assert record["state"]["feeding_force_N"] == pytest.approx(14.0, rel=2e-4)
    parts = [record["state"][f"pressure_{part}_MPa"] for part in ("bore", "cone", "stretching", "land")]
    filament = 3.14159265 * 1.75**2 / 4.0
    assert sum(parts) * filament == pytest.approx(14.0, rel=2e-4)
    assert record["inputs"]["feeder"] == {"grip": "14 N", "slip_rise": 0.1, "slip_at_grip": 0.03}
    told = explain("short-block", {**COARSE, "feeder.grip": "14 N"})
    assert told.bottleneck.startswith("Feeding force governs")
    assert told.explanation is not None
    assert sum(told.explanation.budget.values()) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(
    "key",
    [
        "heater.setpoint",
        "nozzle.orifice",
        "nozzle.land",
        "nozzle.bore",
        "contacts.bore_melt",
        "feeder.grip",
        "polymer.conductivity*",
        "polymer.softening_temperature",
        "polymer.plateau_modulus",
    ],
)
def test_derivatives_of_a_force_ceiling_are_those_of_whole_solves(key: str) -> None:
    found = gripped(40.0)
    assert found.ceilings is not None and found.ceilings.melt is not None
    (lever,) = (lever for lever in levers_of(found.system) if lever.key == key)
    step = 2e-4 * lever.value

    def flow_at(value: float) -> float:
        return find_ceilings(lever.at(value)).found["force"].flow

    slope = slope_by(adjoint_of(found.ceilings), lever)
    assert slope == pytest.approx((flow_at(lever.value + step) - flow_at(lever.value - step)) / (2.0 * step), rel=2e-3)


@pytest.mark.parametrize("key", ["nozzle.bore", "channels.hole_diameter", "channels.length"])
def test_derivatives_with_channels_are_those_of_whole_solves(key: str) -> None:
    found = gripped(30.0, "short-block-divided")
    assert found.governs == "force" and found.ceilings is not None
    (lever,) = (lever for lever in levers_of(found.system) if lever.key == key)
    ends = [find_ceilings(lever.at((1.0 + step) * lever.value)).found["force"].flow for step in (2e-4, -2e-4)]
    slope = slope_by(adjoint_of(found.ceilings), lever)
    assert slope == pytest.approx((ends[0] - ends[1]) / (4e-4 * lever.value), rel=1e-3)


def test_a_force_ceiling_costs_no_more_factorisations_than_two_melt_ceilings() -> None:
    found = gripped(40.0)
    assert found.ceilings is not None and found.ceilings.force is not None and found.ceilings.melt is not None
    assert found.ceilings.force.factorisations <= 2 * found.ceilings.melt.factorisations


def test_a_usual_feeder_stops_where_its_grip_would() -> None:
    free, held = with_usual(ceiling("short-block", COARSE)), with_usual(gripped(72.0))
    assert free.usual_feeder is not None and free.governs == "melt" and free.force_ceiling is None
    flow, low, high = free.usual_feeder
    assert flow == pytest.approx(held.force_ceiling, rel=2e-3), "found on the mesh of searches"
    assert held.usual is None, "the case's own grip counts"
    # the ends by powers, against the grip's own ceilings; the card's viscosity, 0.15 to 2.7 times, widens them
    weak, strong = (gripped(grip).force_ceiling for grip in (50.0, 100.0))
    assert weak is not None and strong is not None
    assert low < weak < flow < strong < high < 2.0 * flow
    assert record_of(free)["ceilings"]["usual_feeder_mm3_per_s"] == pytest.approx(flow, rel=1e-6)


def test_where_no_usual_feeder_is_known_it_is_said() -> None:
    lacking = with_usual(ceiling("short-block", {**COARSE, "polymer.material": "TPU"}))
    assert lacking.usual_feeder is None and "the card of TPU holds no plateau modulus" in lacking.reasons["force"]
    wide = with_usual(ceiling("short-block", {**COARSE, "nozzle.orifice": "0.8 mm"}))
    assert wide.usual_feeder is None and "grip to spare up to 3 times the melt ceiling" in wide.reasons["force"]


def test_bars_show_all_three() -> None:
    one = Bar("one", "force", {"melt": 13.0, "power": 12.5, "force": 11.0})
    figure = bars_figure([one, Bar("two", "melt", {"melt": 13.0})])
    ticks = {line.get_color() for line in figure.axes[0].lines}
    assert {COLOURS["melt"], COLOURS["power"]} <= ticks


def test_a_case_reads_its_grip() -> None:
    assert problem_of(load_case("short-block", {"feeder.grip": "6 kgf"})).operation.grip == pytest.approx(
        58.84, rel=1e-3
    )
    assert problem_of(load_case("short-block")).operation.grip is None
