"""The melt ceiling within a tenth of a per cent, here and by ngsolve: what each of them takes, as JSON.

`python equal_accuracy.py THREADS REPEATS [SIZE ORDER]`, the last two where its choice is known. Both solve the default case
with plug flow from nothing but the numbers of the problem.
What each one's own finest mesh gives is the converged ceiling. Of ngsolve's meshes and orders the quickest that stays within
the error is kept. It brackets the ceiling and reads its coefficients as trees of expressions, so that a single state at the
flow of the ceiling and a single factorisation stand beside it.
"""

from __future__ import annotations

import json
import math
import sys
import time
from collections.abc import Callable, Sequence
from contextlib import nullcontext
from dataclasses import replace
from functools import partial
from pathlib import Path

import ngsolve as ng
from scipy.sparse import csc_matrix
from stages import default_problem

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "independent"))
from galerkin import Triangulated

from meltzone.fem.discretise import discretise
from meltzone.fem.field import Field
from meltzone.fem.limits import melt_ceiling
from meltzone.fem.linearise import Linearisation
from meltzone.fem.problem import Problem
from meltzone.fem.search_mesh import SEARCH_ERROR, for_search
from meltzone.fem.sparse import factorised
from meltzone.fem.steady import solve_at_flow

# size at the bore wall [mm] and order, coarse ones first
CHOICES = ((0.3, 3), (0.25, 3), (0.2, 3), (0.1, 2), (0.08, 2), (0.25, 4))
FINEST = (0.06, 3)


def plug(problem: Problem) -> Problem:
    """The problem with its filament moving as a plug, as both can."""
    return replace(problem, operation=replace(problem.operation, profile="plug"))


def least(work: Callable[[], object], repeats: int) -> dict[str, float]:
    """Least seconds on the clock and of processor of `work`."""
    runs = []
    for _ in range(repeats):
        begun, used = time.perf_counter(), time.process_time()
        work()
        runs.append((time.perf_counter() - begun, time.process_time() - used))
    clock, processor = (min(column) for column in zip(*runs, strict=True))
    return {"clock": clock, "processor": processor}


def ours(repeats: int) -> dict[str, object]:
    """The mesh of searches: a ceiling from a fresh problem, and a state at its flow with the arrays made."""
    fine = melt_ceiling(discretise(plug(default_problem(3.0)))).flow
    found = melt_ceiling(discretise(for_search(plug(default_problem()))))
    tangent = _tangent(found)
    return {
        "error": found.flow / fine - 1.0,
        "unknowns": found.system.space.size,
        "ceiling": least(lambda: melt_ceiling(discretise(for_search(plug(default_problem())))), repeats),
        "state": least(lambda: solve_at_flow(found.system, found.flow), repeats),
        "factors": least(lambda: factorised(tangent), repeats),
    }


def _tangent(field: Field) -> csc_matrix:
    return Linearisation.at(field.system, field.temperature, field.flow, field.power).tangent()


def theirs(repeats: int, choices: Sequence[tuple[float, int]]) -> dict[str, object]:
    """The quickest of its meshes and orders that is as close; a single one is not sought again."""
    problem = plug(default_problem())
    near = melt_ceiling(discretise(problem)).flow
    low, high = 0.98 * near, 1.02 * near
    size, order = choices[0]
    if len(choices) > 1:
        fine, _ = Triangulated(problem, *FINEST).melt_ceiling(low, high)
        best = math.inf
        for each in choices:
            made = Triangulated(problem, *each)
            flow, _ = made.melt_ceiling(low, high)
            took = least(partial(made.steady, flow, made.cold_start()), repeats)["processor"]
            if abs(flow / fine - 1.0) <= SEARCH_ERROR and took < best:
                best, (size, order) = took, each
    made = Triangulated(problem, size, order)
    flow, _ = made.melt_ceiling(low, high)
    free = made.space.FreeDofs()
    return {
        "size": size,
        "order": order,
        "unknowns": made.unknowns,
        "ceiling": least(lambda: made.melt_ceiling(low, high), repeats),
        "state": least(lambda: made.steady(flow, made.cold_start()), repeats),
        "factors": least(lambda: made.balance.mat.Inverse(free, inverse="umfpack"), repeats),
    }


def main() -> None:
    """Measure both on so many threads."""
    threads, repeats = map(int, sys.argv[1:3])
    choices = [(float(sys.argv[3]), int(sys.argv[4]))] if len(sys.argv) > 3 else CHOICES
    found: dict[str, object] = {"ours": ours(repeats)}
    ng.SetNumThreads(threads)
    with ng.TaskManager() if threads > 1 else nullcontext():
        found["ngsolve"] = theirs(repeats, choices)
    print(json.dumps(found))


if __name__ == "__main__":
    main()
