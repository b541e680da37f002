"""A liner in the heat break: limits that give the bare heat break, its thermal resistance, its service limit, bad cases."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from support import balanced, problem_for, refused, system_of

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.levers import levers_of
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.studies.cautions import cautions_of, hottest_points, margins_of, stuck_on_caution
from meltzone.fem.adjoint import adjoint_of
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.contact import LinerEnd, entry_resistances
from meltzone.fem.inputs import Contacts
from meltzone.fem.lever import central_slope
from meltzone.fem.linearise import Linearisation
from meltzone.fem.problem import Problem
from meltzone.fem.runaway import stuck_on
from meltzone.fem.slow_flow.feeding import feeding
from meltzone.fem.steady import solve_at_flow
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.channels import Channels
from meltzone.geometry.filament import Filament
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.liner import Liner
from meltzone.geometry.nozzle import Nozzle
from meltzone.geometry.thread import MetricThread
from meltzone.materials.curves import Curve
from meltzone.materials.library import solid

MM, FLOW = 1e-3, 10e-9
NECK = HeatBreak(neck_diameter=4.5 * MM)
LINED = Arrangement(heat_break=NECK, liner=Liner())
THICK = Arrangement(
    nozzle=Nozzle(
        bore=3.2 * MM,
        orifice=0.8 * MM,
        thread=MetricThread(8 * MM, 1.25 * MM),
        hexagon=10 * MM,
        tip_diameter=1.8 * MM,
    ),
    heat_break=HeatBreak(bore=3.2 * MM, neck_diameter=5.4 * MM),
    filament=Filament(2.85 * MM),
    liner=Liner(3.2 * MM, 5.0 * MM),
)
KINDS = {
    "down to the nozzle": LINED,
    "into the block": replace(LINED, liner=Liner(end=2 * MM)),
    "a little into the block": replace(LINED, liner=Liner(end=0.7 * MM)),
    "to the block": replace(LINED, liner=Liner(end=0.0)),
    "above the block": replace(LINED, liner=Liner(end=-1 * MM)),
    "wider than the nozzle": replace(LINED, liner=Liner(inner_diameter=2.2 * MM)),
    "narrower, above": replace(LINED, liner=Liner(inner_diameter=1.9 * MM, end=-0.5 * MM)),
    "2.85 mm": THICK,
    "3 mm": replace(THICK, filament=Filament(3.0 * MM)),
}
EACH = pytest.mark.parametrize("kind", KINDS)


def like_metal(problem: Problem) -> Problem:
    """The liner of the heat break's metal, joined all but perfectly."""
    materials = replace(problem.materials, liner=problem.materials.heat_break)
    return replace(problem, materials=materials, contacts=replace(problem.contacts, liner=1e9))


def test_a_liner_of_the_metal_well_joined_is_the_bare_heat_break() -> None:
    """To what the mesh, which has a few lines more, makes of it; on the nozzle it stands in place of the shoulder's joint."""
    joined = Contacts(shoulder=1e9)
    bare = find_ceilings(problem_for(replace(LINED, liner=None), level=1.0, contacts=joined)).flow
    for end in (None, 2 * MM):
        lined = like_metal(problem_for(replace(LINED, liner=Liner(end=end)), level=1.0, contacts=joined))
        assert find_ceilings(lined).flow == pytest.approx(bare, rel=2e-5)


@EACH
def test_the_balance_closes_and_the_budget_is_whole(kind: str) -> None:
    balanced(problem_for(KINDS[kind]))


def test_the_wall_of_the_liner_resists_like_an_annulus() -> None:
    """At T = ln r the integral of k (grad T)^2 is the heat times the drop, by the resistance ln(r2/r1) / (2 pi k L)."""
    problem = problem_for(LINED, level=1.0)
    k, r1, r2, drop = 0.25, 1.0 * MM, 2.0 * MM, 50.0
    flat = Curve.constant("conductivity", "W/m/K", k, "invented for a test")
    materials = replace(problem.materials, liner=replace(solid("ptfe"), conductivity=flat))
    system = system_of(replace(problem, materials=materials))
    dofs, cells = system.space.dofs_of("liner"), system.space.cells_of("liner")
    temperature = np.full(system.space.size, 400.0)
    temperature[dofs] += drop * np.log(system.space.points[0, dofs] / r1) / math.log(r2 / r1)
    here = Linearisation.at(system, temperature, FLOW, 0.0)
    spent = float(np.sum(here.weight[cells] * here.gradient[cells] ** 2))
    resistance = math.log(r2 / r1) / (2.0 * math.pi * k * (LINED.top - LINED.joint))
    assert spent == pytest.approx(drop**2 / resistance, rel=1e-4)


