"""Invented cards over the accepted range, melting peaks of 1 to 3 K above all: every case has its answer, and a true one.

`OWN_CARD_CASES=500 python -m pytest tests/test_random_own_cards.py` draws more of them.
"""

from __future__ import annotations

import os
from dataclasses import replace

import numpy as np
import pytest
from support import ARRANGEMENTS, JET, KINDS, STILL, materials_for, problem_for, system_of

from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.problem import Problem
from meltzone.fem.steady import solve_at_flow
from meltzone.materials.library import card_from_mapping
from meltzone.materials.polymer import Polymer
from meltzone.materials.reading import SHARPEST

CASES = int(os.environ.get("OWN_CARD_CASES", "6"))


def own_card(rng: np.random.Generator, flowing: float) -> Polymer:
    """A polymer that flows at `flowing` [degC]; two in three have a peak of 1 to 3 K, the others one of 1 to 150 K.

    Those that would be refused have the least width that is not.
    """
    width = rng.uniform(1.0, 3.0) if rng.random() < 2 / 3 else float(np.exp(rng.uniform(0.0, np.log(150.0))))
    conductivity, heat_capacity = np.exp(rng.uniform(np.log(0.1), 0.0)), rng.uniform(900.0, 3500.0)
    density, enthalpy = rng.uniform(800.0, 1800.0), 1e3 * np.exp(rng.uniform(np.log(3.0), np.log(400.0)))
    mapping = {
        "kind": "polymer",
        "conductivity": f"{conductivity} W/m/K",
        "heat_capacity": f"{heat_capacity} J/kg/K",
        "density": f"{density} kg/m3",
        "melting_enthalpy": f"{enthalpy} J/kg",
        "melting_peak": f"{flowing + rng.uniform(-80.0, 30.0)} degC",
        "melting_width": f"{min(max(width, enthalpy / SHARPEST), 150.0)} K",
        "softening_temperature": f"{flowing - rng.uniform(0.0, 120.0)} degC",
        "flow_temperature": f"{flowing} degC",
        "degradation_temperature": "400 degC",
    }
    card = card_from_mapping("mine", mapping, "case.toml")
    assert isinstance(card, Polymer)
    return card


def drawn(seed: int) -> Problem:
    """The case of that number: an everyday arrangement, an own card, a setpoint and a heater that may be too weak."""
    rng = np.random.default_rng(seed)
    kind, flowing = str(rng.choice(KINDS)), rng.uniform(60.0, 290.0)
    materials = replace(materials_for(ARRANGEMENTS[kind]), polymer=own_card(rng, flowing))
    return problem_for(
        kind,
        setpoint=flowing + rng.uniform(5.0, 90.0),
        level=-1.0,
        materials=materials,
        surroundings=JET if rng.random() < 0.3 else STILL,
        criterion=str(rng.choice(["core", "inner", "mean"])),
        profile_exponent=float(rng.choice([0.0, 0.4])),
        rating=rng.uniform(5.0, 60.0),
    )


@pytest.mark.parametrize("seed", range(CASES))
def test_every_card_in_the_accepted_range_is_answered(seed: int) -> None:
    """No search fails; what governs is met again by a solve at that flow from cold, and the balance closes."""
    problem = drawn(seed)
    found = find_ceilings(problem)
    assert not found.failed, found.faults
    if found.field is None:
        return  # an answer too: nothing melts, or the heater cannot hold the setpoint
    assert found.field.balance.relative_imbalance < 1e-7
    again = solve_at_flow(system_of(problem), found.flow)
    if found.governs == "power":
        assert again.power == pytest.approx(problem.operation.rating, rel=1e-5)
    else:
        judged = getattr(again, problem.operation.criterion)
        assert judged == pytest.approx(problem.materials.polymer.flow_temperature, abs=0.1)
