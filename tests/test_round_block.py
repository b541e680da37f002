"""Round blocks and heaters of a length of their own: what they share with the box, the balance, slopes against whole solves."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from support import balanced, insulated, problem_for, refused, system_of

from meltzone.cases.inputs.levers import levers_of
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.explain import explain
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.block import Block, SecondBlock
from meltzone.geometry.covers import Wrap
from meltzone.geometry.faces import ExposedFace

BOX = Block()
DISC = replace(BOX, width=2.0 * BOX.radius, round=True)
RING = replace(BOX, heater_radius=5.5e-3, heater_width=2e-3, heater_length=5e-3, heater_begin=1e-3, sensor_radius=8e-3)


def ceiling(block: Block, **around: object) -> float:
    problem = problem_for(Arrangement(block=block), level=-1.0, **around)  # type: ignore[arg-type]
    return find_ceilings(problem).flow


def test_without_losses_a_disc_is_the_box_of_its_area() -> None:
    assert ceiling(DISC, surroundings=insulated()) == pytest.approx(ceiling(BOX, surroundings=insulated()), rel=1e-12)


def test_a_ring_heater_as_high_as_the_block_is_the_blocks_heater() -> None:
    assert ceiling(replace(BOX, heater_length=BOX.height)) == pytest.approx(ceiling(BOX), rel=1e-12)
    assert ceiling(replace(BOX, heater_length=BOX.height, heater_begin=0.0)) == pytest.approx(ceiling(BOX), rel=1e-12)


def test_a_disc_has_the_faces_of_a_disc() -> None:
    a = Arrangement(block=DISC, wrap=Wrap(2e-3, ("block",)))
    side, top = (ExposedFace.of(a, name) for name in ("block side", "block top"))
    assert side.area_ratio == 1.0 and side.width == DISC.width
    assert top.length == pytest.approx(DISC.radius / 2.0)  # area over perimeter
    boot = ExposedFace.of(a, "wrap bottom")
    assert boot.length == pytest.approx((DISC.radius + 2e-3) / 2.0)
    assert DISC.area == pytest.approx(BOX.area) == pytest.approx(math.pi * BOX.radius**2)
    assert DISC.perimeter < BOX.perimeter


def test_a_disc_loses_less_than_the_box_and_the_balance_closes() -> None:
    box, disc, ring = (balanced(problem_for(Arrangement(block=block), level=-1.0)) for block in (BOX, DISC, RING))
    assert disc.balance.faces["block side"] < 0.95 * box.balance.faces["block side"]
    assert ring.flow != pytest.approx(box.flow, rel=1e-4)


@pytest.mark.parametrize("key", ["heater.ring_length", "heater.ring_begin", "heater.ring_radius"])
def test_slopes_by_the_heater_are_those_of_whole_solves(key: str) -> None:
    problem = problem_for(Arrangement(block=RING), level=-1.0)
    (lever,) = (each for each in levers_of(system_of(problem)) if each.key == key)
    step = 1e-2 * lever.step
    low, high = (find_ceilings(lever.at(lever.value + move)).flow for move in (-step, step))
    (effect,) = explain(find_ceilings(problem), [lever]).effects
    assert effect.slope == pytest.approx((high - low) / (2.0 * step), rel=1e-2, abs=1e-12)


def test_what_does_not_fit_is_refused() -> None:
    refused("block.heater_length", "within the block", lambda: replace(BOX, heater_length=12e-3))
    refused("block.heater_length", "within the block", lambda: replace(BOX, heater_length=8e-3, heater_begin=4e-3))
    refused("block.heater_begin", "heater_length", lambda: replace(BOX, heater_begin=1e-3))
    both = replace(BOX, heater_length=5e-3)
    refused("block.heater_length", "second block", lambda: Arrangement(block=both, second_block=SecondBlock()))
