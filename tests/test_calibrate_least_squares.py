"""Several numbers at once, against certified values, closed forms, another library, and how often intervals hold."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import curve_fit

from meltzone.cases.inputs.free_number import free_number
from meltzone.cases.inputs.tolerance import Toleranced
from meltzone.cases.statistics.identify import confounded, without_influence
from meltzone.cases.statistics.least_squares import FitResult, LeastSquares, covariance, fit, interval_end, widened
from meltzone.cases.statistics.multistart import multistart
from meltzone.cases.studies.bench.balance import Balance
from meltzone.cases.studies.bench.rows import CeilingRow, CurveRow
from meltzone.cases.studies.bench.samples import MeasuredFilament, Sample, Series
from meltzone.cases.studies.calibration.calibration import CalibratedNumber, confounded_numbers
from meltzone.cases.studies.calibration.models import RowModel
from meltzone.cases.studies.calibration.observations import Observed, observed_curves
from meltzone.fem.slow_flow.slip import SlipLaw

NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8,
    557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
]  # fmt: skip
NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5, 11.6,
    556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
]  # fmt: skip
CERTIFIED = {"values": (-0.262323073774029, 1.00211681802045), "deviations": (0.232818234301152, 0.429796848199937e-3)}
SCATTER = 0.884796396144373  # residual standard deviation, certified
FARTHEST = 1e4


def _line(x: np.ndarray, y: np.ndarray, spread: float | np.ndarray, robust: bool = False) -> LeastSquares:
    ends = np.full(2, FARTHEST)
    return LeastSquares(
        lambda p: (p[0] + p[1] * x - y) / spread,
        np.zeros(2),
        -ends,
        ends,
        np.array([0.1, 0.01]),
        np.full(x.size, robust),
    )


def _deviations(found: FitResult) -> np.ndarray:
    return np.sqrt(np.diag(found.covariance))


def test_certified_line_of_the_ozone_monitors() -> None:
    """Norris, NIST Statistical Reference Datasets, linear regression, certified values and standard deviations."""
    x, y = np.array(NORRIS_X), np.array(NORRIS_Y)
    found = fit(_line(x, y, SCATTER))
    assert found.values == pytest.approx(CERTIFIED["values"], rel=1e-6)
    assert _deviations(found) == pytest.approx(CERTIFIED["deviations"], rel=1e-7)
    assert found.freedom == 34
    assert found.misfit == pytest.approx(1.0, rel=1e-9)
    narrow = _line(x, y, SCATTER / 2.0)
    twice = widened(narrow, fit(narrow))
    assert not fit(narrow).widened
    assert twice.widened and twice.misfit == pytest.approx(2.0, rel=1e-9)
    reach = twice.multiple * _deviations(twice)
    t_34 = 2.03224  # the 97.5 % point of Student's t with 34 degrees of freedom (any table)
    assert reach == pytest.approx(t_34 * np.array(CERTIFIED["deviations"]), rel=1e-5), (
        "stated spread does not matter then"
    )


def test_a_curved_model_agrees_with_minpack() -> None:
    """scipy.optimize.curve_fit (MINPACK): values and covariance of a saturating curve with stated uncertainties."""
    rng = np.random.default_rng(3)
    x, spread = np.linspace(0.2, 6.0, 25), np.linspace(0.01, 0.04, 25)

    def curve(x: np.ndarray, height: float, rate: float) -> np.ndarray:
        return np.asarray(height * (1.0 - np.exp(-rate * x)))

    y = curve(x, 2.0, 0.7) + spread * rng.standard_normal(x.size)
    problem = LeastSquares(
        lambda p: (curve(x, *p) - y) / spread, np.array([1.0, 1.0]), np.zeros(2), np.full(2, 10.0), np.full(2, 1e-4),
        np.zeros(x.size, bool),
    )  # fmt: skip
    found = fit(problem)
    values, shared = curve_fit(curve, x, y, [1.0, 1.0], spread, absolute_sigma=True)
    assert found.values == pytest.approx(values, rel=1e-5)
    assert found.covariance == pytest.approx(shared, rel=1e-3)


@pytest.mark.parametrize("place", [0, 1])
def test_profile_ends_of_a_line_are_those_of_the_normal_distribution(place: int) -> None:
    x = np.linspace(0.0, 10.0, 12)
    y = 1.0 + 2.0 * x + 0.3 * np.random.default_rng(0).standard_normal(x.size)
    problem = _line(x, y, 0.3)
    found = fit(problem)
    ends = [interval_end(problem, found, place, end) for end in (-FARTHEST, FARTHEST)]
    reach = 1.959964 * _deviations(found)[place]
    assert ends == pytest.approx([found.values[place] - reach, found.values[place] + reach], abs=0.03 * reach)


def test_an_error_common_to_all_does_not_average_out() -> None:
    """n readings of one value, each uncertain by s, all by the common share u: variance (s / sqrt(n))^2 + (u value)^2."""
    rng = np.random.default_rng(5)
    count, spread, share, value = 40, 0.3, 0.02, 10.0
    y = value + spread * rng.standard_normal(count)
    ends = np.full(2, FARTHEST)
    found = fit(
        LeastSquares(
            lambda p: np.append((p[0] * (1.0 + share * p[1]) - y) / spread, p[1]), np.array([5.0, 0.0]), -ends, ends,
            np.array([1e-3, 1e-3]), np.zeros(count + 1, bool),
        )
    )  # fmt: skip
    assert found.values[0] == pytest.approx(y.mean(), rel=1e-6), "no pull to low values"
    assert _deviations(found)[0] == pytest.approx(math.hypot(spread / math.sqrt(count), share * y.mean()), rel=1e-5)


def test_an_outlier_pulls_no_harder_than_the_knee() -> None:
    """Huber's location of 0, 0, ..., 0, far: sum of psi = 0 gives n m = knee, however far the outlier lies."""
    for far in (50.0, 5000.0):
        y = np.append(np.zeros(20), far)
        problem = LeastSquares(
            lambda p, y=y: p[0] - y, np.array([1.0]), np.array([-FARTHEST]), np.array([FARTHEST]), np.array([1e-3]),
            np.ones(21, bool),
        )  # fmt: skip
        found = fit(problem)
        assert found.values[0] == pytest.approx(1.345 / 20.0, rel=1e-3)
        assert found.weights[-1] == pytest.approx(1.345 / far, rel=2e-2)


