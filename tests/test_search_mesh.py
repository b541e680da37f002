"""The mesh of searches: within a tenth of a per cent of the case's own, never coarser than what a person asks for."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from meltzone.cases import examples
from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.search_mesh import FINER_LEVEL, SEARCH_LEVEL, for_search

NAMES = sorted(file.stem for file in Path(examples.__path__[0]).glob("*.toml"))


@pytest.mark.parametrize("name", NAMES)
def test_shipped_ceilings_move_by_less_than_a_tenth_of_a_per_cent(name: str) -> None:
    problem = problem_of(load_case(name))
    own, searched = find_ceilings(problem), find_ceilings(for_search(problem))
    assert searched.governs == own.governs
    assert searched.flow == pytest.approx(own.flow, rel=1e-3)
    assert searched.system.space.size < 0.5 * own.system.space.size


def test_a_level_of_the_case_counts_relative_to_the_everyday_one() -> None:
    problem = problem_of(load_case("short-block"))
    levels = {level: for_search(replace(problem, level=level)).level for level in (3.0, 1.0, 0.25, -2.0)}
    assert levels == {3.0: SEARCH_LEVEL + 2.0, 1.0: SEARCH_LEVEL, 0.25: SEARCH_LEVEL, -2.0: -2.0}


@pytest.mark.parametrize(("name", "key"), [("short-block-lined", None), ("short-block", "feeder.grip")])
def test_a_liners_end_and_a_force_ceiling_take_a_finer_one(name: str, key: str | None) -> None:
    problem = problem_of(load_case(name, {key: "40 N"} if key else None))
    assert for_search(problem).level == FINER_LEVEL
