"""Feeding pressure: bore, cone and land against the closed forms of slow pipe and cone flow."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.studies.wording import reason
from meltzone.fem.discretise import discretise
from meltzone.fem.faults import GripOutOfReach
from meltzone.fem.field import Field
from meltzone.fem.slow_flow.feeding import feeding
from meltzone.fem.slow_flow.force import flow_at_force
from meltzone.fem.steady import solve_at_flow
from meltzone.materials.polymer import CrossWLF

FLOW = 8e-9


def isothermal(law: CrossWLF, level: float = 1.0) -> Field:
    """The field of a shipped case, its polymer given a viscosity that does not feel the temperature."""
    problem = problem_of(load_case("short-block", {"mesh.level": level}))
    polymer = replace(problem.materials.polymer, viscosity=law, plateau_modulus=1e13)  # chains relax at once
    return solve_at_flow(discretise(replace(problem, materials=replace(problem.materials, polymer=polymer))), FLOW)


def constant(n: float, viscosity: float, tau_star: float = 1e5) -> CrossWLF:
    return CrossWLF(n=n, tau_star=tau_star, D1=viscosity, D2=150.0, A1=1e-12, A2=51.6)


def test_newtonian_land_cone_and_stretching() -> None:
    # Poiseuille: dp = 8 eta Q L / (pi R^4). Cone by lubrication: dp = 8 eta Q / (3 pi tan(a)) (1/R_o^3 - 1/R_b^3).
    # Stretching at the plug's rate: dp = 4 eta0 Q tan(a) / pi (1/R_o^3 - 1/R_b^3) with a Trouton ratio of 3.
    field = isothermal(constant(1.0 - 1e-9, 2000.0))
    nozzle, eta = field.problem.arrangement.nozzle, 1000.0  # at n = 1 the Cross law halves the viscosity at rest
    orifice, bore, slope = nozzle.orifice / 2.0, nozzle.bore / 2.0, math.tan(nozzle.cone_angle / 2.0)
    narrowing = 1.0 / orifice**3 - 1.0 / bore**3
    found = feeding(field)
    assert found.land == pytest.approx(8.0 * eta * FLOW * nozzle.land / (math.pi * orifice**4), rel=1e-5)
    assert found.cone == pytest.approx(8.0 * eta * FLOW / (3.0 * math.pi * slope) * narrowing, rel=0.01)
    assert found.stretching == pytest.approx(4.0 * 2.0 * eta * FLOW * slope / math.pi * narrowing, rel=1e-3)
    assert found.force == pytest.approx(found.pressure * math.pi * 1.75e-3**2 / 4.0, rel=1e-12)


def test_bore_counts_from_where_the_skin_has_softened() -> None:
    field = isothermal(constant(1.0 - 1e-9, 2000.0))
    a = field.problem.arrangement
    whole = a.block_top - a.nozzle.land - a.nozzle.inner_cone_height
    per_length = 8.0 * 1000.0 * FLOW / (math.pi * (a.nozzle.bore / 2.0) ** 4)
    dry = whole - feeding(field).bore / per_length
    # PLA at 210 degC softens within the first millimetre or so of the block
    assert 0.2e-3 < dry < 1.5e-3


def test_power_law_land_and_cone() -> None:
    # Pipe: dp = 2 K L / R ((3n+1)/(n pi) Q / R^3)^n. Cone, the same integrated over R:
    # dp = 2 K / (3 n tan(a)) ((3n+1)/(n pi) Q)^n (R_o^-3n - R_b^-3n). Any fluid text on power-law flow.
    n, tau_star, rest = 0.4, 1e-3, 1e9  # far beyond the knee: a pure power law
    field = isothermal(constant(n, rest, tau_star))
    nozzle = field.problem.arrangement.nozzle
    orifice, bore, slope = nozzle.orifice / 2.0, nozzle.bore / 2.0, math.tan(nozzle.cone_angle / 2.0)
    consistency = rest**n * tau_star ** (1.0 - n)
    factor = ((3.0 * n + 1.0) / (n * math.pi) * FLOW) ** n
    found = feeding(field)
    land = 2.0 * consistency * nozzle.land / orifice * factor * orifice ** (-3.0 * n)
    cone = 2.0 * consistency / (3.0 * n * slope) * factor * (orifice ** (-3.0 * n) - bore ** (-3.0 * n))
    assert found.land == pytest.approx(land, rel=1e-4)
    assert found.cone == pytest.approx(cone, rel=0.01)


def test_a_hotter_block_pushes_easier_and_more_flow_harder() -> None:
    cold, hot = (
        problem_of(load_case("short-block", {"heater.setpoint": f"{t} degC", "mesh.level": 0.25})) for t in (200, 240)
    )
    assert feeding(solve_at_flow(discretise(hot), FLOW)).force < feeding(solve_at_flow(discretise(cold), FLOW)).force
    assert (
        feeding(solve_at_flow(discretise(cold), FLOW)).force
        < feeding(solve_at_flow(discretise(cold), 1.3 * FLOW)).force
    )


def test_no_viscosity_no_force() -> None:
    problem = problem_of(load_case("short-block", {"mesh.level": 0.25}))
    for missing, words in (("viscosity", "holds no viscosity"), ("plateau_modulus", "holds no plateau modulus")):
        polymer = replace(problem.materials.polymer, **{missing: None})
        bare = replace(problem, materials=replace(problem.materials, polymer=polymer))
        with pytest.raises(ValueError, match=words):
            feeding(solve_at_flow(discretise(bare), FLOW))


def test_flow_at_a_grip_of_a_newtonian_melt() -> None:
    # With one constant viscosity all pressures but the dry length's are proportional to the flow: the land's share tells.
    law = constant(1.0 - 1e-9, 2000.0)
    field = isothermal(law, level=0.25)
    ahead = feeding(field)
    found = flow_at_force(field, 2.0 * ahead.force)
    assert feeding(found).force == pytest.approx(2.0 * ahead.force, rel=1e-6)
    assert feeding(found).land / ahead.land == pytest.approx(found.flow / FLOW, rel=2e-5)
    assert found.flow == pytest.approx(2.0 * FLOW, rel=0.05)  # the bore stays dry a little longer at more flow


def test_a_grip_beyond_reach_is_said() -> None:
    field = isothermal(constant(1.0 - 1e-9, 2000.0), level=0.25)
    with pytest.raises(GripOutOfReach) as caught:
        flow_at_force(field, 1e9)
    assert "no flow meets a feeding force of 1000000000 N: at " in reason(caught.value)
