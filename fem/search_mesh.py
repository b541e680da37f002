"""The mesh that searches work on: as coarse as an error of a tenth of a per cent in a ceiling lets it be."""

from __future__ import annotations

from dataclasses import replace

from meltzone.fem.problem import Problem

# Ceilings of the shipped cases and of every polymer differ from those at level 1 by at most 0.09 %, in a quarter of the time.
# Where the mesh knows nothing of the end of a liner in the block, or where the slow flow at the orifice gives a force ceiling,
# that takes a finer one: by at most 0.06 %.
SEARCH_LEVEL, FINER_LEVEL = -1.5, -0.5


def for_search(problem: Problem) -> Problem:
    """`problem` on the mesh of searches: as far below its own level as `SEARCH_LEVEL` is below 1, and no coarser than that.

    A case whose own mesh is coarser still keeps it, and so does one with a subdivision of its own.
    """
    least = FINER_LEVEL if _liner_ends_in_block(problem) or _is_pushed(problem) else SEARCH_LEVEL
    return replace(problem, level=min(problem.level, max(problem.level + least - 1.0, least)))


def _liner_ends_in_block(problem: Problem) -> bool:
    arrangement = problem.arrangement
    return arrangement.liner is not None and arrangement.liner_end < arrangement.block_top


def _is_pushed(problem: Problem) -> bool:
    return problem.operation.grip is not None and problem.materials.polymer.viscosity is not None
