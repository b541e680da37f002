"""Curves: constants, tables, derivative, integral, ends, speed."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from meltzone.materials.curves import REFERENCE_TEMPERATURE, Curve


def table(temperatures: list[float], values: list[float]) -> Curve:
    return Curve("conductivity", "W/m/K", np.array(temperatures), np.array(values), "invented for this test")


@st.composite
def tables(draw: st.DrawFn) -> Curve:
    steps = draw(st.lists(st.floats(2.0, 120.0), min_size=1, max_size=8))
    start = draw(st.floats(200.0, 400.0))
    values = draw(st.lists(st.floats(0.05, 500.0), min_size=len(steps) + 1, max_size=len(steps) + 1))
    return table(list(start + np.concatenate([[0.0], np.cumsum(steps)])), values)


@given(tables())
def test_table_passes_through_its_points_and_never_overshoots(curve: Curve) -> None:
    np.testing.assert_allclose(curve(curve.temperatures), curve.values, rtol=1e-9)
    for i in range(len(curve.values) - 1):
        inside = curve(np.linspace(curve.temperatures[i], curve.temperatures[i + 1], 101))
        low, high = sorted(curve.values[i : i + 2])
        assert inside.min() >= low * (1 - 1e-9)
        assert inside.max() <= high * (1 + 1e-9)
        assert (np.diff(inside) * np.sign(curve.values[i + 1] - curve.values[i]) >= -1e-9 * high).all()


@given(tables())
def test_slope_is_the_derivative_and_has_no_jump(curve: Curve) -> None:
    low, high = curve.temperatures[0], curve.temperatures[-1]
    T = np.linspace(low - 30.0, high + 30.0, 400)
    step = 1e-4
    numeric = (curve(T + step) - curve(T - step)) / (2 * step)
    steepest = np.abs(np.diff(curve.values) / np.diff(curve.temperatures)).max() + 1e-12
    np.testing.assert_allclose(curve.slope(T), numeric, atol=2e-3 * steepest + 1e-6)
    for knot in curve.temperatures:
        assert abs(curve.slope(knot - 1e-7) - curve.slope(knot + 1e-7)) <= 1e-5 * steepest


@given(tables(), st.floats(100.0, 1200.0))
def test_integral_against_quadrature(curve: Curve, end: float) -> None:
    # Reference: adaptive quadrature of scipy, told where the pieces join.
    low, high = sorted((REFERENCE_TEMPERATURE, end))
    ends = [curve.temperatures[0] + 5, curve.temperatures[-1] - 5, *curve.temperatures]
    joins = sorted({float(t) for t in ends if low < t < high}) or None
    area, _ = quad(lambda t: float(curve(t)), low, high, points=joins, limit=200)
    sign = 1.0 if end >= REFERENCE_TEMPERATURE else -1.0
    assert curve.integral(end) == pytest.approx(sign * area, rel=1e-6, abs=1e-6)


def test_constant_has_value_slope_integral_of_a_constant() -> None:
    curve = Curve.constant("density", "kg/m3", 1240.0, "invented for this test")
    T = np.array([[280.0, 300.0], [500.0, 900.0]])
    assert curve(T).shape == T.shape
    assert (curve(T) == 1240.0).all()
    assert (curve.slope(T) == 0.0).all()
    np.testing.assert_allclose(curve.integral(T), 1240.0 * (T - 296.15))
    assert curve.valid_range == (0.0, float("inf"))


def test_flat_outside_and_integral_linear_there() -> None:
    curve = table([300.0, 400.0, 500.0], [1.0, 3.0, 4.0])
    assert curve(250.0) == pytest.approx(1.0)
    assert curve(900.0) == pytest.approx(4.0)
    assert curve.integral(700.0) - curve.integral(600.0) == pytest.approx(400.0)
    assert curve.integral(296.15) == pytest.approx(0.0, abs=1e-12)
    assert curve.integral(286.15) == pytest.approx(-10.0)
    assert curve.valid_range == (300.0, 500.0)


def test_two_points_are_a_straight_line_but_for_the_rounded_ends() -> None:
    curve = table([300.0, 500.0], [10.0, 30.0])
    T = np.linspace(305.0, 495.0, 50)
    np.testing.assert_allclose(curve(T), 10.0 + 0.1 * (T - 300.0), rtol=1e-12)
    ends = np.linspace(300.0, 305.0, 50)
    # A rounded end may be off by 0.15 of what the line gains over 5 K (maximum of t^2 (1 - t)).
    assert np.abs(curve(ends) - (10.0 + 0.1 * (ends - 300.0))).max() < 0.15 * 0.5


@pytest.mark.parametrize("shape", [(), (3,), (2, 3), (2, 3, 4)])
def test_any_shape_is_kept(shape: tuple[int, ...]) -> None:
    curve = table([300.0, 400.0, 500.0], [1.0, 3.0, 4.0])
    T = np.full(shape, 350.0)
    assert curve(T).shape == curve.slope(T).shape == curve.integral(T).shape == shape


@pytest.mark.parametrize(
    ("temperatures", "values"),
    [([300.0, 300.0], [1.0, 2.0]), ([400.0, 300.0], [1.0, 2.0]), ([300.0], [1.0, 2.0]), ([300.0, np.nan], [1.0, 2.0])],
)
def test_bad_tables_are_refused(temperatures: list[float], values: list[float]) -> None:
    with pytest.raises(ValueError, match="conductivity"):
        table(temperatures, values)


def test_arrays_cannot_be_changed_afterwards() -> None:
    given_values = np.array([1.0, 2.0])
    curve = Curve("density", "kg/m3", np.array([300.0, 400.0]), given_values, "invented for this test")
    given_values[0] = 99.0
    assert curve(300.0) == pytest.approx(1.0)
    with pytest.raises(ValueError, match="read-only"):
        curve.values[0] = 5.0


@settings(deadline=None)
@given(st.integers(0, 3))
def test_sixty_thousand_points_are_quick(seed: int) -> None:
    # A Newton step evaluates every property at some 60,000 quadrature points; 2 ms is the aim, 10 ms the alarm.
    curve = table([273.0, 330.0, 345.0, 373.0, 463.0, 593.0], [0.13, 0.13, 0.15, 0.197, 0.195, 0.195])
    T = np.random.default_rng(seed).uniform(290.0, 550.0, (15_000, 4))
    curve(T)
    best = np.inf
    for _ in range(5):
        start = time.perf_counter()
        curve(T)
        best = min(best, time.perf_counter() - start)
    assert best < 0.010
