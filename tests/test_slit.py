"""Bare thread that goes to no length: the slit above the hexagon closes without a jump, by conduction through its air."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support import ARRANGEMENTS, JET, balanced, problem_for, system_of

from meltzone.cases.inputs.levers import levers_of
from meltzone.fem.adjoint import adjoint_of
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.lever import central_slope
from meltzone.fem.problem import Problem
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.covers import Wrap
from meltzone.geometry.slit import OPEN_FROM, Slit, slit_of
from meltzone.materials.library import air

MM = 1e-3
LEVEL = -1.0


def below_block(height: float) -> Arrangement:
    """The short block with so much bare thread between it and the hexagon, and as much nozzle inside as ever."""
    nozzle = Arrangement().nozzle
    exposed = nozzle.shoulder + height
    return Arrangement(nozzle=replace(nozzle, exposed=exposed, length=exposed + nozzle.length - nozzle.exposed))


def below_sleeve(height: float) -> Arrangement:
    sleeved = ARRANGEMENTS["sleeve"]
    assert sleeved.sleeve is not None
    return replace(
        sleeved, sleeve=replace(sleeved.sleeve, height=sleeved.block_bottom - sleeved.nozzle.shoulder - height)
    )


PLACES = {"block": below_block, "sleeve": below_sleeve}
EACH = pytest.mark.parametrize("place", PLACES)


def posed(place: str, height: float) -> Problem:
    return problem_for(PLACES[place](height), level=LEVEL, surroundings=JET)


def ceiling(place: str, height: float) -> float:
    return find_ceilings(posed(place, height)).flow


@EACH
def test_nothing_jumps_as_the_bare_thread_goes_to_no_length(place: str) -> None:
    """Within 0.02 % of no length at all at 0.02 and 0.1 um, and then by no more than what a um of air resists."""
    closed, *near = (ceiling(place, height) for height in (0.0, 2e-8, 1e-7, 1e-6))
    assert near[:2] == pytest.approx([closed] * 2, rel=2e-4)
    assert near[2] == pytest.approx(closed, rel=5e-4)


@EACH
def test_nothing_jumps_where_the_slit_opens(place: str) -> None:
    before, after = (ceiling(place, OPEN_FROM * (1.0 + step)) for step in (-1e-4, 1e-4))
    assert before == pytest.approx(after, rel=2e-5)


def test_air_between_two_plates_conducts_by_its_height() -> None:
    """Closed the joint's own; then k/h by far, as between parallel plates; nothing where the air moves."""
    gas = float(air().conductivity(483.15))
    slit = Slit("block bottom", "block face", 0.0, 3.5 * MM)
    assert slit.conductance(5000.0, gas) == 5000.0
    narrow = replace(slit, height=30e-6)
    assert narrow.conductance(1e9, gas) == pytest.approx(gas / 30e-6, rel=0.02)
    heights = np.linspace(0.0, OPEN_FROM, 40)
    across = [replace(slit, height=float(height)).conductance(5000.0, gas) for height in heights]
    seen = [replace(slit, height=float(height)).open_share for height in heights]
    assert np.all(np.diff(across) < 0.0) and across[-1] == 0.0
    assert np.all(np.diff(seen) > 0.0) and (seen[0], seen[-1]) == (0.0, 1.0)


@EACH
def test_with_a_slit_the_balance_closes_and_the_budget_is_whole(place: str) -> None:
    field = balanced(posed(place, 0.1 * MM))
    (joint,) = (contact for contact in field.system.contacts if contact.name == "slit")
    assert float(joint.first.area.sum()) == pytest.approx(np.pi * (slit_radius(place) ** 2 - thread_radius(place) ** 2))


def slit_radius(place: str) -> float:
    slit = slit_of(PLACES[place](0.1 * MM))
    assert slit is not None
    return slit.radius


def thread_radius(place: str) -> float:
    return PLACES[place](0.1 * MM).nozzle.thread.pitch_radius


def test_what_a_boot_or_a_wrap_fills_is_no_slit() -> None:
    for place, covers in (("block", "block"), ("block", "nozzle"), ("sleeve", "nozzle")):
        bare = PLACES[place](0.1 * MM)
        assert slit_of(bare) is not None and slit_of(replace(bare, wrap=Wrap(covers=(covers,)))) is None  # type: ignore[arg-type]
    booted = replace(below_sleeve(0.1 * MM), wrap=Wrap(covers=("block",)))
    assert slit_of(booted) is not None and balanced(problem_for(booted, level=LEVEL))


@pytest.mark.parametrize(("place", "key"), [("block", "nozzle.exposed"), ("sleeve", "sleeve.height")])
def test_derivatives_in_a_slit_are_those_of_differences(place: str, key: str) -> None:
    problem = posed(place, 0.2 * MM)
    found = find_ceilings(problem)
    (lever,) = (lever for lever in levers_of(system_of(problem)) if lever.key == key)
    step, divided = 1e-6, system_of(problem).space.section.subdivision
    ends = [find_ceilings(replace(lever.at(lever.value + s), subdivision=divided)).flow for s in (-step, step)]
    slope = central_slope(lever, adjoint_of(found).change)
    assert slope == pytest.approx((ends[1] - ends[0]) / (2.0 * step), rel=1e-2)
