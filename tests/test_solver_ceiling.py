"""The flow ceilings: found directly and right, from cold, wherever they exist; and said truly where they do not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.special import j1, jn_zeros
from support import KINDS, constant, insulated, materials_for, problem_for, system_of, usual_problem

from meltzone.cases.studies.wording import reasons, statement
from meltzone.fem.ceiling import Ceilings, find_ceilings
from meltzone.fem.faults import SetpointTooLow
from meltzone.fem.field import Field
from meltzone.fem.inputs import Contacts, MaterialSet, Surroundings
from meltzone.fem.limits import melt_ceiling, power_ceiling
from meltzone.fem.newton import State
from meltzone.fem.problem import Problem
from meltzone.fem.steady import solve_at_flow
from meltzone.fem.system import System
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.block import Block
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.nozzle import Nozzle
from meltzone.materials.library import names

POLYMERS = ("pla", "petg", "abs", "asa", "pa12", "pa6", "pc", "pp", "tpu")
SETPOINTS = {"pla": 210.0, "pa6": 265.0, "pc": 280.0, "tpu": 225.0}  # [degC]
PROPERTY = settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))


def flowing_at(problem: Problem, celsius: float) -> Problem:
    """The same problem with another flow temperature, so that a test does not hang on the card's."""
    polymer = replace(problem.materials.polymer, flow_temperature=celsius + 273.15)
    return replace(problem, materials=replace(problem.materials, polymer=polymer))


def judged_by(problem: Problem, criterion: str) -> Problem:
    return replace(problem, operation=replace(problem.operation, criterion=criterion))


def rated(problem: Problem, watts: float) -> Problem:
    return replace(problem, operation=replace(problem.operation, rating=watts))


def miss_at(system: System, flow: float, start: State | None = None) -> float:
    return excess(solve_at_flow(system, flow, start))


def excess(field: Field) -> float:
    """The judged temperature less the flow temperature [K]."""
    problem = field.problem
    return float(getattr(field, problem.operation.criterion)) - problem.materials.polymer.flow_temperature


# direct against bracketing ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("criterion", ["core", "inner", "mean"])
@pytest.mark.parametrize(("kind", "fan"), [("short", False), ("sleeve", True), ("thick filament", False)])
def test_melt_ceiling_is_what_bracketing_finds(kind: str, fan: bool, criterion: str) -> None:
    problem = judged_by(usual_problem(kind, fan, -2.0), criterion)
    direct = melt_ceiling(system_of(problem))
    bracketed = brentq(
        lambda q: miss_at(system_of(problem), q, direct.state),
        0.6 * direct.flow,
        1.6 * direct.flow,
        xtol=1e-17,
        rtol=1e-9,
    )
    assert direct.flow == pytest.approx(bracketed, rel=1e-6)
    reading = getattr(direct, criterion)
    assert reading == pytest.approx(problem.materials.polymer.flow_temperature, abs=1e-5)
    assert direct.sensor == pytest.approx(problem.operation.setpoint, abs=1e-5)


@pytest.mark.parametrize(
    ("kind", "fan", "share"), [("short", False, 0.7), ("long nozzle", True, 0.85), ("boot", False, 1.25)]
)
def test_power_ceiling_is_what_bracketing_finds(kind: str, fan: bool, share: float) -> None:
    problem = usual_problem(kind, fan, -2.0)
    melt = melt_ceiling(system_of(problem))
    idle = solve_at_flow(system_of(problem), 0.0).power
    problem = rated(problem, idle + share * (melt.power - idle))
    found = find_ceilings(problem)
    assert found.power is not None
    assert found.governs == ("power" if share < 1.0 else "melt")
    bracketed = brentq(
        lambda q: solve_at_flow(system_of(problem), q, melt.state).power - problem.operation.rating,
        0.05e-9,
        4 * melt.flow,
        xtol=1e-17,
        rtol=1e-9,
    )
    assert found.power.flow == pytest.approx(bracketed, rel=1e-6)
    assert found.power.power == pytest.approx(problem.operation.rating, rel=1e-12)
    assert found.flow == min(found.melt.flow, found.power.flow) if found.melt else False


def test_slope_of_power_over_flow_is_that_of_neighbouring_solves() -> None:
    problem = usual_problem("short", level=-2.0)
    melt = melt_ceiling(system_of(problem))
    plus, minus = (solve_at_flow(system_of(problem), melt.flow * s).power for s in (1.005, 0.995))
    # the slope is that of the last factorised state, a little before the answer
    assert melt.power_slope == pytest.approx((plus - minus) / (0.01 * melt.flow), rel=1e-2)