def test_the_film_at_the_entry_is_gas_and_liner_in_series() -> None:
    """Per area of the bore: the annulus, R ln(r2/r1)/k, and the joint on its outer area, in place of the metal's annulus."""
    problem = problem_for(LINED)
    p, gap = problem.materials, problem_for(replace(LINED, liner=None))
    middle = (p.polymer.softening_temperature + problem.operation.setpoint) / 2.0
    series = entry_resistances(problem.arrangement, problem.contacts, p, problem.operation)
    bare = entry_resistances(gap.arrangement, gap.contacts, gap.materials, gap.operation)
    annulus = 1.0 * MM * math.log(2.0)
    liner = annulus / float(solid("ptfe").conductivity(middle)) + 0.5 / 500.0
    metal = annulus / float(solid("stainless steel").conductivity(middle))
    assert sum(series.values()) - sum(bare.values()) == pytest.approx(liner - metal, rel=1e-12)


def test_a_liner_costs_ceiling_the_more_the_deeper_it_reaches() -> None:
    ends = (-1 * MM, 0.0, 1 * MM, 2 * MM, 3 * MM, None)
    ceilings = [find_ceilings(problem_for(replace(LINED, liner=Liner(end=end)))).flow or 0.0 for end in ends]
    assert all(deeper < higher for higher, deeper in pairwise(ceilings))


@pytest.mark.parametrize("kind", ["down to the nozzle", "2.85 mm"])
@pytest.mark.parametrize("profile", ["shaped", "solved"])
def test_a_velocity_that_follows_the_viscosity_converges_along_a_cold_liner(kind: str, profile: str) -> None:
    found = find_ceilings(problem_for(KINDS[kind], profile=profile))
    assert found.governs == "melt" and found.field is not None
    # a velocity fitted anew after each step is taken as found once the residual is below 1e-7 of the heat
    assert found.field.balance.relative_imbalance < (1e-7 if profile == "shaped" else 1e-9)


def test_a_liner_that_hardly_enters_the_block_is_as_good_as_one_that_ends_there() -> None:
    """Nothing jumps at the block's face: the skin softens through the liner only as far as that goes."""
    ends = (0.0, 1e-6, 1e-5)
    there, micron, ten = (find_ceilings(problem_for(replace(LINED, liner=Liner(end=end)))).flow for end in ends)
    assert micron == pytest.approx(there, rel=1e-4)
    assert ten == pytest.approx(there, rel=1e-3)


def test_the_way_to_softening_is_continuous_where_the_liner_ends() -> None:
    """From the bare bore's at no liner to the liner's own where the skin softens at its end; its parts are its slopes."""
    flow, lined, bare = 10e-9, 1.7e5, 0.5e5
    ways = [LinerEnd(depth, lined, bare).way(flow, depth) for depth in np.linspace(0.0, 2.0 * lined * flow, 2001)]
    assert ways[0] == bare * flow and ways[-1] == lined * flow
    assert np.abs(np.diff(ways)).max() < 2e-3 * lined * flow and np.all(np.diff(ways) >= 0.0)
    end, step = LinerEnd(0.6e-3, lined, bare), 1e-6
    by_lined, by_bare = end.parts(flow)
    moved = replace(end, lined_length=lined * (1 + step)), replace(end, bare_length=bare * (1 + step))
    slopes = [(math.log(other.way(flow, 0.6e-3) / end.way(flow, 0.6e-3))) / step for other in moved]
    assert slopes == pytest.approx([by_lined, by_bare], rel=1e-4)
    by_flow = math.log(end.way(flow * (1 + step), 0.6e-3) / end.way(flow, 0.6e-3)) / step
    assert by_flow == pytest.approx(by_lined + by_bare, rel=1e-4)


def test_its_keys_are_levers() -> None:
    keys = {lever.key for lever in levers_of(system_of(problem_for(KINDS["into the block"])))}
    assert keys >= {"liner.outer_diameter", "liner.end", "contacts.liner", "liner.conductivity*", "nozzle.bore"}
    assert "heat_break.bore" not in keys  # of the nozzle's diameter, as the liner's is: one bore
    wide = {lever.key for lever in levers_of(system_of(problem_for(KINDS["wider than the nozzle"])))}
    assert "liner.inner_diameter" in wide


