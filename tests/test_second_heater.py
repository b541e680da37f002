"""Two cartridges in one block: halves in one place are one, the power is shared, slopes against whole solves."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from support import balanced, problem_for, refused, system_of

from meltzone.cases.inputs.levers import levers_of
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.explain import explain
from meltzone.fem.heater import heater_load
from meltzone.fem.problem import Problem
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.block import Block, SecondBlock, SecondHeater

TALL = Block(height=16e-3, heater_length=5e-3, heater_begin=1e-3)
ABOVE = SecondHeater(ring_length=5e-3, ring_begin=9e-3)


def problem(block: Block = TALL, second: SecondHeater | None = ABOVE, share: float = 0.5, **more: Any) -> Problem:
    made = Arrangement(block=block, second_heater=second)
    return problem_for(made, level=-1.0, second_heater_share=share, **more)


@pytest.mark.parametrize("block", [Block(), TALL])
def test_two_of_half_the_power_in_one_place_are_one(block: Block) -> None:
    there = SecondHeater(block.heater_radius, block.heater_width, block.heater_length, block.heater_begin)
    alone = find_ceilings(problem(block, None)).flow
    assert find_ceilings(problem(block, there)).flow == pytest.approx(alone, rel=1e-12)


def test_one_that_takes_no_power_is_none_and_one_that_takes_all_is_the_first_in_its_place() -> None:
    alone = find_ceilings(problem(second=None)).flow
    assert find_ceilings(problem(share=0.0)).flow == pytest.approx(alone, rel=1e-3)  # of one mesh and another
    moved = replace(TALL, heater_begin=ABOVE.ring_begin)
    back = SecondHeater(ring_length=TALL.heater_length, ring_begin=TALL.heater_begin)
    assert find_ceilings(problem(share=1.0)).flow == pytest.approx(
        find_ceilings(problem(moved, back, 0.0)).flow, rel=1e-12
    )


def test_each_takes_its_share_and_the_balance_closes() -> None:
    given = problem(share=0.3)
    system = system_of(given)
    load, (_, z) = heater_load(given, system.space), system.space.points
    middle = given.arrangement.block_bottom + 7.5e-3  # between the two rings
    assert load.sum() == pytest.approx(1.0, rel=1e-12)
    assert load[z > middle].sum() == pytest.approx(0.3, rel=1e-12)
    assert np.all(load > -1e-6)
    balanced(given)


@pytest.mark.parametrize("key", ["second_heater.power_share", "second_heater.ring_begin", "second_heater.ring_radius"])
def test_slopes_are_those_of_whole_solves(key: str) -> None:
    given = problem(second=replace(ABOVE, ring_radius=8.8e-3))
    (lever,) = (each for each in levers_of(system_of(given)) if each.key == key)
    step = 1e-2 * lever.step
    low, high = (find_ceilings(lever.at(lever.value + move)).flow for move in (-step, step))
    (effect,) = explain(find_ceilings(given), [lever]).effects
    assert effect.slope == pytest.approx((high - low) / (2.0 * step), rel=1e-2, abs=1e-12)


def test_what_does_not_fit_is_refused() -> None:
    for second, key, words in (
        (SecondHeater(ring_length=17e-3), "second_heater.ring_length", "within the block"),
        (SecondHeater(ring_begin=1e-3), "second_heater.ring_begin", "second_heater.ring_length"),
        (SecondHeater(ring_radius=4e-3), "second_heater.ring_radius", "outside the nozzle"),
        (SecondHeater(ring_radius=20e-3), "second_heater.ring_radius", "inside the block"),
    ):
        refused(key, words, lambda second=second: Arrangement(block=TALL, second_heater=second))
    both = {"second_block": SecondBlock(), "second_heater": SecondHeater()}
    refused("second_heater", "second block", lambda: Arrangement(**both))  # type: ignore[arg-type]
