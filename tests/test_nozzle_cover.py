"""A cap on the nozzle: its volume, what it keeps from a jet, the balance, slopes against whole solves."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from support import STILL, balanced, problem_for, refused, system_of

from meltzone.cases.inputs.levers import levers_of
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.explain import explain
from meltzone.fem.space import Space
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.covers import Wrap
from meltzone.geometry.mesh import build_section
from meltzone.geometry.nozzle_cover import NozzleCover

BARE, CAPPED = Arrangement(), Arrangement(nozzle_cover=NozzleCover())
JET = replace(STILL, jet_speed=5.0)


def test_it_fills_what_lies_round_cone_and_hexagon() -> None:
    nozzle, cap = CAPPED.nozzle, NozzleCover()
    low, high = nozzle.outer_radius(cap.clearance), nozzle.hexagon_radius
    cone = math.pi / 3.0 * (nozzle.tip_cone_height - cap.clearance) * (low**2 + low * high + high**2)
    whole = math.pi * (high + cap.thickness) ** 2 * (nozzle.shoulder - cap.clearance)
    space = Space(build_section(CAPPED, -1.0))
    volume = space.cells.volume[space.cells_of("nozzle cover")].sum()
    assert volume == pytest.approx(whole - cone - math.pi * high**2 * nozzle.hexagon_height, rel=1e-9)


def test_it_keeps_the_jet_off_and_the_balance_closes() -> None:
    bare, capped = (balanced(problem_for(made, level=-1.0, surroundings=JET)) for made in (BARE, CAPPED))
    assert capped.tip > bare.tip and capped.power < bare.power - 0.1
    assert capped.balance.faces["nozzle cone"] < 0.3 * bare.balance.faces["nozzle cone"]
    assert {f"nozzle cover {side}" for side in ("side", "bottom", "top")} <= set(capped.balance.faces)
    assert "nozzle hexagon" not in capped.balance.faces


@pytest.mark.parametrize("key", ["nozzle_cover.thickness", "nozzle_cover.clearance", "contacts.wrap"])
def test_slopes_are_those_of_whole_solves(key: str) -> None:
    given = problem_for(CAPPED, level=-1.0, surroundings=JET)
    (lever,) = (each for each in levers_of(system_of(given)) if each.key == key)
    step = 1e-2 * lever.step
    low, high = (find_ceilings(lever.at(lever.value + move)).flow for move in (-step, step))
    (effect,) = explain(find_ceilings(given), [lever]).effects
    assert effect.slope == pytest.approx((high - low) / (2.0 * step), rel=2e-2)


def test_what_does_not_fit_is_refused() -> None:
    refused("nozzle_cover.clearance", "tip cone", lambda: Arrangement(nozzle_cover=NozzleCover(clearance=3e-3)))
    refused("nozzle_cover.thickness", "wrap.covers", lambda: Arrangement(wrap=Wrap(), nozzle_cover=NozzleCover()))