# cost and mesh ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("fan", [False, True])
@pytest.mark.parametrize("kind", KINDS)
def test_both_ceilings_cost_at_most_eight_factorisations(kind: str, fan: bool) -> None:
    found = find_ceilings(usual_problem(kind, fan, -2.0))
    assert found.melt is not None
    assert 0 < found.factorisations <= 8


@pytest.mark.parametrize("kind", KINDS)
def test_default_mesh_is_good_to_half_a_per_cent(kind: str) -> None:
    found = find_ceilings(usual_problem(kind, KINDS.index(kind) % 2 == 1, 1.0), mesh_error=True)
    assert found.mesh_error is not None
    assert found.mesh_error < 5e-3
    assert found.melt is not None
    assert 0 < found.factorisations <= 8
    assert found.melt.overshoot < 1.0
    assert found.melt.balance.relative_imbalance < 1e-8


@pytest.mark.parametrize(("kind", "fan"), [("rings", True)])
def test_mesh_error_is_no_less_than_the_distance_to_a_fine_mesh(kind: str, fan: bool) -> None:
    coarse = find_ceilings(usual_problem(kind, fan, 1.0), mesh_error=True)
    fine = melt_ceiling(system_of(usual_problem(kind, fan, 3.0)))
    assert coarse.mesh_error is not None
    assert abs(coarse.flow / fine.flow - 1.0) < max(4.0 * coarse.mesh_error, 5e-4)


@pytest.mark.parametrize("rating_share", [0.5, 1.5])
def test_both_ceilings_cost_at_most_eight_factorisations_at_any_rating(rating_share: float) -> None:
    for kind in ("short", "sleeve"):
        problem = usual_problem(kind, level=-2.0)
        melt = melt_ceiling(system_of(problem))
        idle = solve_at_flow(system_of(problem), 0.0).power
        found = find_ceilings(rated(problem, idle + rating_share * (melt.power - idle)))
        assert found.factorisations <= 8


# from cold, everywhere --------------------------------------------------------------------------------------------------


def check(found: Ceilings) -> None:
    """What must be true of a result whatever it says."""
    problem, threshold = found.problem, found.problem.materials.polymer.flow_temperature
    assert statement(found)
    if found.melt is not None:
        assert excess(found.melt) == pytest.approx(0.0, abs=1e-4)
        # the highest flow that still melts: beyond it nothing does
        assert miss_at(found.system, 1.02 * found.melt.flow, found.melt.state) < 0.0
        assert found.melt.overshoot < 1.0
    elif problem.operation.setpoint <= threshold:
        assert "does not exceed" in reasons(found)["melt"]
    else:
        assert "at any flow" in reasons(found)["melt"]
        state = None
        for flow in (10e-9, 4e-9, 1e-9, 1e-11):
            field = solve_at_flow(found.system, flow, state)
            state = field.state
            assert excess(field) < 0.0
    if found.governs == "melt" and found.melt is not None:
        assert found.melt.power <= problem.operation.rating * (1.0 + 1e-9)
    if found.heater_too_weak:
        assert solve_at_flow(found.system, 0.0).power >= problem.operation.rating
    for field in (found.melt, found.power):
        if field is not None:
            assert field.balance.relative_imbalance < 1e-8


@pytest.mark.parametrize("plastic", names("polymer"))
def test_every_polymer_from_just_above_its_flow_temperature_to_300_degc(plastic: str) -> None:
    threshold = problem_for("short", plastic).materials.polymer.flow_temperature - 273.15
    ceilings = []
    for setpoint in (threshold + 0.5, threshold + 6.0, threshold + 30.0, 300.0):
        found = find_ceilings(problem_for("short", plastic, setpoint, level=-2.0))
        check(found)
        ceilings.append(found.melt.flow if found.melt else 0.0)
    assert np.all(np.diff(ceilings) >= 0.0)
    assert ceilings[-1] > 0.0


@pytest.mark.parametrize("kind", KINDS)
def test_every_arrangement_hot_and_hardly_hot_enough(kind: str) -> None:
    for plastic, setpoint, fan in (
        ("petg", 245.0, True),
        ("pa6", 270.0, True),
        ("abs", 250.0, True),
        ("pp", 300.0, False),
    ):
        outside = usual_problem(kind, fan, -2.0).surroundings
        check(find_ceilings(problem_for(kind, plastic, setpoint, level=-2.0, surroundings=outside)))


