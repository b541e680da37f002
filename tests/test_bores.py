"""Bores that step or taper: limits that must give the plain bore, balance and flow for any of them, what cannot be built."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from support import ARRANGEMENTS, arrangements, problem_for, refused, system_of

from meltzone.cases.inputs.levers import levers_of
from meltzone.fem.adjoint import adjoint_of
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.contact import BoreLaw
from meltzone.fem.discretise import law_of
from meltzone.fem.lever import central_slope
from meltzone.fem.motion import filled_sections
from meltzone.fem.slow_flow.feeding import feeding
from meltzone.fem.slow_flow.stokes import melt_flow_of
from meltzone.fem.steady import solve_at_flow
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.filament import Filament
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.nozzle import Nozzle

BORES = (
    "nozzle.bore",
    "nozzle.lower_bore",
    "nozzle.lower_bore_length",
    "nozzle.taper_length",
    "heat_break.bore",
    "polymer.filament_diameter",
)
MM, FLOW = 1e-3, 10e-9
FEW = settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
NARROW = Nozzle(lower_bore=1.4 * MM, lower_bore_length=4 * MM)
TAPERED = Nozzle(lower_bore=1.4 * MM, lower_bore_length=2 * MM, taper_length=4 * MM)
WIDE_ABOVE = HeatBreak(bore=2.3 * MM)
THICK = ARRANGEMENTS["thick filament"]
KINDS = {
    "step in the nozzle": Arrangement(nozzle=NARROW),
    "taper": Arrangement(nozzle=TAPERED),
    "wider below": Arrangement(nozzle=replace(NARROW, lower_bore=2.6 * MM)),
    "step at the joint": Arrangement(heat_break=WIDE_ABOVE),
    "narrow heat break": Arrangement(heat_break=HeatBreak(bore=1.85 * MM)),
    "all at once": Arrangement(nozzle=TAPERED, heat_break=WIDE_ABOVE),
    "2.85 mm, step": replace(THICK, nozzle=replace(THICK.nozzle, lower_bore=2.4 * MM, lower_bore_length=3 * MM)),
    "3 mm, taper": replace(
        THICK,
        nozzle=replace(THICK.nozzle, lower_bore=2.4 * MM, lower_bore_length=2 * MM, taper_length=3 * MM),
        heat_break=HeatBreak(bore=3.3 * MM, neck_diameter=4.2 * MM),
        filament=Filament(3.0 * MM),
    ),
}
EACH = pytest.mark.parametrize("kind", KINDS)


def ceiling(arrangement: Arrangement) -> float:
    return find_ceilings(problem_for(arrangement)).flow or math.nan


def test_a_taper_to_the_same_diameter_is_the_plain_bore() -> None:
    same = Nozzle(lower_bore=2.0 * MM, lower_bore_length=4 * MM, taper_length=2 * MM)
    assert ceiling(Arrangement(nozzle=same)) == pytest.approx(ceiling(Arrangement()), rel=1e-9)


@pytest.mark.parametrize("step", [-1e-6, 1e-6])
def test_a_step_of_a_micrometre_is_hardly_one(step: float) -> None:
    plain = ceiling(Arrangement())
    assert ceiling(Arrangement(heat_break=HeatBreak(bore=2.0 * MM + 2.0 * step))) == pytest.approx(plain, rel=1e-3)
    nozzle = Nozzle(lower_bore=2.0 * MM + 2.0 * step, lower_bore_length=4 * MM)
    assert ceiling(Arrangement(nozzle=nozzle)) == pytest.approx(plain, rel=1e-3)


@FEW
@given(arrangements())
def test_any_bore_balances_and_carries_the_flow_through_every_section(arrangement: Arrangement) -> None:
    problem = problem_for(arrangement, level=-1.0)
    field = solve_at_flow(system_of(problem), FLOW)
    assert field.balance.relative_imbalance < 1e-9
    space, stream = field.system.space, field.system.stream
    carried = stream[filled_sections(space)]
    assert np.all(carried[:, 0] == 0.0)
    assert np.abs(carried[:, -1] - 1.0).max() < 1e-12
    assert np.all(np.diff(carried, axis=1) >= -1e-12)


@EACH
def test_the_slow_flow_loses_nothing_and_its_work_is_heat(kind: str) -> None:
    """What is spent at the inflow is dissipated; a narrower bore takes more to push than the plain one."""
    field = solve_at_flow(system_of(problem_for(KINDS[kind])), FLOW)
    flow = melt_flow_of(field)
    assert flow.pressure * FLOW == pytest.approx(flow.load(field.system.space.size).sum(), rel=1e-6)
    assert abs(flow.carried[-1, -1] - 1.0) < 1e-6  # a plug enters
    assert np.median(np.abs(flow.carried[:, -1] - 1.0)) < 5e-3
    assert 0.3 < feeding(field).pressure / flow.pressure < 3.0


def test_pushing_through_a_narrow_lower_bore_takes_more() -> None:
    plain, narrow = (
        melt_flow_of(solve_at_flow(system_of(problem_for(a)), FLOW))
        for a in (Arrangement(), KINDS["step in the nozzle"])
    )
    assert narrow.bore > 1.2 * plain.bore
    assert narrow.cone < plain.cone


@EACH
def test_the_gas_gap_is_that_of_the_bore_at_each_height(kind: str) -> None:
    """k / (R ln(R/R_f)) of a concentric annulus on its outer area, at each bore that the filament passes as a solid."""
    a = KINDS[kind]
    problem = problem_for(a)
    law = law_of(problem, "bore")
    assert isinstance(law, BoreLaw)
    polymer, setpoint = problem.materials.polymer, problem.operation.setpoint
    k = float(problem.materials.air.conductivity((polymer.softening_temperature + setpoint) / 2.0))
    rod = a.filament.diameter / 2.0
    heights = np.array([a.block_top - 0.1 * MM, a.joint - 0.6 * MM])
    for dry, radius in zip(law.dry(heights), (a.heat_break.bore / 2.0, a.nozzle.bore / 2.0), strict=True):
        assert dry == pytest.approx(k / (radius * math.log(radius / rod)), rel=1e-12)


@pytest.mark.parametrize("kind", ["step in the nozzle", "taper", "step at the joint"])
def test_derivatives_by_the_bores_are_those_of_differences(kind: str) -> None:
    problem = problem_for(KINDS[kind])
    found = find_ceilings(problem)
    adjoint, seen = adjoint_of(found), 0
    for lever in levers_of(system_of(problem)):
        if lever.key not in BORES:
            continue
        slope = central_slope(lever, adjoint.change)
        step = 1e-3 * lever.value
        # divided as before, so that no cell more or less is seen as an effect
        ends = [
            find_ceilings(
                replace(lever.at(lever.value + s), subdivision=system_of(problem).space.section.subdivision)
            ).flow
            for s in (-step, step)
        ]
        assert None not in ends
        assert slope == pytest.approx((ends[1] - ends[0]) / (2.0 * step), rel=2e-2)
        seen += 1
    assert seen >= 3


IMPOSSIBLE: dict[str, tuple[str, str, Callable[[], object]]] = {
    "a length without a bore": ("nozzle.lower_bore_length", "lower_bore", lambda: Nozzle(lower_bore_length=3 * MM)),
    "a taper without a bore": ("nozzle.taper_length", "lower_bore", lambda: Nozzle(taper_length=3 * MM)),
    "a bore without a length": ("nozzle.lower_bore", "lower_bore_length", lambda: Nozzle(lower_bore=1.5 * MM)),
    "a step that is none": ("nozzle.lower_bore", "at least 0.2 um", lambda: replace(NARROW, lower_bore=2.0001 * MM)),
    "a step at the joint that is none": (
        "heat_break.bore", "at least 0.2 um", lambda: Arrangement(heat_break=HeatBreak(bore=1.99999 * MM)),
    ),
    "no length": ("nozzle.lower_bore_length", "a length", lambda: replace(NARROW, lower_bore_length=0.0)),
    "no taper": ("nozzle.taper_length", "a length", lambda: replace(TAPERED, taper_length=0.0)),
    "narrower than the orifice": ("nozzle.orifice", "0.3 mm", lambda: replace(NARROW, lower_bore=0.3 * MM)),
    "beyond the nozzle": (
        "nozzle.lower_bore_length", "upper face", lambda: replace(NARROW, lower_bore_length=12 * MM),
    ),
    "taper beyond the nozzle": ("nozzle.lower_bore_length", "taper", lambda: replace(TAPERED, taper_length=9.5 * MM)),
    "no room for the shoulder": (
        "nozzle.lower_bore_length", "45 degrees", lambda: replace(NARROW, lower_bore=2.8 * MM, lower_bore_length=0.2 * MM),
    ),
    "through the thread": ("nozzle.lower_bore", "root", lambda: replace(NARROW, lower_bore=4.8 * MM)),
    "heat break too narrow for the filament": (
        "polymer.filament_diameter", "heat break's bore", lambda: Arrangement(heat_break=HeatBreak(bore=1.76 * MM)),
    ),
    "nozzle's entry too narrow for the filament": (
        "polymer.filament_diameter", "nozzle's bore", lambda: Arrangement(nozzle=Nozzle(bore=1.76 * MM)),
    ),
    "no room for the step below the joint": (
        "heat_break.bore",
        "narrower than the bore below it",
        lambda: Arrangement(
            nozzle=Nozzle(bore=2.3 * MM, lower_bore=2.0 * MM, lower_bore_length=10.2 * MM),
            heat_break=HeatBreak(bore=1.8 * MM),
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_what_cannot_be_built_is_told_by_key(name: str) -> None:
    refused(*IMPOSSIBLE[name])
