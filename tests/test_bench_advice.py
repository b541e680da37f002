"""What to weigh next: against whole fits of simulated weighings with and without the samples that are proposed."""

from __future__ import annotations

import numpy as np
import pytest

from meltzone.cases.statistics.broken_line import BrokenLine, refined
from meltzone.cases.statistics.next_samples import propose
from meltzone.cases.studies.bench.advice import advice
from meltzone.cases.studies.bench.reduce import reduce
from meltzone.cases.studies.bench.samples_csv import load_samples

LINE = BrokenLine(1.0, 13.0, 0.8, 0.4)
FLOWS = np.repeat(np.array([4.5, 6.5, 8.5, 9.75, 11.0, 12.0, 14.0, 15.0, 17.0, 19.0]), 2)
NOISE = 0.003  # small: to first order, as the proposal reckons


def _spread(flows: np.ndarray, name: str, seed: int) -> float:
    """Standard deviation of a number over fits to fresh noise [mm3/s]."""
    rng = np.random.default_rng(seed)
    noise = NOISE * flows * rng.standard_normal((150, flows.size))
    return float(np.std([getattr(refined(flows, LINE.delivered(flows) + each, 0.1, [LINE]), name) for each in noise]))


@pytest.mark.parametrize(("name", "low", "high"), [("ceiling", 13.0, 19.0), ("onset", 8.5, 14.0)])
def test_the_proposed_samples_narrow_a_number_about_as_told(name: str, low: float, high: float) -> None:
    """A standard deviation from 150 fits is itself known to 6 %."""
    told = propose(LINE, FLOWS, np.unique(FLOWS), lambda line: getattr(line, name), 1.0, 0.7)
    assert told.count >= 2 and low <= told.flow <= high
    after = _spread(np.concatenate([FLOWS, np.repeat(told.flow, told.count)]), name, 2)
    assert after / _spread(FLOWS, name, 1) == pytest.approx(told.half_width, abs=0.13)


def test_plateau_in_closed_form() -> None:
    """With corners that are known, the mean of n samples on the plateau has a variance of 1 / n: two more of 6 make 8."""
    flows = np.repeat([4.0, 6.0, 8.0, 11.5, 12.0, 16.0], [40, 40, 40, 40, 40, 6])
    told = propose(LINE, flows, np.array([16.0]), lambda line: line.ceiling, 1.0, np.sqrt(6.0 / 8.0) * 1.03)
    assert told.count == 2
    assert told.half_width == pytest.approx(np.sqrt(6.0 / 8.0), rel=0.03)


def test_no_more_are_asked_for_once_it_is_known() -> None:
    [series] = reduce(load_samples("demo-short-block"), resamples=99).series[:1]
    settled, asked = advice(series, settled=0.5), advice(series, settled=1e-3)
    assert settled.count == 0 and settled.sentence.startswith("Settled")
    assert asked.count == 6 and "would narrow" in asked.sentence and asked.flow is not None
