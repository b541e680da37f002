"""A boot with air below it: without a gap the boot on the block, with one still air between parallel walls."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support import balanced, problem_for, refused, system_of

from meltzone.cases.inputs.levers import levers_of
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.discretise import law_of
from meltzone.fem.explain import explain
from meltzone.fem.inputs import Contacts
from meltzone.fem.problem import Problem
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.covers import Wrap

BOOT = Wrap(covers=("block",))


def problem(gap: float | None = 0.5e-3, contacts: Contacts | None = None) -> Problem:
    return problem_for(Arrangement(wrap=replace(BOOT, gap=gap)), level=-1.0, contacts=contacts)


def conductance(given: Problem) -> float:
    return float(law_of(given, "boot")(np.array([5e-3]), 1e-9)[0][0])


def test_without_a_gap_it_is_the_boot_on_the_block() -> None:
    on = find_ceilings(problem(None)).flow
    assert find_ceilings(problem(0.0)).flow == pytest.approx(on, rel=1e-12)
    assert find_ceilings(problem(1e-12)).flow == pytest.approx(on, rel=1e-8)


def test_the_gap_conducts_and_radiates_as_between_parallel_walls() -> None:
    given = problem(1e-3, Contacts(wrap=1e7))
    block, boot, hot = given.materials.block, given.materials.wrap, given.operation.setpoint
    assert boot is not None
    radiated = 5.670374419e-8 * 4.0 * hot**3 / (1.0 / block.emissivity + 1.0 / boot.emissivity - 1.0)
    # k of air at 483 K: 0.0397 W/m/K, interpolated in a table from memory (Incropera, table A.4)
    assert conductance(given) == pytest.approx(0.0397 / 1e-3 + radiated, rel=2e-2)


def test_air_insulates_and_the_balance_closes() -> None:
    on, loose = balanced(problem(None)), balanced(problem())
    assert loose.power < on.power - 0.1


@pytest.mark.parametrize("key", ["wrap.gap", "surroundings.emissivities.block", "heater.setpoint"])
def test_slopes_are_those_of_whole_solves(key: str) -> None:
    given = problem()
    (lever,) = (each for each in levers_of(system_of(given)) if each.key == key)
    step = 1e-2 * lever.step
    low, high = (find_ceilings(lever.at(lever.value + move)).flow for move in (-step, step))
    (effect,) = explain(find_ceilings(given), [lever]).effects
    assert effect.slope == pytest.approx((high - low) / (2.0 * step), rel=1e-2)


def test_what_does_not_stay_still_is_refused() -> None:
    refused("wrap.gap", "still", lambda: Wrap(gap=9e-3))
    refused("wrap.gap", "covers", lambda: Wrap(covers=("nozzle",), gap=1e-3))
