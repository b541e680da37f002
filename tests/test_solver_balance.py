"""Every watt accounted for, the limits of perfect and of no contact, and the signs that physics demands."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from skfem import ElementQuad2, FacetBasis
from support import (
    ARRANGEMENTS,
    JET,
    KINDS,
    LONG_NOZZLE,
    balanced,
    constant,
    insulated,
    materials_for,
    problem_for,
    system_of,
    usual_problem,
)

from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.discretise import discretise
from meltzone.fem.faults import NoConvergence
from meltzone.fem.field import Field
from meltzone.fem.inputs import Contacts, MaterialSet, Surroundings
from meltzone.fem.limits import melt_ceiling
from meltzone.fem.steady import solve_at_flow
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.covers import Sleeve
from meltzone.materials.library import names

CLOSED = 1e-8


def air_that_conducts_nothing(materials: MaterialSet) -> MaterialSet:
    dead = replace(materials.air, conductivity=constant("conductivity", "W/m/K", 1e-9))
    return replace(materials, air=dead)


def plain_polymer(materials: MaterialSet, cp: float = 2000.0, k: float = 0.18, softening: float = 330.0) -> MaterialSet:
    """Constant properties, no melting: numbers of a made-up amorphous polymer."""
    polymer = replace(
        materials.polymer,
        conductivity=constant("conductivity", "W/m/K", k),
        heat_capacity=constant("heat capacity", "J/kg/K", cp),
        density=constant("density", "kg/m3", 1100.0),
        melting_enthalpy=0.0,
        softening_temperature=softening,
    )
    return replace(materials, polymer=polymer)


@pytest.mark.parametrize("fan", [False, True])
@pytest.mark.parametrize("kind", KINDS)
def test_balance_closes_at_the_ceiling_and_at_given_flows(kind: str, fan: bool) -> None:
    problem = usual_problem(kind, fan, -1.0)
    found = find_ceilings(problem)
    fields = [f for f in (found.melt, found.power) if f] + [
        solve_at_flow(system_of(problem), q) for q in (0.0, 1e-9, 60e-9)
    ]
    for field in fields:
        balance = field.balance
        assert balance.relative_imbalance < CLOSED
        assert balance.heater == field.power > 0.0
        assert balance.melt > 0.0
        assert all(watts > 0.0 for watts in balance.faces.values())
        assert set(balance.faces) == {face.name for face in field.section.exposed}


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.sampled_from(KINDS),
    st.sampled_from(names("polymer")),
    st.floats(150.0, 300.0),
    st.floats(0.5, 80.0),
    st.floats(0.0, 20.0),
    st.floats(0.0, 1.0),
    st.floats(2.0, 5.0),
)
def test_balance_closes_in_any_case(
    kind: str, plastic: str, setpoint: float, flow: float, jet: float, exponent: float, contact: float
) -> None:
    problem = problem_for(
        kind,
        plastic,
        setpoint,
        level=-1.0,
        contacts=Contacts(bore_melt=10.0**contact, thread=10.0**contact),
        surroundings=Surroundings(jet_speed=jet),
        profile_exponent=exponent,
    )
    field = solve_at_flow(system_of(problem), 1e-9 * flow)
    assert field.balance.relative_imbalance < CLOSED
    assert field.sensor == pytest.approx(setpoint + 273.15, abs=1e-6)
    assert field.overshoot < 1.0


def test_every_loss_is_the_integral_of_its_flux_over_the_face() -> None:
    # by the library's own facet basis: an integration independent of the solver's arrays
    field = solve_at_flow(system_of(usual_problem("sleeve wrapped", True)), 10e-9)
    mesh = field.section.mesh
    ratio = {face.name: face.area_ratio for face in field.section.exposed}
    for face in field.system.faces:
        tag = "cold joint" if face.name == "cold end" else face.name
        basis = FacetBasis(mesh, ElementQuad2(), facets=mesh.boundaries[tag], intorder=8)
        surface = np.asarray(basis.interpolate(field.temperature))
        r = np.asarray(basis.global_coordinates())[0]
        watts = float(np.sum(face.loss(surface) * 2.0 * np.pi * r * basis.dx)) * ratio.get(face.name, 1.0)
        reported = field.balance.cold_end if face.name == "cold end" else field.balance.faces[face.name]
        assert reported == pytest.approx(watts, rel=1e-6)  # this rule is finer than the solver's


def test_cold_end_follows_newton_s_law() -> None:
    problem = usual_problem("short")
    field = solve_at_flow(system_of(problem), 10e-9)
    mesh, outside = field.section.mesh, problem.surroundings
    basis = FacetBasis(mesh, ElementQuad2(), facets=mesh.boundaries["cold joint"], intorder=6)
    excess = np.asarray(basis.interpolate(field.temperature)) - outside.cold_temperature
    area = 2.0 * np.pi * np.asarray(basis.global_coordinates())[0] * basis.dx
    assert field.balance.cold_end == pytest.approx(
        problem.contacts.cold_joint * float(np.sum(excess * area)), rel=1e-10
    )


def test_heat_that_leaves_by_the_cold_filament_is_the_gradient_there() -> None:
    # k dT/dz at the inlet against the reaction of the weak form: two discrete fluxes that meet as the mesh is refined,
    # slowly, since the held end of the filament meets the warmer gap at a corner
    differences = []
    for level in (0.0, 1.5, 3.0):
        field = solve_at_flow(
            system_of(problem_for("short", level=level, surroundings=Surroundings(cold_temperature=370.0))), 0.3e-9
        )
        mesh, polymer = field.section.mesh, field.problem.materials.polymer
        basis = FacetBasis(mesh, ElementQuad2(), facets=mesh.boundaries["inlet"], intorder=6)
        state = basis.interpolate(field.temperature)
        k = polymer.conductivity(np.asarray(state))
        area = 2.0 * np.pi * np.asarray(basis.global_coordinates())[0] * basis.dx
        by_gradient = -float(np.sum(k * state.grad[1] * area))
        assert field.balance.inlet > 0.0
        differences.append(abs(by_gradient / field.balance.inlet - 1.0))
    assert differences[0] > differences[1] > differences[2]
    assert differences[2] < 0.06


def test_melt_takes_the_enthalpy_of_the_outlet_s_mean_temperature() -> None:
    # constant properties: enthalpy is linear, so the heat is m cp (T_mean - T_in)
    materials = plain_polymer(materials_for(ARRANGEMENTS["short"]))
    field = solve_at_flow(system_of(problem_for("short", materials=materials)), 20e-9)
    leaving = field.system.outlet.traces(field.temperature)
    mean = float(np.sum(leaving * field.system.outlet_share))
    expected = 1100.0 * 20e-9 * 2000.0 * (mean - field.problem.operation.inlet_temperature)
    assert field.balance.melt == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("kind", KINDS)
def test_perfectly_insulated_the_heater_only_melts(kind: str) -> None:
    problem = problem_for(kind, surroundings=insulated(), contacts=Contacts(cold_joint=1e-9))
    field = solve_at_flow(system_of(problem), 20e-9)
    assert field.balance.losses == 0.0
    assert abs(field.balance.cold_end) < 1e-9
    polymer = problem.materials.polymer
    cold = float(polymer.enthalpy(problem.operation.inlet_temperature))
    leaving = field.system.outlet.traces(field.temperature)
    taken = (
        polymer.reference_density
        * 20e-9
        * float(np.sum((polymer.enthalpy(leaving) - cold) * field.system.outlet_share))
    )
    # the upper end of the heat break is then as hot as the block and sends a little back through the held inlet
    assert 0.0 < field.balance.inlet < 2e-3 * field.power
    assert field.power == pytest.approx(taken + field.balance.inlet, rel=1e-8)


def test_no_contact_leaves_the_polymer_cold() -> None:
    materials = air_that_conducts_nothing(materials_for(ARRANGEMENTS["short"]))
    usual = solve_at_flow(system_of(usual_problem("short")), 10e-9)
    contacts = Contacts(bore_melt=1e-9)
    field = solve_at_flow(system_of(problem_for("short", materials=materials, contacts=contacts)), 10e-9)
    assert 0.8 < abs(through_the_bore(usual)) / usual.balance.melt < 1.0
    assert abs(through_the_bore(field)) < 1e-6
    # what is left enters at the one ring of nodes where melt, gap and heat break meet
    assert field.balance.melt < 0.03 * usual.balance.melt
    assert field.core == pytest.approx(field.problem.operation.inlet_temperature, abs=6.0)


def through_the_bore(field: Field) -> float:
    """Heat over the bore's wall, from the first to the second side of the contact or back [W]."""
    total = 0.0
    for contact in field.system.contacts:
        if contact.name == "bore":
            jump = np.einsum("ei,eiq->eq", field.temperature[contact.dofs], contact.jump)
            conductance, _ = contact.law(contact.first.points[1], field.flow)
            total -= float(np.sum(conductance * jump * contact.first.area))
    return total