@pytest.mark.parametrize("plastic", names("polymer"))
def test_fixed_flows_from_one_to_a_hundred(plastic: str) -> None:
    threshold = problem_for("short", plastic).materials.polymer.flow_temperature - 273.15
    for kind in ("short", "sleeve"):
        system = system_of(problem_for(kind, plastic, threshold + 40.0, level=-2.0))
        for flow in (1.0, 10.0, 100.0):
            field = solve_at_flow(system, 1e-9 * flow)
            assert field.overshoot < 1.0
            assert field.balance.relative_imbalance < 1e-8
            assert field.sensor == pytest.approx(threshold + 313.15, abs=1e-5)


@PROPERTY
@given(
    st.sampled_from(KINDS),
    st.sampled_from(["pla", "petg", "abs", "pp", "pa6", "pc"]),
    st.floats(0.0, 90.0),
    st.floats(0.0, 25.0),
    st.floats(2.0, 60.0),
)
def test_whatever_a_result_says_is_true(kind: str, plastic: str, above: float, jet: float, rating: float) -> None:
    setpoint = problem_for("short", plastic).materials.polymer.flow_temperature - 273.15 + above
    outside = Surroundings(jet_speed=jet)
    check(find_ceilings(problem_for(kind, plastic, setpoint, level=-2.0, surroundings=outside, rating=rating)))


@pytest.mark.parametrize("flow", [1.0, 3.0, 10.0, 30.0, 100.0])
def test_field_stays_within_its_bounds_at_all_flows(flow: float) -> None:
    for kind, exponent in (("short", 0.0), ("long nozzle", 0.4), ("thick filament", 1.0)):
        field = solve_at_flow(system_of(problem_for(kind, level=1.0, profile_exponent=exponent)), 1e-9 * flow)
        assert field.overshoot < 1.0


# what does not exist ----------------------------------------------------------------------------------------------------


def test_setpoint_below_the_flow_temperature() -> None:
    found = find_ceilings(flowing_at(problem_for("short", setpoint=170.0, level=-2.0), 180.0))
    assert found.governs == "none"
    assert found.flow == 0.0
    assert found.field is None
    assert "170.0 degC does not exceed" in statement(found)
    with pytest.raises(SetpointTooLow):
        melt_ceiling(found.system)


def test_heater_too_weak_to_hold_the_setpoint_at_rest() -> None:
    problem = usual_problem("short", level=-2.0)
    idle = solve_at_flow(system_of(problem), 0.0).power
    weak = find_ceilings(rated(problem, 0.9 * idle))
    assert weak.governs == "none"
    assert weak.flow == 0.0
    assert weak.heater_too_weak
    assert "too weak" in statement(weak)
    assert f"{idle:.1f} W" in statement(weak)
    # and with a little more than that it melts a little, limited by power
    strong = find_ceilings(rated(problem, 1.1 * idle))
    assert strong.governs == "power"
    assert strong.melt is not None
    assert 0.0 < strong.flow < 0.3 * strong.melt.flow
    assert "rating" in statement(strong)


def test_a_rating_that_is_never_used_up_is_said_so_and_is_not() -> None:
    found = find_ceilings(rated(usual_problem("short", level=-2.0), 200.0))
    assert found.melt is not None
    assert found.power is None
    assert found.governs == "melt"
    assert "not used up" in reasons(found)["power"]
    assert solve_at_flow(found.system, 3.0 * found.melt.flow).power < 200.0


def test_power_is_concave_in_the_flow_which_the_bound_relies_on() -> None:
    for kind, fan in (("short", False), ("long nozzle", True), ("sleeve", False)):
        melt = melt_ceiling(system_of(usual_problem(kind, fan, -2.0)))
        flows = melt.flow * np.array([1.0, 1.5, 2.0, 2.5, 3.0])
        powers = np.array([solve_at_flow(melt.system, q).power for q in flows])
        assert np.all(np.diff(powers, 2) < 1e-6)
        assert melt.power_slope is not None
        assert np.all(powers <= melt.power + melt.power_slope * (flows - melt.flow) + 1e-6)