def test_two_numbers_that_only_enter_as_their_sum_are_confounded_and_unbounded() -> None:
    y = np.array([3.0, 3.1, 2.9])
    ends = np.full(2, 40.0)
    problem = LeastSquares(
        lambda p: (p[0] + p[1] - y) / 0.1, np.zeros(2), -ends, ends, np.full(2, 0.02), np.zeros(3, bool)
    )
    found = fit(problem)
    assert found.values.sum() == pytest.approx(3.0, abs=1e-4)
    for place in (0, 1):
        low, high = (interval_end(problem, found, place, end) for end in (-40.0, 40.0))
        assert high is None
        assert low == pytest.approx(3.0 - 40.0, abs=1.5), "as far as the other is sought"
    (group,) = confounded(found.covariance, np.ones(2))
    assert group.places == (0, 1)
    assert group.correlation == pytest.approx(-1.0, abs=1e-4)
    said = confounded_numbers([_number(key) for key in ("contacts.bore_melt", "contacts.thread")], group)
    assert "contacts.bore_melt +10 % with contacts.thread -9.1 %" in said.trade, "1 / 1.1"
    assert "only fix a combination" in said.statement


def _number(key: str, low: float | None = None, high: float | None = None) -> CalibratedNumber:
    return CalibratedNumber(free_number(key, "test"), 1.0, low, high, (0.1, 10.0), True, None)


def test_three_numbers_can_be_confounded_without_any_pair_of_them() -> None:
    """a = b + c + d + little: each pair correlates by 0.58, all together by nearly one."""
    b, c, d, little = np.eye(4)
    rows = np.array([b + c + d + 0.05 * little, b, c, d])
    shared = rows @ rows.T
    keys = ("contacts.bore_melt", "contacts.thread", "contacts.wrap", "contacts.shoulder")
    (group,) = confounded(shared, np.ones(4))
    said = confounded_numbers([_number(key, 0.5, 2.0) for key in keys], group)
    assert said.keys == keys, "all four have a part in it"
    assert "far better than either" in said.statement
    assert confounded(np.eye(4), np.ones(4)) == ()


def test_a_number_without_influence_has_no_variance_that_ends() -> None:
    slopes = np.array([[1.0, 0.0], [2.0, 0.0]])
    found = covariance(slopes, np.ones(2))
    assert found[0, 0] == pytest.approx(0.2)
    assert math.isinf(found[1, 1])
    assert without_influence(slopes[:, 1], 1.0) and not without_influence(slopes[:, 0], 1.0)


# A cheap hot end: plateau and flow at which the feeder slips are the unknowns themselves, in logarithms [mm3/s].
TRUE = np.log([13.0, 10.5])
FLOWS = np.repeat([4.0, 6.0, 8.0, 10.0, 11.0, 12.0, 14.0, 17.0, 21.0, 26.0], 3)
CHANGES = (-0.6, -0.2, 0.2, 0.6)
NOISE, DENSITY, DIAMETER = 0.01, 0.01, 0.015  # of delivered flow, density, diameter [-]


def _model(unknowns: np.ndarray) -> RowModel:
    plateau, grip = np.exp(unknowns) * 1e-9
    return RowModel(float(plateau), SlipLaw(float(grip), 0.8, 1.5))


