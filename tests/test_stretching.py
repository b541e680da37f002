"""The stress of drawn chains against closed forms: Trouton, steady and starting extension, shear, rubber, cones."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from meltzone.fem.slow_flow.streamlines import Streamlines
from meltzone.fem.slow_flow.stretching import MOBILITY, Drawing, held, steady_excess

MODULUS = 5e5


def drawn(strain: float, decay: float, steps: int = 400, mobility: float = MOBILITY) -> float:
    """Work [Pa] of a Hencky strain at a constant rate that takes `decay` relaxation times."""
    strains = np.full(steps, strain / steps)
    return float(Drawing(strains, np.full((steps, 1), decay / steps), MODULUS, mobility).work[0])


def test_slow_extension_has_three_times_the_shear_viscosity() -> None:
    # Trouton: stress = 3 eta e with eta = G lambda; so work = 3 G (e lambda) strain once the start is forgotten
    strain, weissenberg = 1.0, 1e-4
    assert drawn(strain, strain / weissenberg) == pytest.approx(3.0 * MODULUS * weissenberg * strain, rel=1e-3)


def test_sudden_extension_is_that_of_rubber() -> None:
    # neo-Hooke: W = G/2 (l^2 + 2/l - 3) for the stretch l = exp(strain)
    for strain in (-1.0, 0.5, 3.2):
        stretch = math.exp(strain)
        wanted = MODULUS / 2.0 * (stretch**2 + 2.0 / stretch - 3.0)
        assert drawn(strain, 1e-6, steps=5) == pytest.approx(wanted, rel=1e-3)


@pytest.mark.parametrize("weissenberg", [0.01, 0.3, 0.5, 2.0, 50.0])
def test_steady_extension_solves_giesekus(weissenberg: float) -> None:
    # 2 We A = (A - 1) + alpha (A - 1)^2 along, -We B = (B - 1) + alpha (B - 1)^2 across
    along, across = steady_excess(np.array(2.0 * weissenberg)), steady_excess(np.array(-weissenberg))
    assert 2.0 * weissenberg * (1.0 + along) == pytest.approx(along + MOBILITY * along**2, rel=1e-12)
    assert -weissenberg * (1.0 + across) == pytest.approx(across + MOBILITY * across**2, rel=1e-12)
    # whatever it starts from comes to it
    last, _ = held(np.array(3.0), np.array(2.0 * weissenberg), np.array(400.0))
    assert last == pytest.approx(along, rel=1e-9)


def test_fast_steady_extension_is_bounded_by_the_mobility() -> None:
    # A -> 2 We / alpha: the viscosity of extension ends at 2 eta / alpha
    assert steady_excess(np.array(2e6)) == pytest.approx(2e6 / MOBILITY, rel=1e-5)


@pytest.mark.parametrize(("weissenberg", "strain"), [(0.2, 2.0), (1.0, 3.0), (20.0, 3.2), (5.0, -1.5)])
def test_starting_extension_against_a_solver_of_ordinary_equations(weissenberg: float, strain: float) -> None:
    rate = math.copysign(weissenberg, strain)

    def slope(_: float, state: np.ndarray) -> list[float]:
        a, b, _work = state
        relax = [(c - 1.0) + MOBILITY * (c - 1.0) ** 2 for c in (a, b)]
        return [2.0 * rate * a - relax[0], -rate * b - relax[1], MODULUS * (a - b) * rate]

    duration = strain / rate
    solved = solve_ivp(slope, (0.0, duration), [1.0, 1.0, 0.0], rtol=1e-11, atol=1e-11, method="LSODA")
    # constant rate and relaxation time: one step is exact
    assert drawn(strain, duration, steps=1) == pytest.approx(solved.y[2, -1], rel=1e-8)
    assert drawn(strain, duration, steps=7) == pytest.approx(solved.y[2, -1], rel=1e-8)


def test_derivatives_by_the_decays_are_those_of_differences() -> None:
    rng = np.random.default_rng(3)
    strains, decays = rng.uniform(-0.1, 0.3, 12), rng.uniform(0.01, 3.0, (12, 4))
    found = Drawing(strains, decays, MODULUS).slopes
    for k in (0, 5, 11):
        moved = [decays.copy() for _ in range(2)]
        moved[0][k] -= 1e-6
        moved[1][k] += 1e-6
        low, high = (Drawing(strains, each, MODULUS).work for each in moved)
        assert found[k] == pytest.approx((high - low) / 2e-6, rel=1e-5)


def test_streamlines_of_a_cone_between_cylinders() -> None:
    heights, wall = np.array([0.0, 1.0, 2.0, 4.0, 5.0]), np.array([0.2, 0.2, 0.6, 1.0, 1.0])
    lines = Streamlines.along(heights, wall)
    assert lines.strains.sum() == pytest.approx(2.0 * math.log(5.0), rel=1e-12)
    frustums = math.pi / 3.0 * (1.0 * (0.04 + 0.12 + 0.36) + 2.0 * (0.36 + 0.6 + 1.0))
    assert lines.volumes.sum() == pytest.approx(frustums, rel=1e-12)
    assert set(lines.upper) == {2, 3}
    assert Streamlines.along(heights, np.ones(5)).strains.size == 0


def test_a_cone_of_newtonian_chains_to_digits() -> None:
    # 3 eta e over d(ln area) with e = 2 Q tan(a) / (pi R^3): dp = 4 eta Q tan(a) / pi (1/r^3 - 1/R^3). The extension term of
    # Gibson's converging flow with t = 1 and the plug's rate is the same integral.
    slope, flow, viscosity = math.tan(math.radians(30.0)), 1e-8, 1e3
    heights = np.array([0.0, 0.8e-3 / slope])
    wall = np.array([0.2e-3, 1e-3])
    fluidity = np.full((2, 1), 1.0 / viscosity)
    found = Streamlines.along(heights, wall).drawing(fluidity, flow, 1e13).work[0]
    wanted = 4.0 * viscosity * flow * slope / math.pi * (1.0 / wall[0] ** 3 - 1.0 / wall[1] ** 3)
    assert found == pytest.approx(wanted, rel=1e-3)


def tensor_law(gradient: np.ndarray, duration: float) -> tuple[np.ndarray, float]:
    """Giesekus's law for the whole conformation, times over the relaxation time: the last one, and the work over G."""

    def slope(_: float, state: np.ndarray) -> np.ndarray:
        a = state[:9].reshape(3, 3)
        away = a - np.eye(3)
        change = gradient @ a + a @ gradient.T - away - MOBILITY * away @ away
        return np.append(change.ravel(), np.sum(a * gradient))

    start = np.append(np.eye(3).ravel(), 0.0)
    solved = solve_ivp(slope, (0.0, duration), start, rtol=1e-10, atol=1e-11, method="LSODA")
    return solved.y[:9, -1].reshape(3, 3), float(solved.y[9, -1])