# a bare nozzle in the wind ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("jet", [20.0])
def test_bare_nozzle_in_a_strong_jet_reports_the_highest_flow_that_still_melts(jet: float) -> None:
    # the flow itself carries heat down to the cold tip: the core rises with the flow before it falls
    problem = judged_by(problem_for("long nozzle", level=-2.0, surroundings=Surroundings(jet_speed=jet)), "core")
    flows = np.concatenate([[0.01], np.arange(1.0, 22.0, 1.0)])
    fields = [solve_at_flow(system_of(problem), 1e-9 * flows[-1])]
    for flow in flows[-2::-1]:
        fields.append(solve_at_flow(system_of(problem), 1e-9 * flow, fields[-1].state))
    core = np.array([field.core for field in reversed(fields)]) - 273.15
    peak = int(core.argmax())
    assert 0 < peak < flows.size - 1  # not monotone: else this test would prove nothing
    rise = core[peak] - core[0]
    assert rise > 1.0
    for share in (0.2, 0.6, 0.9):
        judged = flowing_at(problem, core[0] + share * rise)  # met twice, on the way up and on the way down
        found = find_ceilings(judged)
        assert found.melt is not None
        melting = flows[core >= core[0] + share * rise]
        assert melting.min() > 0.01
        assert melting.max() <= 1e9 * found.melt.flow <= melting.max() + 1.0
    beyond = find_ceilings(flowing_at(problem, core[peak] + 1.0))
    assert beyond.melt is None
    assert "at any flow" in statement(beyond)


def test_at_most_is_no_less_than_the_true_most() -> None:
    problem = judged_by(problem_for("long nozzle", level=-2.0, surroundings=Surroundings(jet_speed=20.0)), "core")
    warmest = max(solve_at_flow(system_of(problem), 1e-9 * q).core for q in np.arange(2.0, 14.0, 0.5)) - 273.15
    told = reasons(find_ceilings(flowing_at(problem, warmest + 3.0)))["melt"]
    said = float(told.split("reaches ")[1].split(" degC")[0])
    assert said == pytest.approx(warmest, abs=0.15)


# scaling ----------------------------------------------------------------------------------------------------------------


def ideal(arrangement: Arrangement, level: float = 0.0) -> Problem:
    """Nearly the heated tube of the textbook: no losses, perfect contacts, metal of no resistance, a made-up plain polymer."""
    base = materials_for(arrangement)
    perfect = constant("conductivity", "W/m/K", 5e4)
    none = constant("conductivity", "W/m/K", 1e-6)
    polymer = replace(
        base.polymer,
        conductivity=constant("conductivity", "W/m/K", 0.18),
        heat_capacity=constant("heat capacity", "J/kg/K", 2000.0),
        density=constant("density", "kg/m3", 1100.0),
        melting_enthalpy=0.0,
        softening_temperature=100.0,
        flow_temperature=433.15,
    )
    materials: MaterialSet = replace(
        base,
        polymer=polymer,
        block=replace(base.block, conductivity=perfect),
        nozzle=replace(base.nozzle, conductivity=perfect),
        heat_break=replace(base.heat_break, conductivity=perfect),
        air=replace(base.air, conductivity=none),
    )
    contacts = Contacts(bore_melt=1e8, thread=1e8, shoulder=1e8, cold_joint=1e-9)
    return problem_for(
        arrangement,
        setpoint=220.0,
        level=level,
        contacts=contacts,
        surroundings=insulated(),
        materials=materials,
        inlet_temperature=298.15,
        criterion="core",
    )


def tube(extra: float = 0.0, bore: float = 2.0e-3) -> Arrangement:
    """The long block, `extra` longer, with another bore."""
    return Arrangement(
        block=Block(height=20e-3 + extra),
        nozzle=Nozzle(length=21e-3 + extra, bore=bore),
        heat_break=HeatBreak(bore=bore, neck_diameter=bore + 1e-3),
    )


def series_ceiling(length: float) -> float:
    """Flow at which the core of a plug in a tube of that length at 220 degC, fed at 25 degC, reaches 160 degC [m3/s].

    theta = sum 2/(b J1(b)) exp(-b^2 Fo), Fo = pi alpha L / Q (Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed.).
    """
    zeros = jn_zeros(0, 20)
    weights, theta = 2.0 / (zeros * j1(zeros)), (220.0 - 160.0) / (220.0 - 25.0)
    fourier = brentq(lambda fo: float(weights @ np.exp(-(zeros**2) * fo)) - theta, 0.02, 3.0)
    return np.pi * 0.18 / 1100.0 / 2000.0 * length / fourier


def heated(arrangement: Arrangement) -> float:
    return arrangement.block_top - arrangement.nozzle.land


def test_the_series_itself_gives_the_tabulated_ceiling() -> None:
    # computed once with care for L = 20 mm: core at 160 degC at 18.0258 mm3/s
    assert 1e9 * series_ceiling(20e-3) == pytest.approx(18.0258, rel=1e-5)


