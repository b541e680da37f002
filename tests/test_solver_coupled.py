"""Temperatures and slow flow of the melt solved together: closed forms with heat from shear, work equal to heat, limits."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from support import constant, system_of

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.studies.wording import reason
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.faults import FlowNotAgreed
from meltzone.fem.field import Field
from meltzone.fem.in_time.course import Regime, course_of
from meltzone.fem.limits import melt_ceiling
from meltzone.fem.motion import profile_share
from meltzone.fem.problem import Problem
from meltzone.fem.slow_flow import coupled
from meltzone.fem.slow_flow.feeding import feeding
from meltzone.fem.slow_flow.stokes import Passage, melt_flow_of
from meltzone.fem.steady import solve_at_flow
from meltzone.materials.polymer import CrossWLF

SOLVED = {"polymer.profile": "solved"}
COARSE = {**SOLVED, "mesh.level": 0.25}
SLOW = 1e-9  # m3/s: temperatures and velocity are developed within a few mm of bore
K = 0.2


@cache
def short(profile: str, level: float = -1.0) -> Problem:
    return replace(problem_of(load_case("short-block", {"polymer.profile": profile})), level=level)


@cache
def ceiling_of(profile: str, level: float = -1.0) -> Field:
    return melt_ceiling(system_of(short(profile, level)))


def with_law(law: CrossWLF) -> Problem:
    """The short block with a polymer of constant conductivity and `law`, in a nozzle that hardly resists the heat."""
    wide = {"nozzle.orifice": "1.8 mm", "nozzle.tip_diameter": "2.5 mm", "nozzle.land": "0.5 mm"}
    problem = problem_of(load_case("short-block", {**COARSE, **wide}))
    polymer = replace(problem.materials.polymer, viscosity=law, conductivity=constant("conductivity", "W/m/K", K))
    nozzle = replace(problem.materials.nozzle, conductivity=constant("conductivity", "W/m/K", 1e5))
    return replace(problem, materials=replace(problem.materials, polymer=polymer, nozzle=nozzle))


def newtonian(at_rest: float, by_kelvin: float) -> CrossWLF:
    """Viscosity `at_rest` [Pa s] at 210 degC times exp(-b (T - 210 degC)); at n = 1 the Cross law halves that at rest."""
    far = 1e9  # the shift of Williams, Landel and Ferry is a straight line so far from its pole
    cold = 300.0
    return CrossWLF(
        n=1.0 - 1e-9,
        tau_star=1e5,
        D1=2.0 * at_rest * math.exp(by_kelvin * (483.15 - cold)),
        D2=cold,
        A1=by_kelvin * far,
        A2=far,
    )


def across(field: Field, height: float = 3e-3) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Radius over that of the wall [-], temperature [K] and stream function [-] of the level closest to `height` [m]."""
    passage = Passage.of(field.system)
    level = int(np.argmin(np.abs(passage.heights - height)))
    row = passage.sections[level]
    share = passage.space.points[0][passage.local[level]] / passage.wall[level]
    return share, field.temperature[row], field.system.stream[row]


def test_newtonian_pipe_heated_by_its_own_shear() -> None:
    # Brinkman 1951, Appl. Sci. Res. A 2:120 (from memory); integrated: T - T_wall = mu U^2 / k (1 - s^4), U the mean speed,
    # and Nu = 48/5 far downstream with the wall at one temperature.
    viscosity = 5e7
    field = solve_at_flow(system_of(with_law(newtonian(viscosity, 1e-12))), SLOW)
    bore = field.problem.arrangement.nozzle.bore / 2.0
    rise = viscosity * (SLOW / (math.pi * bore**2)) ** 2 / K
    s, temperature, stream = across(field)
    assert rise > 20.0
    assert temperature[0] - temperature[-1] == pytest.approx(rise, rel=1e-3)
    np.testing.assert_allclose((temperature - temperature[-1]) / rise, 1.0 - s**4, atol=1e-3)
    np.testing.assert_allclose(stream, profile_share(s, 1.0), atol=1e-5)
    wall_slope = (temperature[-3:] @ [1.0, -4.0, 3.0]) / (s[-1] - s[-3]) / bore
    # flow-weighted, the temperatures of each cell's three nodes over Simpson's shares of its flow
    middle = np.diff(stream[::2])[:, None] * [[1.0, 4.0, 1.0]] / 6.0
    mean = float(np.sum(middle * np.stack([temperature[:-2:2], temperature[1:-1:2], temperature[2::2]], axis=1)))
    assert -2.0 * bore * wall_slope / (mean - temperature[-1]) == pytest.approx(48.0 / 5.0, rel=5e-3)


