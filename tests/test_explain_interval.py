"""The ceiling's interval: against a closed form, against sampling, and what is said of samples that fail."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from outputs import COARSE

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.studies.explain import Explained, explain
from meltzone.cases.studies.interval import sampled_interval

DENSITY = {"uncertainty.polymer.density": "2 %"}
MIXED = {
    "uncertainty.polymer.conductivity": "3 %",
    "uncertainty.polymer.flow_temperature": "1.5 K",
    "heater.setpoint": "210 +/- 2 degC",
    "contacts.bore_melt": "12650 W/m^2/K +/- 10 %",
}


def explained(samples: int = 0, **overrides: str) -> Explained:
    return explain("short-block", overrides=COARSE | overrides, samples=samples)


def test_linear_interval_of_the_density_is_its_closed_form() -> None:
    """The ceiling is exactly inverse to the density: a tolerance of 2 % is one of 2 % of the ceiling."""
    found = explained(**DENSITY)
    assert found.interval is not None
    flow = found.interval.centre
    assert found.interval.deviation == pytest.approx(0.02 * flow, rel=1e-6)
    assert found.interval.bounds == pytest.approx((flow * (1 - 0.0391993), flow * (1 + 0.0391993)), rel=1e-6)
    (only,) = found.interval.contributions
    assert only.share == pytest.approx(1.0) and only.change < 0.0


def test_every_sample_of_the_density_is_its_closed_form() -> None:
    """Q = Q0 / (1 + 0.02 z) for each sample, solved as a whole."""
    case = load_case("short-block", COARSE | DENSITY)
    sampled = sampled_interval(case, 6)
    assert sampled is not None and sampled.asked == 6 and not sampled.failed
    centre = explained(**DENSITY).result.flow_ceiling
    assert centre is not None
    assert sampled.flows == pytest.approx(centre / (1.0 + 0.02 * sampled.normals[:, 0]), rel=1e-6)


def test_samples_are_a_hypercube_of_normals() -> None:
    case = load_case("short-block", COARSE | DENSITY)
    sampled = sampled_interval(case, 8)
    assert sampled is not None
    # one sample in each eighth of the normal distribution
    from scipy.special import ndtr

    assert sorted(np.floor(8 * ndtr(sampled.normals[:, 0])).astype(int)) == list(range(8))
    again = sampled_interval(case, 8)
    assert again is not None and np.array_equal(again.flows, sampled.flows)


def test_linear_and_sampled_agree_for_small_tolerances() -> None:
    found = explained(samples=48, **MIXED)
    assert found.interval is not None and found.sampled is not None
    assert len(found.sampled.flows) == 48
    assert found.sampled.mean == pytest.approx(found.interval.centre, rel=0.01)
    assert found.sampled.deviation == pytest.approx(found.interval.deviation, rel=0.12)
    linear = {part.key: part for part in found.interval.contributions}
    assert [part.key for part in found.sampled.contributions][:2] == [p.key for p in found.interval.contributions][:2]
    for part in found.sampled.contributions:
        assert part.change == pytest.approx(linear[part.key].change, abs=0.06 * found.interval.deviation), part.key


def test_shares_of_the_variance_sum_to_one() -> None:
    found = explained(**MIXED)
    assert found.interval is not None
    assert sum(part.share for part in found.interval.contributions) == pytest.approx(1.0)


def test_failed_samples_are_counted_by_reason() -> None:
    """A setpoint a little above the flow temperature, with a tolerance that reaches below it."""
    found = explained(samples=10, **{"heater.setpoint": "166 +/- 8 degC"})
    assert found.sampled is not None
    assert sum(found.sampled.failed.values()) + len(found.sampled.flows) == 10
    assert found.sampled.failed["nothing melts"] >= 1


def test_samples_that_no_hot_end_can_have_are_counted() -> None:
    found = explained(samples=8, **{"nozzle.tip_diameter": "0.6 +/- 0.3 mm"})
    assert found.sampled is not None
    assert any(reason.endswith("impossible") for reason in found.sampled.failed), found.sampled.failed


def test_without_tolerances_there_is_no_interval_and_nothing_to_sample() -> None:
    assert explained().interval is None
    with pytest.raises(CaseError, match="an input with a tolerance"):
        explained(samples=8)


def test_a_tolerance_on_what_cannot_move_alone_is_refused_with_its_place(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(
        'extends = "short-block"\n[heat_break]\nbore = "2 +/- 0.05 mm"\n[mesh]\nlevel = 0.25\n', encoding="utf-8"
    )
    with pytest.raises(CaseError) as caught:
        explain(file)
    assert caught.value.key == "heat_break.bore" and caught.value.line == 3


def test_the_other_ceiling_within_the_interval_is_told() -> None:
    alone = explained(**DENSITY)
    assert alone.interval is not None and not alone.interval.other_within
    melt = alone.result.power
    assert melt is not None
    near = explained(**DENSITY, **{"heater.rating": f"{1.005 * melt:.3f} W"})
    assert near.result.governs == "melt"
    assert near.interval is not None and near.interval.other_within