def test_less_and_less_contact_melts_less_and_less() -> None:
    heat = [
        solve_at_flow(system_of(problem_for("short", contacts=Contacts(bore_melt=h))), 20e-9).balance.melt
        for h in (300.0, 1e3, 3e3, 1e4, 1e5)
    ]
    assert np.all(np.diff(heat) > 0.0)


def test_perfect_contact_is_a_limit_and_joins_wall_and_skin() -> None:
    materials = plain_polymer(materials_for(ARRANGEMENTS["short"]), softening=100.0)  # soft at all temperatures
    fields = [
        solve_at_flow(system_of(problem_for("short", materials=materials, contacts=Contacts(bore_melt=h))), 10e-9)
        for h in (1e5, 1e6, 1e7, 1e8)
    ]
    steps = np.abs(np.diff([f.core for f in fields]))
    assert np.all(steps[1:] < 0.2 * steps[:-1])  # each tenfold brings a tenth: the resistance vanishes
    bore = next(c for c in fields[-1].system.contacts if c.name == "bore")
    jump = np.einsum("ei,eiq->eq", fields[-1].temperature[bore.dofs], bore.jump)
    assert np.abs(jump).max() < 0.1


@pytest.mark.parametrize("width", [20.6e-3, 22e-3])
def test_the_balance_closes_with_a_sleeve_as_wide_as_the_block_or_wider(width: float) -> None:
    """The upper face that stands out beyond the block loses heat by its own line of the balance."""
    sleeve = Sleeve(width=width)
    faces = balanced(problem_for(Arrangement(nozzle=LONG_NOZZLE, sleeve=sleeve), surroundings=JET)).balance.faces
    assert ("sleeve top" in faces) == (sleeve.radius > Arrangement().block.radius)
    assert all(watts > 0.0 for watts in faces.values())


