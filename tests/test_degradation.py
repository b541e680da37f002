"""Degradation of the slowest melt against closed forms: a plug of one temperature, and Arrhenius's law by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from support import problem_for, system_of

from meltzone.fem.degradation import degradation_of
from meltzone.fem.field import Field
from meltzone.fem.problem import Problem
from meltzone.fem.residence import residence_of
from meltzone.materials.errors import CardError
from meltzone.materials.library import card_from_mapping, polymer

FLOW, TIME, ENERGY = 6e-9, 600.0, 120e3
LIMIT = polymer("pla").degradation_temperature


def problem(with_law: bool) -> Problem:
    """The short block, its polymer's induction given or not; invented numbers."""
    made = problem_for("short")
    law = {"induction_time": TIME, "induction_energy": ENERGY} if with_law else {}
    return replace(made, materials=replace(made.materials, polymer=replace(made.materials.polymer, **law)))


def even(made: Problem, kelvin: float) -> Field:
    system = system_of(made)
    return Field(system, FLOW, 10.0, np.full(system.space.size, kelvin), 0)


def test_a_plug_of_one_temperature_spends_its_time_there() -> None:
    """The dose is time over t exp(E/R (1/T - 1/T_d)); at the degradation temperature over t itself."""
    made = problem(True)
    for kelvin in (LIMIT, LIMIT + 20.0, LIMIT - 30.0):
        field = even(made, kelvin)
        found, time = degradation_of(field), residence_of(field).wall_time
        lasts = TIME * math.exp(ENERGY / 8.314462618 * (1.0 / kelvin - 1.0 / LIMIT))
        assert found.dose == pytest.approx(time / lasts, rel=1e-9)
        assert found.pause == pytest.approx(lasts, rel=1e-9)
        assert found.margin == pytest.approx(LIMIT - kelvin)
        assert found.hot_time == (pytest.approx(time, rel=1e-12) if kelvin > LIMIT else 0.0)


def test_without_an_induction_time_the_plain_time_is_left() -> None:
    found = degradation_of(even(problem(False), LIMIT + 5.0))
    assert found.dose is None and found.pause is None and found.hot_time > 0.0


def test_half_a_law_is_refused() -> None:
    with pytest.raises(CardError) as caught:
        card_from_mapping("mine", {"like": "pla", "induction_time": "10 min"}, "a test")
    assert caught.value.key == "induction_energy"
    made = card_from_mapping(
        "mine", {"like": "pla", "induction_time": "10 min", "induction_energy": "120 kJ/mol"}, "a test"
    )
    assert made.induction(LIMIT) == pytest.approx(600.0)  # type: ignore[union-attr]
