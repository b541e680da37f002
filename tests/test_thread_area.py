"""The area by which a bare thread loses heat: words and numbers, what is solved with it, its lever."""

from __future__ import annotations

import numpy as np
import pytest

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.levers import levers_of
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.studies.run import ceiling, sought
from meltzone.fem.adjoint import adjoint_of
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.discretise import discretise
from meltzone.fem.explain import slope_by

CASE, COARSE = "long-nozzle-bare", {"mesh.level": 0.25}


def _area(value: object) -> float:
    given = {} if value is None else {"surroundings.thread_area": value}
    (face,) = (
        f for f in discretise(problem_of(load_case(CASE, {**COARSE, **given}))).faces if f.name == "nozzle thread"
    )
    return float(np.sum(face.area))


def test_words_and_numbers_say_the_area() -> None:
    # M6 x 1: pitch cylinder of 5.35 mm, developed area 1.72 times its own, cylinder through the crests of 6 mm
    assert _area("developed") == _area(None)
    assert _area("envelope") / _area(None) == pytest.approx(6.0 / 5.3505 / 1.72, rel=4e-3)
    assert _area(0.5) == pytest.approx(0.5 * _area("envelope"), rel=1e-12)


def test_less_area_loses_less_and_lets_more_through() -> None:
    developed, envelope = (
        ceiling(CASE, {**COARSE, "surroundings.thread_area": said}) for said in ("developed", "envelope")
    )
    assert developed.field is not None and envelope.field is not None
    lost = [result.field.balance.faces["nozzle thread"] for result in (developed, envelope)]
    assert lost[1] < 0.75 * lost[0]
    assert envelope.flow_ceiling > developed.flow_ceiling


def test_it_is_a_lever_where_it_is_given() -> None:
    found = sought(CASE, {**COARSE, "surroundings.thread_area": "envelope"})
    assert found.ceilings is not None
    (lever,) = (each for each in levers_of(found.system) if each.key == "surroundings.thread_area")
    ends = [find_ceilings(lever.at(1.0 + step)).flow for step in (1e-3, -1e-3)]
    assert slope_by(adjoint_of(found.ceilings), lever) == pytest.approx((ends[0] - ends[1]) / 2e-3, rel=1e-3)
    assert "surroundings.thread_area" not in [each.key for each in levers_of(sought(CASE, COARSE).system)]


def test_other_words_are_told() -> None:
    with pytest.raises(CaseError) as caught:
        load_case(CASE, {"surroundings.thread_area": "crests"})
    assert caught.value.key == "surroundings.thread_area"
