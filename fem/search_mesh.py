"""The mesh that searches work on: as coarse as an error of a tenth of a per cent in a ceiling lets it be."""

from __future__ import annotations

from dataclasses import replace

from meltzone.fem.ceiling import Ceilings, find_ceilings
from meltzone.fem.newton import State
from meltzone.fem.problem import Problem
from meltzone.fem.progress import Reporter

SEARCH_ERROR = 1e-3  # share by which a ceiling on the mesh of searches lies off that on the case's own, at most

# Ceilings of the shipped cases and of every polymer differ from those at level 1 by at most 0.04 %, in a quarter of the time.
# What the mesh knows nothing of takes a finer one: the end of a liner in the block (0.06 %), drawing at the orifice where a
# grip gives a force ceiling (0.07 %). Both together go with the case's own.
SEARCH_LEVEL, FINER_LEVEL, OWN_LEVEL = -1.5, -0.5, 1.0


def ceilings_for_search(problem: Problem, start: State | None = None, report: Reporter | None = None) -> Ceilings:
    """The ceilings of `problem` on the mesh of searches, within `SEARCH_ERROR` of its own mesh's, in a quarter of the time.

    `start` is a state on the same mesh, that of a problem that differs little. Exact derivatives by any levers come from one
    more factorisation: `meltzone.fem.adjoint.adjoint_of`, then `meltzone.fem.explain.slope_by` for each.
    """
    return find_ceilings(for_search(problem), start=start, report=report)


def for_search(problem: Problem) -> Problem:
    """`problem` on the mesh of searches: as far below its own level as that is below 1, and no coarser than that.

    A case whose own mesh is coarser still keeps it, and so does one with a subdivision of its own.
    """
    least = (SEARCH_LEVEL, FINER_LEVEL, OWN_LEVEL)[_liner_ends_in_block(problem) + (problem.operation.grip is not None)]
    return replace(problem, level=min(problem.level, max(problem.level + least - OWN_LEVEL, least)))


def _liner_ends_in_block(problem: Problem) -> bool:
    arrangement = problem.arrangement
    return arrangement.liner is not None and arrangement.liner_end < arrangement.block_top
