"""One story from the plan to the machine and back: program, a machine with invented masses, reduce, validate, trial."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from generate.demo_data import TRAY, slipped
from machine import carry_out, weighed
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.workbook import workbook_rows, write_workbook

TUTORIAL = Path(__file__).resolve().parents[1] / "docs" / "tutorial.md"
QUICK = ["--set", "mesh.level=0.25"]


def _delivered(commanded: float) -> float:
    """The invented law of the tutorial's printer [mm3/s]; nobody has measured this."""
    return float(slipped(np.array(commanded), TRAY))


def _run(*words: str) -> str:
    done = CliRunner().invoke(app, list(words))
    assert done.exit_code == 0, done.output
    return " ".join(done.output.split())


def _filled(masses: list[float]) -> None:
    """The sheet with the masses of the machine's samples written into it, as a person does it in a spreadsheet."""
    rows = [cells for _, cells in workbook_rows(Path("sheet.xlsx"), "sheet.xlsx")]
    head = next(place for place, row in enumerate(rows) if row[0] == "order")
    column = rows[head].index("mass [g]")
    for row, mass in zip(rows[head + 1 :], masses, strict=False):
        row[column] = f"{mass:.2f}"
    write_workbook(Path("sheet.xlsx"), rows)


def test_from_the_plan_to_the_machine_and_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (case,) = re.findall(r"^```toml\n(# tray\.toml\n.*?)^```$", TUTORIAL.read_text(encoding="utf-8").partition("## 6.")[0],
                         flags=re.MULTILINE | re.DOTALL)  # fmt: skip
    Path("tray.toml").write_text(case, encoding="utf-8")
    said = _run("plan", "tray.toml", "--out", "sheet.xlsx", "--program", "bench.gcode", *QUICK)
    assert "never let it run unattended" in said
    machine = carry_out(Path("bench.gcode").read_text(encoding="utf-8"))
    rng = np.random.default_rng(7)
    masses = [mass * (1.0 + 0.008 * rng.standard_normal()) for mass in weighed(machine, _delivered)]
    assert len(masses) == 30 and machine.fans[0] == 255.0
    _filled(masses)
    said = _run("reduce", "sheet.xlsx", "--out", "bench", "--resamples", "99")
    assert "30 samples at 10 flows, case tray.toml" in said
    reduced = json.loads(Path("bench/reduced.json").read_text(encoding="utf-8"))["series"][0]
    assert reduced["ceiling_mm3_per_s"]["value"] == pytest.approx(TRAY, rel=0.01)
    _run("keep", "sheet.xlsx", "--spool", "grey 3", "--on", "2026-11-25")
    _run("validate", "bench/ceilings.csv", "--calibrate", "tray", "--out", "calibrated", *QUICK)
    words = ["trial", "tray.toml", "--line", "0.3 mm x 0.6 mm", "--bed", "220 mm x 220 mm", *QUICK, "--set"]
    words += ["calibrated/calibrated.toml", "--bench", "bench/ceilings.csv"]
    _run(*words, "--out", "trial")
    printed = carry_out(Path("trial/trial.gcode").read_text(encoding="utf-8"))
    stretches = json.loads(Path("trial/trial.json").read_text(encoding="utf-8"))["stretches"]
    assert len(printed.fed) == len(stretches) + 1
    short = [1.0 - _delivered(each["flow_mm3_per_s"]) / each["flow_mm3_per_s"] for each in stretches]
    failed = next(place for place, each in enumerate(short, start=1) if each > 0.05)
    _run(*words, "--failed", str(failed), "--out", "read-back")
    found = json.loads(Path("read-back/trial.json").read_text(encoding="utf-8"))
    assert found["predicted"] == pytest.approx(TRAY, rel=0.015), "the bench's ceiling, by calibration"
    assert found["printed"]["low_mm3_per_s"] < TRAY < found["printed"]["high_mm3_per_s"] + 0.2