@pytest.mark.parametrize(("at_rest", "b"), [(3e7, 0.03), (1e8, 0.05)])
def test_pipe_whose_melt_thins_by_the_heat_of_its_shear(at_rest: float, b: float) -> None:
    # eta = eta_0 exp(-b (T - T_0)): Kearsley 1962, Trans. Soc. Rheol. 6:253 (from memory); derived anew: in x = s^4 the balance
    # is that of a self-heating cylinder, so exp(b (T - T_wall)) = ((1 + C) / (1 + C x))^2, and
    # 32 C / (1 + C)^2 = b G^2 R^4 / (4 eta_wall k) with the pressure gradient G; Q = pi G R^4 (1 + C) / (8 eta_wall).
    field = solve_at_flow(system_of(with_law(newtonian(at_rest, b))), SLOW)
    s, temperature, _ = across(field)
    wall, bore = float(temperature[-1]), field.problem.arrangement.nozzle.bore / 2.0
    eta = at_rest * math.exp(-b * (wall - 483.15))

    def excess(c: float) -> float:
        gradient = 8.0 * eta * SLOW / (math.pi * bore**4 * (1.0 + c))
        return 32.0 * c / (1.0 + c) ** 2 - b * gradient**2 * bore**4 / (4.0 * eta * K)

    c = brentq(excess, 1e-9, 1e3)
    expected = wall + 2.0 / b * np.log((1.0 + c) / (1.0 + c * s**4))
    assert expected[0] - wall > 10.0
    np.testing.assert_allclose(temperature - wall, expected - wall, atol=1e-3 * (expected[0] - wall))
    assert field.balance.relative_imbalance < 1e-9


def test_velocity_of_a_power_law_melt() -> None:
    # u/U = (3n+1)/(n+1) (1 - s^((n+1)/n)), any fluid text, integrated; the melt does not thin with heat
    n = 0.4
    field = solve_at_flow(system_of(with_law(CrossWLF(n=n, tau_star=1e-3, D1=1e9, D2=150.0, A1=1e-12, A2=51.6))), SLOW)
    s, _, stream = across(field, 7e-3)  # above the reach of the cone, which is felt 6 mm far
    np.testing.assert_allclose(stream, profile_share(s, n), atol=5e-5)


def test_heat_balance_closes_and_its_heat_from_shear_is_the_work_of_the_feeder() -> None:
    field = ceiling_of("solved")
    melt = melt_flow_of(field)
    assert melt.solved.factorisations <= 2  # it begins with the velocity that the field was solved with
    assert field.balance.relative_imbalance < 1e-9
    whole = float(melt.load(field.system.space.size).sum())
    assert whole > 1.01 * melt.heat > 0.0  # what rubs along the wall counts too
    assert field.balance.viscous == pytest.approx(whole, rel=1e-5)
    assert field.balance.viscous == pytest.approx(melt.pressure * field.flow, rel=1e-5)
    np.testing.assert_allclose(coupled.carried_by(field.system, melt).stream, field.system.stream, atol=1e-6)
    assert field.inner == pytest.approx(field.problem.materials.polymer.flow_temperature, abs=1e-6)


