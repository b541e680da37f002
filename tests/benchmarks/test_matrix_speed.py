"""Assembly and one factorisation: the default case against ngsolve on advection-diffusion with as many unknowns.

ngsolve: Schoeberl, C++11 Implementation of Finite Elements in NGSolve, ASC Report 30/2014, TU Wien. Its problem is linear and
has one material; ours has temperature-dependent properties, contacts and surface losses in the same assembly.
"""

from __future__ import annotations

from typing import Any

import pytest
from stages import Repeated


@pytest.mark.benchmark(group="assembly and factors, 10,000 unknowns")
def test_default_case(benchmark: Any) -> None:
    case = Repeated(1.0)
    benchmark.pedantic(case.assembled_and_factorised, rounds=15, warmup_rounds=2)
    benchmark.extra_info["unknowns"] = case.system.space.size


@pytest.mark.benchmark(group="assembly and factors, 10,000 unknowns")
@pytest.mark.parametrize("threads", [1, 2])
@pytest.mark.parametrize(("squares", "condensed"), [(True, False), (True, True), (False, False)])
def test_ngsolve(benchmark: Any, squares: bool, condensed: bool, threads: int) -> None:
    elements = pytest.importorskip(
        "reference_elements", reason="needs ngsolve: install the extra 'bench'", exc_type=ImportError
    )
    ng = elements.ng
    reference = elements.Reference(Repeated(1.0).system.space.size, squares, condensed)
    ng.SetNumThreads(threads)
    with ng.TaskManager():
        benchmark.pedantic(reference.assembled_and_factorised, rounds=15, warmup_rounds=2)
    benchmark.extra_info["unknowns"] = reference.space.ndof
