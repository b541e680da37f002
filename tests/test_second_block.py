"""A second block on the first: limits that give one tall block, its faces, its share of the power, bad cases."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from support import ARRANGEMENTS, balanced, problem_for, refused, system_of

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.levers import levers_of
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.outputs.check import modelled_area
from meltzone.cases.studies.cautions import materials_by_part
from meltzone.fem.adjoint import adjoint_of
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.explain import slope_by
from meltzone.fem.heater import heater_load, heater_rings
from meltzone.fem.inputs import Contacts
from meltzone.fem.problem import Problem
from meltzone.fem.runaway import stuck_on
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.block import Block, SecondBlock
from meltzone.geometry.covers import Wrap
from meltzone.geometry.filament import Filament
from meltzone.geometry.liner import Liner
from meltzone.geometry.mesh import build_section

MM = 1e-3
UPPER = SecondBlock(23 * MM, 16 * MM, 8 * MM)
TWO = Arrangement(second_block=UPPER)
THICK = ARRANGEMENTS["thick filament"]
KINDS = {
    "two alike": TWO,
    "smaller above": Arrangement(second_block=SecondBlock(20 * MM, 15.5 * MM, 6 * MM)),
    "larger above": Arrangement(second_block=SecondBlock(30 * MM, 20 * MM, 6 * MM)),
    "boot over both": replace(TWO, wrap=Wrap(covers=("block",))),
    "lined": replace(TWO, heat_break=replace(TWO.heat_break, neck_diameter=4.5 * MM), liner=Liner(end=3 * MM)),
    "2.85 mm": replace(THICK, second_block=UPPER),
    "3 mm": replace(THICK, second_block=UPPER, filament=Filament(3.0 * MM)),
}
EACH = pytest.mark.parametrize("kind", KINDS)


def shared(arrangement: Arrangement, share: float = 0.5, level: float = 0.0) -> Problem:
    return problem_for(arrangement, level=level, second_share=share, rating=80.0)


def test_two_blocks_all_but_one_are_one_tall_block() -> None:
    """The same metal, pressed together as if soldered, the power by volume: to what one more line of the mesh makes of it."""
    tall = Arrangement(block=Block(height=19.5 * MM, sensor_height=5.75 * MM))
    whole = find_ceilings(problem_for(tall, level=1.0, rating=80.0))
    two = shared(TWO, 8.0 / 19.5, level=1.0)
    split = find_ceilings(replace(two, contacts=Contacts(block_face=1e9)))
    assert split.flow == pytest.approx(whole.flow, rel=1e-6)
    assert split.field is not None and whole.field is not None
    assert split.field.power == pytest.approx(whole.field.power, rel=1e-6)


@EACH
def test_the_balance_closes_and_the_budget_is_whole(kind: str) -> None:
    field = balanced(shared(KINDS[kind]))
    # its sides and its upper face lose heat; what the first leaves bare of it or it of the first too
    assert "second block" in field.part_extremes


@EACH
def test_true_areas_are_those_of_boxes(kind: str) -> None:
    a = KINDS[kind]
    section = build_section(a, 0.0)
    true = {f.name: f.area_ratio * modelled_area(section, f.name) for f in section.exposed}
    boxes = (a.block, a.second_block)
    assert a.second_block is not None
    if a.wrap is not None:
        t = a.wrap.thickness
        upper, lower = (2 * (b.width + b.depth + 4 * t) for b in (a.second_block, a.block))
        assert true["wrap side"] == pytest.approx(
            upper * a.second_block.height + lower * (a.block.height + t), rel=1e-12
        )
        return
    for name, box in zip(("block", "second block"), boxes, strict=True):
        assert box is not None
        assert true[f"{name} side"] == pytest.approx(2 * (box.width + box.depth) * box.height, rel=1e-12)
    bare = a.block.width * a.block.depth - a.second_block.width * a.second_block.depth
    assert true.get("block top", 0.0) == pytest.approx(max(bare, 0.0), rel=1e-9)
    assert true.get("second block bottom", 0.0) == pytest.approx(max(-bare, 0.0), rel=1e-9)


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_the_power_goes_where_it_is_told(share: float) -> None:
    problem = shared(TWO, share)
    space = system_of(problem).space
    assert heater_load(problem, space).sum() == pytest.approx(1.0, rel=1e-12)
    upper = space.points[1] > TWO.blocks[0].top + 1e-9
    assert heater_load(problem, space)[upper].sum() <= share + 1e-12
    (_, first), (cells, second) = heater_rings(problem, space)
    assert (first, second) == (1.0 - share, share)
    assert set(cells) <= set(space.cells_of("second block"))


def test_the_block_with_the_heater_is_the_hotter_one() -> None:
    fields = [find_ceilings(shared(TWO, share)).field for share in (0.0, 1.0)]
    means = [[sum(f.part_extremes[part]) for part in ("block", "second block")] for f in fields if f is not None]
    assert means[0][0] > means[0][1] and means[1][0] < means[1][1]


def test_the_melt_zone_grows_by_the_second_block() -> None:
    one, two = (find_ceilings(shared(a)).field for a in (Arrangement(), TWO))
    assert one is not None and two is not None
    assert two.melt_zone[1] - one.melt_zone[1] == pytest.approx(UPPER.height, abs=0.2 * MM)
    assert two.flow / one.flow > 1.4


@pytest.mark.parametrize(
    "key",
    ["second_block.width", "second_block.height", "second_block.power_share", "contacts.block_face",
     "second_block.conductivity*", "block.height", "heater.ring_radius"],
)  # fmt: skip
def test_derivatives_are_those_of_differences(key: str) -> None:
    problem = shared(KINDS["smaller above"])
    found = find_ceilings(problem)
    (lever,) = (lever for lever in levers_of(system_of(problem)) if lever.key == key)
    step, subdivision = 2e-3 * lever.value, system_of(problem).space.section.subdivision
    ends = [
        find_ceilings(replace(lever.at(lever.value + s), subdivision=subdivision)).flow or 0.0 for s in (-step, step)
    ]
    assert slope_by(adjoint_of(found), lever) == pytest.approx((ends[1] - ends[0]) / (2.0 * step), rel=2e-2)


def test_stuck_on_both_blocks_are_judged() -> None:
    problem = shared(TWO)
    stuck = stuck_on(system_of(problem))
    assert set(materials_by_part(problem)) <= set(stuck.hottest)
    assert stuck.hottest["second block"] > 600.0


def test_faces_and_share_can_be_named_in_a_case(tmp_path: Path) -> None:
    path = tmp_path / "two.toml"
    path.write_text(
        'extends = "short-block"\n[second_block]\npower_share = 0.25\nheight = "8 mm"\n[surroundings]\n'
        'films = { second_block = "9 W/m^2/K" }\nemissivities = { second_block = 0.5 }\n',
        encoding="utf-8",
    )
    problem = problem_of(load_case(path))
    assert problem.operation.second_share == 0.25
    assert set(problem.surroundings.films) == {f"second block {side}" for side in ("side", "bottom", "top")}
    assert problem.surroundings.emissivities == {"second block": 0.5}
    assert problem_of(load_case(path, {"second_block": False})).operation.second_share == 0.0


IMPOSSIBLE: dict[str, tuple[str, str, Callable[[], object]]] = {
    "no height": ("second_block.height", "a length", lambda: SecondBlock(height=0.0)),
    "ring outside": ("second_block.width", "heater ring", lambda: replace(TWO, second_block=SecondBlock(12 * MM, 10 * MM))),
    "nozzle through both": (
        "nozzle.exposed", "19.5 mm", lambda: replace(TWO, nozzle=replace(TWO.nozzle, length=24.4 * MM)),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_what_cannot_be_built_is_told_by_key(name: str) -> None:
    refused(*IMPOSSIBLE[name])


def test_a_share_beyond_the_whole_is_told_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "two.toml"
    path.write_text('extends = "short-block"\n[second_block]\npower_share = 1.5\n', encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        load_case(path)
    assert (caught.value.key, caught.value.line) == ("second_block.power_share", 3)