def test_a_long_straight_bore_agrees_with_lubrication() -> None:
    # a block of 40 mm; the shaped profile is that of fully developed flow in each section
    fields = {}
    for profile in ("plug", "shaped", "solved"):
        long = {"polymer.profile": profile, "block.height": "40 mm", "nozzle.length": "42 mm", "mesh.level": 0.5}
        fields[profile] = solve_at_flow(system_of(problem_of(load_case("long-block", long))), 15e-9)
    for height in (8e-3, 16e-3):
        rows = {profile: across(field, height)[1:] for profile, field in fields.items()}
        warmer, faster = (np.abs(rows["shaped"][k] - rows["plug"][k]).max() for k in (0, 1))
        assert warmer > 8.0 and faster > 0.19
        assert np.abs(rows["solved"][0] - rows["shaped"][0]).max() < 0.06 * warmer
        assert np.abs(rows["solved"][1] - rows["shaped"][1]).max() < 0.004 * faster


def test_ceiling_settles_as_the_mesh_is_refined() -> None:
    # level 3 gives 11.70489 mm3/s
    coarse, middle, fine = (ceiling_of("solved", level).flow for level in (-0.5, 0.25, 1.0))
    assert abs(middle / fine - 1.0) < 6e-5
    assert abs(coarse / fine - 1.0) < 1e-4


def test_the_start_does_not_matter() -> None:
    problem, cold = short("solved"), ceiling_of("solved")
    assert cold.factorisations > 20
    for start in (ceiling_of("plug").state, ceiling_of("shaped").state, solve_at_flow(system_of(problem), 3e-9).state):
        again = melt_ceiling(system_of(problem), start)
        assert again.flow == pytest.approx(cold.flow, rel=2e-6)
        assert np.abs(again.temperature - cold.temperature).max() < 2e-3


def test_what_does_not_settle_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(coupled, "TURNS", 3)
    with pytest.raises(FlowNotAgreed) as caught:
        solve_at_flow(system_of(short("solved")), 8e-9)
    assert "do not come to agree: from turn 2 to 3 the flow still moves" in reason(caught.value)


def test_power_ceiling_and_ceiling_at_rest() -> None:
    problem = short("solved")
    found = find_ceilings(replace(problem, operation=replace(problem.operation, rating=12.0)))
    assert found.governs == "power" and found.power is not None and found.melt is not None
    assert found.power.power == pytest.approx(12.0, abs=1e-9)
    below = solve_at_flow(found.system, found.power.flow * (1.0 - 1e-4), found.power.state)
    assert below.power < 12.0
    assert solve_at_flow(system_of(problem), 0.0).power < 12.0


def test_force_ceiling_is_that_of_the_agreed_state() -> None:
    problem = replace(problem_of(load_case("short-block", {**SOLVED, "feeder.grip": "14 N"})), level=-1.0)
    found = find_ceilings(problem)
    assert found.governs == "force" and found.force is not None
    assert feeding(found.force).force == pytest.approx(14.0, rel=2e-4)
    assert found.force.balance.viscous == pytest.approx(melt_flow_of(found.force).pressure * found.flow, rel=1e-5)
    low, high = (feeding(solve_at_flow(system_of(problem), found.flow * (1.0 + s))).force for s in (-1e-3, 1e-3))
    assert low < 14.0 < high


OWN = """extends = "short-block"
[polymer]
material = "own"
profile = "solved"
[materials.own]
kind = "polymer"
conductivity = "0.2 W/m/K"
heat_capacity = "2000 J/kg/K"
density = "1100 kg/m3"
softening_temperature = "80 degC"
flow_temperature = "160 degC"
degradation_temperature = "250 degC"
"""


def test_it_needs_a_viscosity(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(OWN, encoding="utf-8")
    with pytest.raises(CaseError, match="holds no viscosity"):
        problem_of(load_case(tmp_path / "own.toml"))


def test_it_is_not_followed_in_time() -> None:
    problem = short("solved")
    with pytest.raises(ValueError, match="not followed in time"):
        course_of(system_of(problem), [Regime(0.0, 5e-9, problem.surroundings)], 10.0)
