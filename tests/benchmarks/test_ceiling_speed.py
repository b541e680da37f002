"""How long a ceiling takes, inside a process and as a command; figures and targets only, nothing can fail on time."""

from __future__ import annotations

import statistics
import time
from typing import Any

import pytest
from processes import Finished, measured
from stages import CASE, default_problem

from meltzone.cases.studies.completing import with_band
from meltzone.cases.studies.run import sought
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.discretise import _space_on
from meltzone.fem.explain import explain

COMMAND = ["-m", "meltzone.cases.commands.cli", "ceiling", CASE]


@pytest.mark.benchmark(group="ceiling")
def test_both_ceilings_of_the_default_case(benchmark: Any) -> None:
    found = benchmark.pedantic(find_ceilings, setup=lambda: ((default_problem(),), {}), rounds=7, warmup_rounds=1)
    benchmark.extra_info |= {
        "target [s]": 1.0,
        "factorisations": found.factorisations,
        "target factorisations": 8,
        "unknowns": found.system.space.size,
    }
    assert found.melt is not None


@pytest.mark.benchmark(group="ceiling")
def test_the_band_of_the_default_case(benchmark: Any) -> None:
    result = sought(CASE)
    banded = benchmark.pedantic(with_band, args=(result,), rounds=7, warmup_rounds=1)
    alone, more = (statistics.median(each) for each in zip(*(_processor_times() for _ in range(9)), strict=True))
    benchmark.extra_info |= {
        "target, ceiling with it over ceiling without": 1.6,
        "ceiling with it over ceiling without, processor": 1.0 + more / alone,
    }
    assert banded.band is not None


def _processor_times() -> tuple[float, float]:
    """A ceiling on a mesh made anew, and its band [s]."""
    _space_on.cache_clear()
    begun = time.process_time()
    result = sought(CASE)
    found = time.process_time()
    with_band(result)
    return found - begun, time.process_time() - found


@pytest.mark.benchmark(group="ceiling")
def test_command_from_nothing(benchmark: Any) -> None:
    runs: list[Finished] = []
    benchmark.pedantic(lambda: runs.append(measured(COMMAND)), rounds=5, warmup_rounds=1)
    benchmark.extra_info |= {
        "target [s]": 3.0,
        "processor [s]": min(run.processor for run in runs),
        "peak memory [MiB]": max(run.peak for run in runs),
        "target peak memory [MiB]": 400,
    }
    assert all(run.code == 0 for run in runs)
    assert CASE in runs[0].output


@pytest.mark.benchmark(group="explain")
def test_explain_beside_the_ceiling(benchmark: Any) -> None:
    """Budget and every derivative on top of a ceiling that is there already; the target is for the two together."""
    found = find_ceilings(default_problem())
    explained = benchmark.pedantic(explain, args=(found,), rounds=7, warmup_rounds=1)
    benchmark.extra_info |= {"target, with the ceiling": "1.5 ceilings", "levers": len(explained.effects)}
    assert sum(explained.budget.values()) == pytest.approx(1.0, abs=1e-8)


@pytest.mark.benchmark(group="explain")
def test_explain_command_from_nothing(benchmark: Any) -> None:
    runs: list[Finished] = []
    command = [*COMMAND[:2], "explain", CASE]
    benchmark.pedantic(lambda: runs.append(measured(command)), rounds=5, warmup_rounds=1)
    benchmark.extra_info |= {
        "target": "1.5 times the command `ceiling`",
        "processor [s]": min(r.processor for r in runs),
    }
    assert all(run.code == 0 for run in runs)