@pytest.mark.parametrize("key", ["liner.end", "liner.outer_diameter", "contacts.liner", "liner.conductivity*"])
def test_derivatives_are_those_of_differences(key: str) -> None:
    problem = problem_for(KINDS["into the block"])
    found = find_ceilings(problem)
    adjoint = adjoint_of(found)
    (lever,) = (lever for lever in levers_of(system_of(problem)) if lever.key == key)
    step = 1e-3 * lever.value
    # divided as before, so that no cell more or less is seen as an effect
    subdivision = system_of(problem).space.section.subdivision
    ends = [
        find_ceilings(replace(lever.at(lever.value + s), subdivision=subdivision)).flow or 0.0 for s in (-step, step)
    ]
    assert central_slope(lever, adjoint.change) == pytest.approx((ends[1] - ends[0]) / (2.0 * step), rel=1e-2)


def test_ptfe_is_judged_by_its_card_at_its_hottest_point() -> None:
    """The card's limits, 250 degC in service and 260 degC at most, and what it says about the fume."""
    hot = problem_for(LINED, plastic="petg", setpoint=258.0)
    field = solve_at_flow(system_of(hot), 2e-9)
    hottest = hottest_points(hot, field)
    assert hottest["liner"] == field.part_extremes["liner"][1] > 523.15
    (margin,) = (margin for margin in margins_of(hot, hottest) if margin.part == "liner")
    assert margin.severity == "warning" and margin.limit == pytest.approx(523.15)
    (said,) = (f for f in cautions_of(hot, hottest) if f.material == "ptfe" and f.severity == "warning")
    assert "fume" in said.text and "data sheet" in said.text
    stuck = stuck_on(system_of(hot))
    assert stuck.hottest["liner"] > 600.0
    assert "liner (PTFE)" in stuck_on_caution(hot, stuck).text


def test_a_liner_above_the_block_may_run_at_a_setpoint_beyond_its_table(tmp_path: Path) -> None:
    text = 'extends = "short-block"\n[heater]\nsetpoint = "270 degC"\n[heat_break]\nneck_diameter = "4.5 mm"\n[liner]\n'
    path = tmp_path / "mine.toml"
    path.write_text(text + 'end = "-1 mm"\n', encoding="utf-8")
    assert problem_of(load_case(path)).materials.liner is solid("ptfe")
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        problem_of(load_case(path))
    assert caught.value.key == "heater.setpoint" and "PTFE" in caught.value.expected


@pytest.mark.parametrize("channels", [None, Channels()])
def test_a_step_that_only_the_solid_filament_passes_takes_no_force(channels: Channels | None) -> None:
    """The liner ends above the block, wider than the heat break's bore or not: the melt sees the same passage."""
    liners = Liner(end=-1 * MM), Liner(inner_diameter=2.1 * MM, end=-1 * MM)
    fields = [
        solve_at_flow(system_of(problem_for(replace(LINED, liner=liner, channels=channels))), FLOW) for liner in liners
    ]
    even, stepped = (feeding(field) for field in fields)
    assert stepped.force == pytest.approx(even.force, rel=5e-3)  # the gap above the block is another one
    assert find_ceilings(problem_for(replace(LINED, liner=liners[1], channels=channels), grip=60.0)).force is not None


IMPOSSIBLE: dict[str, tuple[str, str, Callable[[], object]]] = {
    "no wall": ("liner.outer_diameter", "inner diameter", lambda: Liner(2.0 * MM, 2.05 * MM)),
    "a slip of the unit": ("liner.end", "at most", lambda: Liner(end=2.0)),
    "neck too thin": ("liner.outer_diameter", "neck", lambda: Arrangement(liner=Liner())),
    "deeper than the heat break": ("liner.end", "4 mm", lambda: replace(LINED, liner=Liner(end=4.5 * MM))),
    "none left": ("liner.end", "0.5 mm of liner", lambda: replace(LINED, liner=Liner(end=-6.9 * MM))),
    "filament does not pass": (
        "polymer.filament_diameter",
        "liner's bore",
        lambda: replace(LINED, liner=Liner(inner_diameter=1.76 * MM)),
    ),
    "no ledge": (
        "heat_break.bore",
        "outer diameter",
        lambda: replace(LINED, heat_break=replace(NECK, bore=4.0 * MM), liner=Liner(end=2 * MM)),
    ),
    "no ledge on the nozzle": ("nozzle.bore", "outer diameter", lambda: replace(LINED, nozzle=Nozzle(bore=4.0 * MM))),
    "no room for the step": (
        "liner.inner_diameter",
        "wider",
        lambda: replace(
            LINED,
            nozzle=Nozzle(length=15.5 * MM),
            liner=Liner(inner_diameter=3.2 * MM),
            heat_break=replace(NECK, bore=2 * MM),
        ),
    ),
}


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_what_cannot_be_built_is_told_by_key(name: str) -> None:
    refused(*IMPOSSIBLE[name])