@pytest.mark.parametrize(("kind", "fan"), [("short", False), ("long nozzle", True), ("sleeve", True), ("boot", False)])
@pytest.mark.parametrize("flow", [2e-9, 12e-9, 50e-9])
def test_a_hotter_setpoint_never_cools_the_polymer(kind: str, fan: bool, flow: float) -> None:
    def at(setpoint: float) -> Field:
        problem = replace(usual_problem(kind, fan, -1.0), operation=_operation(kind, fan, setpoint))
        return solve_at_flow(discretise(problem), flow)

    fields = [at(setpoint) for setpoint in (180.0, 200.0, 220.0, 250.0, 280.0)]
    for reading in ("core", "mean", "wall", "tip", "power"):
        assert np.all(np.diff([getattr(f, reading) for f in fields]) > 0.0), reading


def _operation(kind: str, fan: bool, setpoint: float):
    return replace(usual_problem(kind, fan, -1.0).operation, setpoint=setpoint + 273.15)


@pytest.mark.parametrize("kind", ["short", "long block", "boot", "thick filament"])
def test_more_flow_never_warms_the_core_of_a_heated_block(kind: str) -> None:
    flows = [2.0, 4.0, 8.0, 14.0, 20.0, 40.0, 80.0]
    lossless = problem_for(kind, level=-1.0, surroundings=insulated(), contacts=Contacts(cold_joint=1e-9))
    fields = [solve_at_flow(system_of(lossless), 1e-9 * q) for q in flows]
    assert np.all(np.diff([f.core for f in fields]) < 1e-6)
    assert np.all(np.diff([f.mean for f in fields]) < 0.0)
    # with losses the flow first carries a little heat to the cooler tip; past that the core falls
    fields = [solve_at_flow(system_of(usual_problem(kind, level=-1.0)), 1e-9 * q) for q in flows]
    assert np.all(np.diff([f.core for f in fields]) < 0.5)
    assert np.all(np.diff([f.core for f in fields if f.flow > 7e-9]) < 0.0)
    assert np.all(np.diff([f.power for f in fields]) > 0.0)


def test_what_helps_helps() -> None:
    # better metal, better contact and less wind each raise the ceiling of the bare long nozzle; the sleeve does in the jet
    base = melt_ceiling(system_of(usual_problem("long nozzle", True, -1.0))).flow
    assert melt_ceiling(system_of(usual_problem("long nozzle", level=-1.0))).flow > base
    assert melt_ceiling(system_of(usual_problem("sleeve", True, -1.0))).flow > base
    assert melt_ceiling(system_of(usual_problem("nozzle wrap", True, -1.0))).flow > base
    outside = usual_problem("long nozzle", True, -1.0).surroundings
    bare = ARRANGEMENTS["long nozzle"]
    copper = problem_for(bare, level=-1.0, surroundings=outside, materials=materials_for(bare, nozzle="copper"))
    steel = problem_for(bare, level=-1.0, surroundings=outside, materials=materials_for(bare, nozzle="stainless steel"))
    assert melt_ceiling(system_of(copper)).flow > base
    try:
        assert melt_ceiling(system_of(steel)).flow < base
    except NoConvergence:
        assert solve_at_flow(system_of(steel), base).core < solve_at_flow(system_of(copper), base).core
    tight = problem_for("long nozzle", level=-1.0, contacts=Contacts(thread=2e4), surroundings=outside)
    assert melt_ceiling(system_of(tight)).flow > base
