"""How one solve grows with the mesh; the large sizes are left to `python tests/benchmarks/performance_report.py`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from processes import measured

STAGES = Path(__file__).with_name("stages.py")


@pytest.mark.benchmark(group="one assembly, factorisation and back-solve")
@pytest.mark.parametrize("level", [0, 1, 2, 3, 4])
def test_one_solve(benchmark: Any, level: int) -> None:
    run = benchmark.pedantic(lambda: measured([str(STAGES), str(level)]), rounds=1)
    stages = json.loads(run.output)
    benchmark.extra_info |= {key: stages[key] for key in ("unknowns", "total", "peak")}
    assert stages["unknowns"] > 0
