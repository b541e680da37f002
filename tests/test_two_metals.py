"""Nozzles and heat breaks of two metals: those of one metal are the plain ones, joints count, the balance closes."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from support import balanced, materials_for, problem_for, refused, system_of

from meltzone.cases.inputs.levers import levers_of
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.explain import explain
from meltzone.fem.heat_creep import soft_height
from meltzone.fem.inputs import Contacts
from meltzone.fem.space import Space
from meltzone.fem.steady import solve_at_flow
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.mesh import build_section
from meltzone.geometry.nozzle import Nozzle
from meltzone.geometry.two_metals import BreakBody, Tip

WIDE = Arrangement(nozzle=Nozzle(tip_diameter=1.4e-3))
INSERT = Tip(0.6e-3, diameter=1e-3)
WHOLE = Nozzle().tip_cone_height  # of the cone: no level of the mesh of its own


def ceiling(made: Arrangement, contacts: Contacts | None = None, **parts: str) -> float:
    return find_ceilings(problem_for(made, level=-1.0, contacts=contacts, materials=materials_for(made, **parts))).flow


def test_two_metals_that_are_one_are_the_plain_part() -> None:
    plain = ceiling(Arrangement())
    assert ceiling(Arrangement(tip=Tip(WHOLE, soldered=True)), tip="brass") == pytest.approx(plain, rel=1e-12)
    body = Arrangement(break_body=BreakBody(soldered=True))
    assert ceiling(body, break_body="stainless steel") == pytest.approx(plain, rel=1e-12)


def test_a_joint_that_conducts_at_will_is_a_soldered_one() -> None:
    perfect = Contacts(tip_joint=1e9, body_joint=1e9)
    for pressed, whole in (
        (Arrangement(tip=Tip()), Arrangement(tip=Tip(soldered=True))),
        (Arrangement(break_body=BreakBody()), Arrangement(break_body=BreakBody(soldered=True))),
    ):
        assert ceiling(pressed, perfect) == pytest.approx(ceiling(whole), rel=1e-5)


def test_one_piece_is_a_joint_that_conducts_at_will() -> None:
    parts = {"nozzle": "stainless steel"}
    whole = ceiling(Arrangement(heat_break=HeatBreak(soldered=True)), **parts)
    assert whole == pytest.approx(ceiling(Arrangement(), Contacts(shoulder=1e9), **parts), rel=1e-5)
    assert whole != pytest.approx(ceiling(Arrangement(), **parts), rel=1e-4)


def test_an_insert_of_the_bodys_metal_is_the_plain_nozzle_and_its_joint_counts() -> None:
    plain, made = ceiling(WIDE), ceiling(replace(WIDE, tip=replace(INSERT, soldered=True)), tip="brass")
    assert made == pytest.approx(plain, rel=1e-3)  # of one mesh and another
    assert ceiling(replace(WIDE, tip=INSERT), Contacts(tip_joint=1e9), tip="brass") == pytest.approx(made, rel=1e-5)
    hard = balanced(problem_for(replace(WIDE, tip=INSERT), level=-1.0))
    assert {"nozzle end face", "nozzle tip", "nozzle cone"} <= set(hard.balance.faces)


def test_an_insert_fills_the_ring_between_passage_and_its_diameter() -> None:
    section = build_section(replace(WIDE, tip=INSERT), -1.0)
    space = Space(section)
    volume = INSERT.height * math.pi * (0.5e-3**2 - (WIDE.nozzle.orifice / 2.0) ** 2)
    assert space.cells.volume[space.cells_of("tip")].sum() == pytest.approx(volume, rel=1e-9)


def test_a_tip_of_steel_runs_cooler_and_the_balance_closes() -> None:
    plain, hard = (balanced(problem_for(made, level=-1.0)) for made in (Arrangement(), Arrangement(tip=Tip())))
    assert hard.tip < plain.tip - 1.0
    assert "nozzle end cone" in hard.balance.faces and "nozzle cone" in hard.balance.faces


def test_thick_ends_of_copper_bring_more_heat_to_block_and_sink() -> None:
    """The cooled end all of one temperature, the tube soon cold above the neck: less softens there at rest."""
    heights = []
    for made in (Arrangement(), Arrangement(break_body=BreakBody(covers=("cooled",), soldered=True))):
        heights.append(soft_height(solve_at_flow(system_of(problem_for(made, level=-1.0)), 0.0)))
    assert heights[1] < heights[0]
    balanced(problem_for(Arrangement(break_body=BreakBody()), level=-1.0))


@pytest.mark.parametrize("key", ["tip.height", "tip.joint", "break_body.joint", "tip.diameter"])
def test_slopes_are_those_of_whole_solves(key: str) -> None:
    made = replace(WIDE, tip=INSERT) if key == "tip.diameter" else Arrangement(tip=Tip(), break_body=BreakBody())
    problem = problem_for(made, level=-1.0)
    (lever,) = (each for each in levers_of(system_of(problem)) if each.key == key)
    step = 1e-2 * lever.step
    low, high = (find_ceilings(lever.at(lever.value + move)).flow for move in (-step, step))
    (effect,) = explain(find_ceilings(problem), [lever]).effects
    assert effect.slope == pytest.approx((high - low) / (2.0 * step), rel=2e-2, abs=1e-16)


def test_what_does_not_fit_is_refused() -> None:
    refused("tip.height", "tip_cone_height", lambda: Arrangement(tip=Tip(5e-3)))
    refused("tip.diameter", "tip.height", lambda: replace(WIDE, tip=replace(INSERT, height=1.5e-3)))
    refused("break_body.covers", "cooled", lambda: BreakBody(covers=()))