@pytest.mark.parametrize("weissenberg", [0.1, 1.0, 30.0])
def test_the_tensor_law_is_that_of_giesekus_in_steady_shear(weissenberg: float) -> None:
    # Closed form, Giesekus 1982, J. Non-Newtonian Fluid Mech. 11:69-109 (from memory): eta/eta0 = (1-f)^2 / (1 + (1-2a) f)
    k = 16.0 * MOBILITY * (1.0 - MOBILITY) * weissenberg**2
    chi = math.sqrt((math.sqrt(1.0 + k) - 1.0) / (k / 2.0))
    f = (1.0 - chi) / (1.0 + (1.0 - 2.0 * MOBILITY) * chi)
    wanted = (1.0 - f) ** 2 / (1.0 + (1.0 - 2.0 * MOBILITY) * f)
    shear = np.zeros((3, 3))
    shear[0, 1] = weissenberg
    last, _ = tensor_law(shear, 60.0)
    assert last[0, 1] / weissenberg == pytest.approx(wanted, rel=1e-6)


@pytest.mark.parametrize(("weissenberg", "strain"), [(0.2, 1.0), (3.0, 3.2)])
def test_without_shear_the_tensor_law_is_what_the_streamlines_carry(weissenberg: float, strain: float) -> None:
    pull = weissenberg * np.diag([1.0, -0.5, -0.5])
    _, work = tensor_law(pull, strain / weissenberg)
    assert drawn(strain, strain / weissenberg, steps=3) == pytest.approx(MODULUS * work, rel=1e-6)


def converging(stiffness: float, power: float, rate: float, narrowing: float, spread: float) -> float:
    """First term of Gibson's converging flow [Pa], its spread sin a (1 + cos a) / 4 [-]."""
    return 2.0 * stiffness / (3.0 * power) * (spread * rate) ** power * (1.0 - narrowing ** (3.0 * power))


def test_steps_along_a_cone_give_gibson_s_converging_flow() -> None:
    # Gibson 1989, Composites 20:57, as in a published worksheet: I = 3800 Pa s^t, t = 0.766, 90 degrees, 7.5 to 2 mm,
    # 10,000 1/s
    assert converging(3800.0, 0.766, 1e4, 2.0 / 7.5, 0.25) == pytest.approx(12.616560e5, rel=1e-7)
    # the plug's rate in a cone is tan a / 2 of the apparent one; the steps must agree for a stress of I e^t
    slope, narrow, wide, rate = math.tan(math.radians(30.0)), 2e-3, 7.5e-3, 1e4
    lines = Streamlines.along(np.array([0.0, (wide - narrow) / slope]), np.array([narrow, wide]))
    times = lines.volumes / (math.pi * narrow**3 * rate / 4.0)
    summed = float(np.sum(3800.0 * (lines.strains / times) ** 0.766 * lines.strains))
    assert summed == pytest.approx(converging(3800.0, 0.766, rate, narrow / wide, slope / 2.0), rel=1e-3)
