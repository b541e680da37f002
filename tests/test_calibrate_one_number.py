"""The search for one number and its interval, against closed forms: lines, saturating curves, steps, ranges that end."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2

from meltzone.cases.statistics.least_squares import FitResult, LeastSquares, interval_end
from meltzone.cases.statistics.multistart import multistart

LEAST, MOST = -7.0, 7.0
CHANGES = np.log([0.25, 0.5, 2.0, 4.0])
RISE = float(chi2.ppf(0.95, 1))  # of chi-square at the end of a 95 % interval of one number


def _found(residual: Callable[[float], float], start: float) -> tuple[FitResult, float | None, float | None]:
    problem = LeastSquares(
        lambda x: np.array([residual(float(x[0]))]), np.array([start]), np.array([LEAST]), np.array([MOST]),
        np.array([0.02]), np.zeros(1, bool),
    )  # fmt: skip
    best = multistart(problem, [CHANGES])
    low, high = (interval_end(problem, best, 0, end) for end in (LEAST, MOST))
    return best, low, high


@given(st.floats(-6.0, 6.0), st.floats(0.02, 0.4), st.floats(-6.0, 6.0))
def test_a_line_gives_its_zero_and_1_96_sigma(centre: float, sigma: float, start: float) -> None:
    best, low, high = _found(lambda x: (x - centre) / sigma, start)
    assert best.values[0] == pytest.approx(centre, abs=1e-6)
    if abs(centre) + 2.0 * sigma < 7.0:  # 1.96 standard deviations: any table of the normal distribution
        assert low == pytest.approx(centre - 1.959964 * sigma, abs=2e-6)
        assert high == pytest.approx(centre + 1.959964 * sigma, abs=2e-6)


def test_two_readings_that_disagree_leave_the_mean_and_their_stated_interval() -> None:
    """2 +- 0.1 and 3 +- 0.1, of a number that enters by its exponential: chi-square is least at the mean, 50 there."""
    problem = LeastSquares(
        lambda x: (np.exp(x[0]) - np.array([2.0, 3.0])) / 0.1, np.zeros(1), np.array([LEAST]), np.array([MOST]),
        np.array([0.02]), np.zeros(2, bool),
    )  # fmt: skip
    best = multistart(problem, [CHANGES])
    assert math.exp(best.values[0]) == pytest.approx(2.5, rel=1e-6)
    assert best.chi_square == pytest.approx(50.0, rel=1e-9)
    ends = [interval_end(problem, best, 0, end) for end in (LEAST, MOST)]
    reach = 0.1 * math.sqrt(RISE / 2.0)
    assert np.exp(ends) == pytest.approx([2.5 - reach, 2.5 + reach], rel=1e-6)


def test_interval_of_a_saturating_curve_has_no_upper_bound() -> None:
    """10 / (1 + e^-x) against 9 +- 0.6: the curve ends 1 above the measured value, less than 1.96 times 0.6."""
    best, low, high = _found(lambda x: (10.0 / (1.0 + math.exp(-x)) - 9.0) / 0.6, 0.0)
    assert best.values[0] == pytest.approx(math.log(9.0), abs=1e-6)
    end = 9.0 - math.sqrt(RISE) * 0.6
    assert low == pytest.approx(math.log(end / (10.0 - end)), abs=1e-6)
    assert high is None


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_value_out_of_reach_is_met_at_the_limit(sign: float) -> None:
    best, low, high = _found(lambda x: 10.0 / (1.0 + math.exp(-sign * x)) - 12.0, 0.3)
    assert best.values[0] == pytest.approx(sign * MOST)
    assert best.chi_square == pytest.approx((10.0 / (1.0 + math.exp(-MOST)) - 12.0) ** 2)
    assert (high if sign > 0.0 else low) is None
    assert (low if sign > 0.0 else high) is not None


def test_a_flat_start_is_left_by_looking_everywhere() -> None:
    best, *_ = _found(lambda x: 3.0 if x < 2.0 else x - 5.0, -4.0)
    assert best.values[0] == pytest.approx(5.0, abs=1e-6)


def test_values_that_cannot_be_tried_are_kept_away_from() -> None:
    best, low, _ = _found(lambda x: (x - 1.0) / 0.1 if x > 0.85 else 1e3, 3.0)
    assert best.values[0] == pytest.approx(1.0, abs=1e-6)
    assert low == pytest.approx(0.85, abs=1e-4), "before 1.96 standard deviations"


def test_nothing_that_depends_on_the_number_bounds_nothing() -> None:
    best, low, high = _found(lambda _: math.sqrt(0.7), 0.5)
    assert (low, high) == (None, None)
    assert best.values[0] == 0.5, "where nothing speaks for another value, it stays"