def _invented(rng: np.random.Generator, off: int = 0) -> CurveRow:
    """A series from the cheap hot end, with errors of density and diameter drawn once for all samples; `off` outliers."""
    density, diameter = 1240.0, 1.75e-3
    true_density = density * (1.0 + DENSITY * rng.standard_normal())
    true_diameter = diameter * (1.0 + DIAMETER * rng.standard_normal())
    fed = FLOWS * 1e-9 * (true_diameter / diameter) ** 2
    delivered = _model(TRUE).delivered(fed) * (1.0 + NOISE * rng.standard_normal(FLOWS.size))
    delivered[rng.permutation(FLOWS.size)[:off]] *= 1.12
    samples = tuple(
        Sample(line, 1e-9 * flow, 60.0, 0.0, float(true_density * came * 60.0), "")
        for line, (flow, came) in enumerate(zip(FLOWS, delivered, strict=True), start=2)
    )
    filament = MeasuredFilament(Toleranced(density, DENSITY * density), Toleranced(diameter, DIAMETER * diameter))
    series = Series("made", "short-block", {}, filament, Balance(1e-6, None), samples, ())
    return CurveRow("made", "short-block", {}, "made", series, Path(), (), True, "", 1)


def _asked(row: CurveRow) -> LeastSquares:
    observed = Observed((), observed_curves([row]))
    ends = np.array([1.5, 1.5, np.inf, np.inf])
    start = np.array([*np.log([12.0, 11.0]), 0.0, 0.0])
    return LeastSquares(
        lambda p: observed.residuals({"made": _model(p[:2])}, p[2:]), start, start - ends, start + ends,
        np.array([0.01, 0.01, 0.1, 0.1]), observed.robust,
    )  # fmt: skip


@pytest.fixture(scope="module")
def forty() -> list[tuple[LeastSquares, FitResult]]:
    problems = [_asked(_invented(np.random.default_rng(seed), off=1)) for seed in range(40)]
    return [(problem, multistart(problem, [CHANGES, CHANGES])) for problem in problems]


@pytest.mark.parametrize("place", [0, 1])
def test_intervals_hold_the_truth_as_often_as_they_say(forty: list[tuple[LeastSquares, FitResult]], place: int) -> None:
    """40 invented series with correlated errors and an outlier each: 95 % of 40 is 38; 33 or fewer come by chance in 0.2 %."""
    held = 0
    for problem, found in forty:
        ends = [interval_end(problem, found, place, end[place]) for end in (problem.least, problem.most)]
        held += (ends[0] or -np.inf) <= TRUE[place] <= (ends[1] or np.inf)
    assert held >= 34
    scores = [(found.values[place] - TRUE[place]) / _deviations(found)[place] for _, found in forty]
    assert 0.7 < float(np.std(scores)) < 1.4, "neither too narrow nor too wide"


@pytest.mark.parametrize("factors", [(3.0, 3.0), (0.4, 2.5), (0.6, 0.4)])
def test_a_start_at_which_most_samples_are_outliers_is_left(factors: tuple[float, float]) -> None:
    """Factors of the true numbers: the search ends where one that begins at the truth does."""
    problem = _asked(_invented(np.random.default_rng(2)))
    near, far = (
        replace(problem, start=np.array([*(TRUE + np.log(shift)), 0.0, 0.0])) for shift in (np.ones(2), factors)
    )
    away = problem.residuals(far.start)[problem.robust]
    assert np.mean(np.abs(away) > 1.345) > 0.5
    assert multistart(far, [CHANGES, CHANGES]).values == pytest.approx(fit(near).values, abs=2e-3)


def test_counting_common_errors_as_scatter_would_deceive(forty: list[tuple[LeastSquares, FitResult]]) -> None:
    """The plateau of a series is no better known than its density, whatever the number of samples.

    The part below the onset tells the sum of both errors, so that the diameter's (twice 1.5 % in the flow) lessens that of the
    density a little: 1 / (1 / 1^2 + 1 / 3^2) at best, squared percent.
    """
    least = DENSITY * 2.0 * DIAMETER / math.hypot(DENSITY, 2.0 * DIAMETER)
    for _, found in forty:
        assert 0.999 * least < _deviations(found)[0] < 0.02


def _stated(name: str, ceiling: float, uncertainty: float) -> CeilingRow:
    return CeilingRow(name, "short-block", {}, ceiling, uncertainty, True, None, "", None)


def test_ceilings_and_samples_are_weighed_together() -> None:
    """A ceiling beside a series whose plateau is known to 1 %: the weighted mean of both, by inverse variances."""
    row = _invented(np.random.default_rng(1))
    alone = fit(_asked(row))
    observed = Observed((_stated("stated", 13.6e-9, 0.136e-9),), observed_curves([row]))
    problem = _asked(row)
    models: Callable[[np.ndarray], dict[str, RowModel]] = lambda p: {  # noqa: E731
        "made": _model(p[:2]), "stated": RowModel(math.exp(p[0]) * 1e-9, None)
    }  # fmt: skip
    both = fit(
        LeastSquares(
            lambda p: observed.residuals(models(p), p[2:]), problem.start, problem.least, problem.most, problem.step,
            observed.robust,
        )
    )  # fmt: skip
    first, second = alone.covariance[0, 0] ** -1, (0.136 / 13.6) ** -2
    mean = (first * alone.values[0] + second * math.log(13.6)) / (first + second)
    assert both.values[0] == pytest.approx(mean, abs=1.5e-3)
    assert _deviations(both)[0] == pytest.approx((first + second) ** -0.5, rel=0.08)
