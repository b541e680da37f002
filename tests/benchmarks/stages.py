"""One solve taken apart: mesh, arrays, assembly, factors, back-solve, each in seconds of processor time.

`python stages.py LEVEL` prints one solve as JSON, `python stages.py LEVEL REPEATS` the best of many assemblies and factors.
"""

from __future__ import annotations

import json
import resource
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

import numpy as np

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.fem.discretise import discretise
from meltzone.fem.guess import first_guess
from meltzone.fem.linearise import Linearisation
from meltzone.fem.problem import Problem
from meltzone.fem.sparse import factorised
from meltzone.geometry.mesh import build_section

T = TypeVar("T")
CASE = "short-block"
FLOW = 10e-9  # [m3/s]
STAGES = ("mesh", "arrays", "pattern", "assembly", "factors", "back-solve")


def default_problem(level: float = 1.0) -> Problem:
    """The default case at mesh `level`, nothing of it computed yet."""
    return replace(problem_of(load_case(CASE)), level=level)


def staged(level: float) -> dict[str, float]:
    """Processor seconds of every stage, number of unknowns and of entries, and peak memory [MiB] of this process so far."""
    seconds: dict[str, float] = {}

    def timed(stage: str, work: Callable[[], T]) -> T:
        begun = time.process_time()
        result = work()
        seconds[stage] = time.process_time() - begun
        return result

    problem = default_problem(level)
    timed("mesh", lambda: build_section(problem.arrangement, level))
    system = timed("arrays", lambda: discretise(problem))
    seconds["arrays"] -= seconds["mesh"]  # the system builds its own mesh once more
    timed("pattern", lambda: system.pattern)
    start = first_guess(system, FLOW)

    def assembled() -> tuple[Linearisation, object]:
        here = Linearisation.at(system, start.temperature, start.flow, start.power)
        return here, here.tangent()

    here, tangent = timed("assembly", assembled)
    factors = timed("factors", lambda: factorised(tangent))
    right = np.column_stack([here.free_residual, here.by_flow, system.source])
    timed("back-solve", lambda: factors.solve(right))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    counts = {"unknowns": system.space.size, "entries": tangent.nnz, "factor entries": factors.nnz}
    return seconds | counts | {"total": sum(seconds.values()), "peak": peak}


class Repeated:
    """The default case with everything in place that a Newton iteration sets up once."""

    def __init__(self, level: float) -> None:
        self.system = discretise(default_problem(level))
        self.start = first_guess(self.system, FLOW)
        assert self.system.pattern.size == self.system.space.size

    def assembled_and_factorised(self) -> tuple[float, float]:
        """Seconds of one assembly of residual and tangent, and of one factorisation."""
        begun = time.perf_counter()
        tangent = Linearisation.at(self.system, self.start.temperature, self.start.flow, self.start.power).tangent()
        between = time.perf_counter()
        factorised(tangent)
        return between - begun, time.perf_counter() - between


def best_of(level: float, repeats: int) -> dict[str, float]:
    """Least seconds of assembly and of factors."""
    case = Repeated(level)
    assembly, factors = (
        min(column) for column in zip(*(case.assembled_and_factorised() for _ in range(repeats)), strict=True)
    )
    return {"unknowns": case.system.space.size, "assembly": assembly, "factors": factors}


if __name__ == "__main__":
    asked, *times = sys.argv[1:]
    print(json.dumps(best_of(float(asked), int(times[0])) if times else staged(float(asked))))