def test_ceiling_is_proportional_to_the_length() -> None:
    short, long = (melt_ceiling(system_of(ideal(tube(extra)))).flow for extra in (0.0, 24e-3))
    gain = (long - short) / 24e-3
    # each further millimetre gives exactly what the series gives a millimetre
    assert gain == pytest.approx(series_ceiling(1.0), rel=2e-3)
    # and the whole: the two ends (entry from filament to bore, heat that creeps up the filament) weigh less the longer it is
    ratio = heated(tube(24e-3)) / heated(tube())
    assert long / short == pytest.approx(ratio, rel=0.03)
    assert long == pytest.approx(series_ceiling(heated(tube(24e-3))), rel=0.03)


def test_ceiling_does_not_depend_on_the_bore() -> None:
    # Fo = pi alpha L / Q holds no radius; what is left of it is the entry, whose length goes with the gap, and conduction
    # along the axis: within 2 per cent for a bore half as wide again
    flows = [melt_ceiling(system_of(ideal(tube(24e-3, bore)))).flow for bore in (1.9e-3, 2.0e-3, 2.4e-3, 3.0e-3)]
    assert max(flows) / min(flows) - 1.0 < 0.02


def test_setpoint_factor_is_the_same_for_every_length() -> None:
    def factor(extra: float) -> float:
        cold = ideal(tube(extra))
        hot = replace(cold, operation=replace(cold.operation, setpoint=260.0 + 273.15))
        return melt_ceiling(system_of(hot)).flow / melt_ceiling(system_of(cold)).flow

    assert factor(24e-3) == pytest.approx(factor(0.0), rel=0.01)


def test_power_ceiling_needs_the_melt_ceiling_only_as_a_start() -> None:
    problem = usual_problem("short", level=-2.0)
    melt = melt_ceiling(system_of(problem))
    problem = rated(problem, 0.5 * (melt.power + solve_at_flow(system_of(problem), 0.0).power))
    again = power_ceiling(system_of(problem), replace(melt, power_slope=1.3 * (melt.power_slope or 1.0)))
    assert again.flow == pytest.approx(power_ceiling(system_of(problem), melt).flow, rel=1e-7)


# stiff cases ------------------------------------------------------------------------------------------------------------


def melting_over(problem: Problem, kelvins: float) -> Problem:
    polymer = replace(problem.materials.polymer, melting_width=kelvins)
    return replace(problem, materials=replace(problem.materials, polymer=polymer))


@pytest.mark.parametrize("plastic", POLYMERS)
def test_a_heater_of_any_rating_above_what_rest_takes_has_its_ceiling(plastic: str) -> None:
    """Far below the melt ceiling too, where the peaks of semicrystalline polymers make the way there steep."""
    problem = problem_for("long nozzle", plastic, SETPOINTS.get(plastic, 250.0), -2.0)
    melt, idle = melt_ceiling(system_of(problem)), solve_at_flow(system_of(problem), 0.0).power
    flows = []
    for spare in (0.05, 0.3, 1.5, 0.8 * (melt.power - idle)):
        found = find_ceilings(rated(problem, idle + spare))
        assert found.answered and found.governs == "power" and found.power is not None, found.faults
        again = solve_at_flow(system_of(problem), found.power.flow, melt.state)
        assert again.power == pytest.approx(idle + spare, rel=1e-6)
        flows.append(found.power.flow)
    assert flows == sorted(flows) and flows[-1] < melt.flow


@pytest.mark.slow
@pytest.mark.parametrize("plastic", ["pp", "pa12", "pa6"])
def test_a_melting_peak_as_sharp_as_cards_may_give_is_solved(plastic: str) -> None:
    """To the limit of a sharp front: what 1 K, 2 K and 4 K of width melt differs less and less."""
    flows = []
    for kelvins in (4.0, 2.0, 1.0):
        problem = melting_over(problem_for("short", plastic, SETPOINTS.get(plastic, 235.0), -1.0), kelvins)
        found = find_ceilings(problem)
        assert found.answered and found.melt is not None, found.faults
        assert found.melt.balance.relative_imbalance < 1e-8
        assert miss_at(found.system, found.melt.flow) == pytest.approx(0.0, abs=1e-4)
        flows.append(found.melt.flow)
    assert flows[2] == pytest.approx(flows[1], rel=5e-3)
    weak = find_ceilings(rated(problem, solve_at_flow(found.system, 0.0).power + 1.0))
    assert weak.answered and weak.governs == "power"
