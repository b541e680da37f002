"""How long a sweep of a thousand ceilings takes as a command, on two cores. Figures and targets only."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from processes import measured

SWEEP = """
case = "short-block"

[vary]
"mesh.level" = [{level}]
"heater.setpoint" = {{ from = "180 degC", to = "258 degC", steps = 40 }}
"contacts.bore_melt" = {{ from = "4000 W/m^2/K", to = "40000 W/m^2/K", steps = 25, scale = "log" }}
"""
WORKERS = 2


@pytest.mark.benchmark(group="a thousand ceilings")
@pytest.mark.parametrize("level", [1, 0.25])
def test_sweep_of_a_thousand_ceilings(benchmark: Any, tmp_path: Path, level: float) -> None:
    file, out = tmp_path / "thousand.toml", tmp_path / "thousand.sqlite"
    file.write_text(SWEEP.format(level=level), encoding="utf-8")
    command = ["-m", "meltzone.cases.commands.cli", "sweep", str(file), "--out", str(out), "--workers", str(WORKERS)]
    run = benchmark.pedantic(lambda: measured(command), rounds=1)
    with closing(sqlite3.connect(out)) as connection:
        found, factors, seconds = connection.execute(
            "SELECT count(*), sum(factorisations), sum(seconds) FROM points WHERE status = 'found'"
        ).fetchone()
    benchmark.extra_info |= {
        "target [s]": 180.0,
        "processor [s]": run.processor,
        "workers": WORKERS,
        "ceilings": found,
        "factorisations a ceiling": factors / found,
        "seconds a ceiling": seconds / found,
    }
    assert run.code == 0
    assert found == 1000
