"""Flow of the melt through one section: power-law and two-layer pipe flow in closed form, heat equal to the feeder's work."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.discretise import shaped_system
from meltzone.fem.motion import profile_share
from meltzone.fem.rheology import section_flow, section_heating, shear_rate
from meltzone.fem.steady import solve_at_flow
from meltzone.materials.polymer import CrossWLF
from meltzone.materials.viscosity import CarreauArrhenius

RADIUS = 1e-3
LAW = CrossWLF(n=0.3, tau_star=8e4, D1=2e9, D2=373.15, A1=20.0, A2=51.6)  # made up, of the order of a print polymer
# exponent next to 1 and no shear thinning: the Cross law then halves the viscosity at rest
NEWTONIAN = replace(LAW, n=1.0 - 1e-9)


def graded(n: int) -> np.ndarray:
    return RADIUS * (1.0 - (1.0 - np.linspace(0.0, 1.0, n)) ** 1.5)


def test_shear_rate_inverts_the_cross_law() -> None:
    rate = np.geomspace(1e-6, 1e8, 60)
    rest = np.full_like(rate, 3000.0)
    stress = rest * rate / (1.0 + (rest * rate / LAW.tau_star) ** (1.0 - LAW.n))
    found, bend = shear_rate(stress, rest, LAW)
    np.testing.assert_allclose(found, rate, rtol=1e-11)
    np.testing.assert_allclose(bend, np.gradient(np.log(rate), np.log(stress)), rtol=0.02)


def test_shear_rate_inverts_carreau_s_law() -> None:
    """Carreau's law as he writes it, with a time: eta0 (1 + (lambda rate)^2)^((n - 1)/2)."""
    law, rate = CarreauArrhenius(n=0.4, tau_star=6e4, rest=3000.0, T0=483.15, E=70e3), np.geomspace(1e-3, 1e6, 60)
    viscosity = 3000.0 * (1.0 + (3000.0 / 6e4 * rate) ** 2) ** ((0.4 - 1.0) / 2.0)
    np.testing.assert_allclose(law(rate, 483.15), viscosity, rtol=1e-13)
    found, _ = shear_rate(viscosity * rate, np.full_like(rate, 3000.0), law)
    np.testing.assert_allclose(found, rate, rtol=1e-9)
    hot = np.array([460.0, 483.15, 510.0])
    slope = (np.log(law.zero_shear(hot + 1e-3)) - np.log(law.zero_shear(hot - 1e-3))) / 2e-3
    np.testing.assert_allclose(law.zero_shear_slope(hot), slope, rtol=1e-6)


@pytest.mark.parametrize(("flow", "exponent"), [(1e-17, 1.0), (1.0, LAW.n)])
def test_profile_and_pressure_of_the_two_limits(flow: float, exponent: float) -> None:
    # Pipe flow of a power-law fluid, any fluid text: dp/dx = 2 K/R ((3n+1)/n U/R)^n, share of the flow inside r/R.
    r, T = graded(41)[None], np.full((1, 41), 483.15)
    share, gradient = section_flow(r, T, np.array([flow]), LAW)
    rest = float(LAW.zero_shear(483.15))
    consistency = rest**exponent * LAW.tau_star ** (1.0 - exponent)
    speed = flow / (np.pi * RADIUS**2)
    expected = 2.0 * consistency / RADIUS * ((3.0 * exponent + 1.0) / exponent * speed / RADIUS) ** exponent
    assert gradient[0] == pytest.approx(expected, rel=1e-5)
    np.testing.assert_allclose(share[0], profile_share(r[0] / RADIUS, exponent), atol=2e-6)


def test_two_layers_of_different_viscosity() -> None:
    # Core-annular Newtonian flow in closed form: Q = pi G / 8 [ (R^4 - a^4) / eta_2 + a^4 / eta_1 ].
    inner, thin = 0.6 * RADIUS, 1e-9 * RADIUS
    r = np.concatenate([np.linspace(0.0, inner, 30), np.linspace(inner + thin, RADIUS, 30)])
    T = np.where(r <= inner, 440.0, 500.0)
    core, rim = (float(NEWTONIAN.zero_shear(t)) / 2.0 for t in (440.0, 500.0))
    flow = 13e-9
    share, gradient = section_flow(r[None], T[None], np.array([flow]), NEWTONIAN)
    expected = flow / (np.pi / 8.0 * ((RADIUS**4 - inner**4) / rim + inner**4 / core))
    assert gradient[0] == pytest.approx(expected, rel=1e-6)
    inside = (
        np.pi * expected / 8.0 * (inner**4 / core + 2.0 * inner**2 * (RADIUS**2 - inner**2) / rim) / flow
    )  # flow of the core: its own parabola on top of the velocity of the interface
    assert float(np.interp(inner, r, share[0])) == pytest.approx(inside, rel=1e-6)


def test_a_cold_core_moves_as_a_plug() -> None:
    r = graded(61)
    T = np.where(r < 0.7 * RADIUS, 350.0, 500.0)
    share, _ = section_flow(r[None], T[None], np.array([13e-9]), LAW)
    stiff = r < 0.65 * RADIUS
    speed = share[0][stiff][1:] / r[stiff][1:] ** 2
    np.testing.assert_allclose(speed, speed[0], rtol=1e-3)


def test_viscous_heat_of_a_section_is_pressure_times_flow() -> None:
    # Energy balance of fully developed pipe flow: the work of the pressure all turns into heat.
    r = np.linspace(0.0, RADIUS, 4001)[None]
    T = 480.0 - 60.0 * (1.0 - r / RADIUS)
    flow = np.array([13e-9])
    _, gradient = section_flow(r, T, flow, LAW)
    heat = np.trapezoid(2.0 * np.pi * r * section_heating(r, T, gradient, LAW), r, axis=1)
    assert heat[0] == pytest.approx(gradient[0] * flow[0], rel=1e-5)


def test_a_shaped_field_holds_its_own_velocity_and_balance() -> None:
    problem = problem_of(load_case("short-block", {"polymer.profile": "shaped", "mesh.level": 0.25}))
    found = find_ceilings(problem)
    field = found.melt
    assert field is not None
    again = shaped_system(field.system, field.temperature, field.flow)
    np.testing.assert_allclose(again.stream, field.system.stream, atol=1e-7)
    np.testing.assert_allclose(again.viscous, field.system.viscous, atol=1e-7 * again.viscous.max())
    assert field.balance.viscous > 0.0
    assert field.balance.relative_imbalance < 1e-8
    assert found.factorisations <= 10


def test_shaped_ceiling_agrees_with_bracketing() -> None:
    problem = problem_of(load_case("short-block", {"polymer.profile": "shaped", "mesh.level": 0.25}))
    field = find_ceilings(problem).melt
    assert field is not None
    target = problem.materials.polymer.flow_temperature
    low, high = (solve_at_flow(field.system, field.flow * (1.0 + s)).inner - target for s in (-1e-6, 1e-6))
    assert low > 0.0 > high
