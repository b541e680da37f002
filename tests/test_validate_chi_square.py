"""Least chi-square in one dimension, against closed forms: parabolas, saturating curves, steps, ranges that end."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meltzone.cases.statistics.chi_square import RISE, fit

LEAST, MOST, STEP, TOLERANCE = -7.0, 7.0, 0.7, 1e-5


@given(st.floats(-6.0, 6.0), st.floats(0.02, 0.4), st.floats(-6.0, 6.0))
def test_parabola_gives_its_vertex_and_1_96_sigma(centre: float, sigma: float, start: float) -> None:
    found = fit(lambda x: ((x - centre) / sigma) ** 2 + 2.5, start, LEAST, MOST, STEP, TOLERANCE)
    assert found.best == pytest.approx(centre, abs=1e-3)
    assert found.chi_square == pytest.approx(2.5, abs=1e-3)
    assert found.edge is None
    if abs(centre) + 2.0 * sigma < 7.0:  # 1.96 standard deviations: any table of the normal distribution
        assert found.low == pytest.approx(centre - 1.96 * sigma, abs=2e-3)
        assert found.high == pytest.approx(centre + 1.96 * sigma, abs=2e-3)


def test_interval_of_a_saturating_curve_has_no_upper_bound() -> None:
    def chi_square(x: float) -> float:  # 10/(1 + e^-x) against 9 +- 0.6
        return ((10.0 / (1.0 + math.exp(-x)) - 9.0) / 0.6) ** 2

    found = fit(chi_square, 0.0, LEAST, MOST, STEP, TOLERANCE)
    assert found.best == pytest.approx(math.log(9.0), abs=1e-3)
    low = 9.0 - math.sqrt(RISE) * 0.6
    assert found.low == pytest.approx(math.log(low / (10.0 - low)), abs=1e-3)
    assert found.high is None, "the curve ends 1 above the measured value, less than 1.96 times 0.6"
    assert found.edge is None


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_value_out_of_reach_is_met_at_the_edge(sign: float) -> None:
    found = fit(lambda x: (10.0 / (1.0 + math.exp(-sign * x)) - 12.0) ** 2, 0.3, LEAST, MOST, STEP, TOLERANCE)
    assert found.best == sign * MOST
    assert found.edge == ("high" if sign > 0.0 else "low")
    assert found.chi_square == pytest.approx(4.0, abs=0.1)
    assert (found.high if sign > 0.0 else found.low) is None
    assert (found.low if sign > 0.0 else found.high) is not None


def test_a_flat_start_is_left_by_looking_everywhere() -> None:
    found = fit(lambda x: 9.0 if x < 2.0 else (x - 5.0) ** 2, -4.0, LEAST, MOST, STEP, TOLERANCE)
    assert found.best == pytest.approx(5.0, abs=1e-3)


def test_values_that_cannot_be_tried_are_kept_away_from() -> None:
    found = fit(lambda x: (x - 1.0) ** 2 / 0.01 if x > 0.5 else math.inf, 3.0, LEAST, MOST, STEP, TOLERANCE)
    assert found.best == pytest.approx(1.0, abs=1e-3)
    assert found.low is not None and 0.5 <= found.low < 1.0


def test_nothing_that_depends_on_the_number_bounds_nothing() -> None:
    found = fit(lambda x: 0.7, 0.0, LEAST, MOST, STEP, TOLERANCE)
    assert (found.low, found.high) == (None, None)
