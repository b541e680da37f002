"""Sweeps with real processes: the numbers of single ceilings, failures kept, killed and resumed, refused, exported, drawn."""

from __future__ import annotations

import csv
import json
import os
import pickle
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path
from typing import Any

import psutil
import pytest
from outputs import assert_drawn
from sweeps import FOUR, written
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.outputs.figures import save
from meltzone.cases.outputs.sweep_figure import sweep_figure
from meltzone.cases.studies.completing import result_of
from meltzone.cases.studies.run import ceiling, sought
from meltzone.cases.studies.sweep import pool
from meltzone.cases.studies.sweep.means import Mean, means_of
from meltzone.cases.studies.sweep.plan import Base
from meltzone.cases.studies.sweep.read import load_sweep
from meltzone.cases.studies.sweep.run import Progress, Swept, run_sweep
from meltzone.cases.studies.sweep.store import opened, rows_of
from meltzone.cases.studies.sweep.work import Outcome, outcome_of
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.search_mesh import for_search

MIXED = """
"heater.setpoint" = ["150 degC", "215 degC"]
"heater.rating" = ["9 W", "40 W"]
"nozzle.bore" = ["2 mm", "5.9 mm"]
"""
PATIENCE = 60.0  # seconds; never waited for in full
posix = pytest.mark.skipif(os.name != "posix", reason="signals and process groups of POSIX")


@pytest.fixture(scope="module")
def mixed(tmp_path_factory: pytest.TempPathFactory) -> Swept:
    """A sweep with every outcome a point can have on its own."""
    folder = tmp_path_factory.mktemp("mixed")
    return run_sweep(written(folder, MIXED), folder / "mixed.sqlite", workers=2)


def test_points_have_the_numbers_of_single_ceilings(mixed: Swept) -> None:
    (row,) = mixed.found
    overrides = {"mesh.level": 0.25, "heater.setpoint": "215 degC"}
    own = sought("short-block", overrides)
    assert row["flow_mm3_per_s"] == pytest.approx(own.flow_ceiling, rel=1e-3)
    assert mixed.mesh_error == pytest.approx(row["flow_mm3_per_s"] / own.flow_ceiling - 1.0, abs=1e-9)
    case = load_case("short-block", overrides)
    alone = result_of(case, find_ceilings(for_search(problem_of(case))))
    assert row["flow_mm3_per_s"] == pytest.approx(alone.flow_ceiling, rel=1e-9)
    assert row["heater_power_W"] == pytest.approx(alone.power, rel=1e-9)
    assert row["temperature_core_degC"] == pytest.approx(alone.core, rel=1e-9)
    assert (row["governs"], row["factorisations"]) == (alone.governs, alone.factorisations)
    assert row["seconds"] > 0.0


def test_points_without_a_ceiling_keep_their_reason_and_stop_nothing(mixed: Swept) -> None:
    assert mixed.counts["waiting"] == 0 and len(mixed.rows) == 8
    cold = [row for row in mixed.rows if row["heater.setpoint [degC]"] == 150.0 and row["nozzle.bore [mm]"] == 2.0]
    assert [row["status"] for row in cold] == ["no ceiling"] * 2
    assert "does not exceed the polymer's flow temperature" in cold[1]["reason"]
    wide = [row for row in mixed.rows if row["nozzle.bore [mm]"] == 5.9]
    assert {row["status"] for row in wide} == {"refused"} and all("nozzle." in row["reason"] for row in wide)
    weak = next(row for row in mixed.rows if row["heater.rating [W]"] == 9.0 and row["heater.setpoint [degC]"] == 215.0)
    assert weak["status"] == "no ceiling" and "heater is too weak" in weak["reason"]
    assert weak["flow_mm3_per_s"] is None and weak["governs"] == "none"


def test_a_fault_of_the_program_is_that_point_s_own(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_: Any) -> Any:
        raise ZeroDivisionError("made up for this test")

    monkeypatch.setattr("meltzone.cases.studies.sweep.work.ceilings_for_search", broken)
    sweep = load_sweep("setpoint-and-nozzle")
    outcome = outcome_of(sweep.base, sweep.overrides(sweep.points()[0]))
    assert (outcome.status, outcome.reason) == ("failed", "ZeroDivisionError: made up for this test")


def test_a_sweep_that_asks_for_bands_has_those_of_single_ceilings(tmp_path: Path) -> None:
    """To what the meshes differ by."""
    vary = '"heater.setpoint" = ["210 degC"]\n'
    plain = run_sweep(written(tmp_path, vary), tmp_path / "plain.sqlite", workers=1)
    path = written(tmp_path, vary)
    path.write_text(f"band = true\n{path.read_text(encoding='utf-8')}", encoding="utf-8")
    asked = run_sweep(path, tmp_path / "banded.sqlite", workers=1)
    (row,), (banded,) = plain.rows, asked.rows
    alone = ceiling("short-block", {"mesh.level": 0.25}).band
    assert alone is not None and row["flow_low_mm3_per_s"] is None
    assert banded["flow_mm3_per_s"] == row["flow_mm3_per_s"]
    assert (banded["flow_low_mm3_per_s"], banded["flow_high_mm3_per_s"]) == pytest.approx(alone.bounds, rel=5e-3)
    assert plain.sweep.meaning != asked.sweep.meaning


def test_the_file_says_where_it_comes_from(mixed: Swept) -> None:
    with closing(sqlite3.connect(mixed.path)) as file:
        told = dict(file.execute("SELECT key, value FROM metadata").fetchall())
    assert told["sweep"] == mixed.sweep.text
    assert len(told["sha256"]) == 64
    assert told["version of meltzone"] and told["version of scipy"] and told["version of python"]
    assert json.loads(mixed.rows[0]["overrides"])["heater.setpoint"] == "150 degC"
    assert not list(mixed.path.parent.glob("*.lock")) and not list(mixed.path.parent.glob("*-wal"))


def test_the_log_is_written_ahead(mixed: Swept) -> None:
    with closing(sqlite3.connect(mixed.path)) as connection:
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_a_finished_sweep_is_not_solved_again(mixed: Swept) -> None:
    told: list[Progress] = []
    again = run_sweep(mixed.sweep, mixed.path, report=told.append)
    assert again.rows == mixed.rows
    assert told == [Progress(8, 8, 8, 8 - len(mixed.found))]


@pytest.mark.parametrize(
    ("change", "named"),
    [
        (lambda text: text.replace("215 degC", "216 degC"), "vary.heater.setpoint"),
        (lambda text: text.replace('case = "short-block"', 'case = "long-block"'), "case.block.height"),
        (lambda text: f"{text}\n[sample]\npoints = 3", "sample.points"),
    ],
)
def test_another_sweep_or_case_is_refused(mixed: Swept, tmp_path: Path, change: Any, named: str) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(change(mixed.sweep.text), encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        run_sweep(path, mixed.path)
    assert named in caught.value.hint and "--to" in caught.value.hint
    assert rows_of(mixed.path) == list(mixed.rows)


def test_another_version_is_refused(mixed: Swept) -> None:
    with pytest.raises(CaseError, match="begun by version"), opened(mixed.path, mixed.sweep, {"meltzone": "99"}):
        pass


@pytest.mark.parametrize("content", [b"not a database, but long enough to be one" * 20, None])
def test_other_files_are_left_alone(tmp_path: Path, content: bytes | None) -> None:
    path = tmp_path / "other.sqlite"
    if content is None:
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("CREATE TABLE mine (number)")
    else:
        path.write_bytes(content)
    before = path.read_bytes()
    with pytest.raises(CaseError, match=r"other\.sqlite"):
        run_sweep(written(tmp_path), path)
    if content is not None:
        assert path.read_bytes() == before


def test_two_writers_do_not_meet(mixed: Swept) -> None:
    with opened(mixed.path, mixed.sweep, _versions()), pytest.raises(CaseError, match="no other sweep is writing"):
        run_sweep(mixed.sweep, mixed.path)
    assert len(rows_of(mixed.path)) == 8


def _versions() -> dict[str, str]:
    from meltzone.cases.studies.versions import versions

    return versions()


@pytest.mark.parametrize("workers", [0, 100_000])
def test_a_useless_number_of_workers_is_refused(tmp_path: Path, workers: int) -> None:
    with pytest.raises(CaseError, match="--workers"):
        run_sweep(written(tmp_path), tmp_path / "x.sqlite", workers=workers)
    assert not (tmp_path / "x.sqlite").exists()


def _begun(folder: Path) -> tuple[subprocess.Popen[bytes], Path]:
    """A sweep of many points as a command in a process group of its own, once a few points are done."""
    vary = '"heater.setpoint" = { from = "200 degC", to = "220 degC", steps = 12 }'
    file, out = written(folder, vary), folder / "killed.sqlite"
    command = [
        sys.executable,
        "-m",
        "meltzone.cases.commands.cli",
        "sweep",
        str(file),
        "--out",
        str(out),
        "--workers",
        "2",
    ]
    child = subprocess.Popen(command, start_new_session=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    limit = time.monotonic() + PATIENCE
    while time.monotonic() < limit and child.poll() is None:
        if out.exists() and len(_done(out)) >= 3:
            return child, out
        time.sleep(0.02)
    raise AssertionError(f"ended or stuck before three points were done: {child.poll()}")


def _done(path: Path) -> list[dict[str, Any]]:
    try:
        return [row for row in rows_of(path) if row["status"] != "waiting"]
    except CaseError:  # not filled yet
        return []


def _ends(group: int) -> bool:
    """Whether every process of the group ends within the time given; zombies have."""
    limit = time.monotonic() + PATIENCE
    while time.monotonic() < limit:
        if not any(_is_of(process, group) for process in psutil.process_iter()):
            return True
        time.sleep(0.05)
    return False


def _is_of(process: psutil.Process, group: int) -> bool:
    try:
        return os.getpgid(process.pid) == group and process.status() != psutil.STATUS_ZOMBIE
    except (ProcessLookupError, psutil.NoSuchProcess):
        return False


@posix
def test_killed_in_the_middle_its_workers_end_and_it_goes_on_with_nothing_lost_or_repeated(tmp_path: Path) -> None:
    child, out = _begun(tmp_path)
    os.kill(child.pid, signal.SIGKILL)
    assert child.wait() == -signal.SIGKILL
    child.stderr.close()  # type: ignore[union-attr]
    assert _ends(child.pid)
    before = _done(out)
    assert 3 <= len(before) < 12, "killed in the middle"
    told: list[Progress] = []
    swept = run_sweep(tmp_path / "mine.toml", out, workers=1, report=told.append)
    assert [row["number"] for row in swept.rows] == list(range(1, 13))
    assert swept.counts == {"found": 12}
    kept = {row["number"]: row for row in swept.rows}
    assert all(kept[row["number"]] == row for row in before), "the seconds too: none was solved a second time"
    assert told[0].before == len(before) and len(told) == 1 + 12 - len(before)


@posix
def test_interrupted_it_says_so_and_leaves_no_process_behind(tmp_path: Path) -> None:
    child, out = _begun(tmp_path)
    os.killpg(child.pid, signal.SIGINT)
    _, told = child.communicate(timeout=PATIENCE)
    assert child.returncode == 130
    assert told.decode().count("\n") == 1 and "the same command goes on" in told.decode()
    assert 3 <= len(_done(out)) < 12
    assert _ends(child.pid)


def test_workers_let_go_of_what_they_have_solved() -> None:
    sweep = load_sweep("setpoint-and-nozzle")
    overrides = {"mesh.level": 0.25, "heater.setpoint": "210 degC"}
    code = (
        "import gc, pickle, sys\nfrom meltzone.cases.studies.sweep import pool\nfrom meltzone.fem.problem import Problem\n"
        "base, overrides = pickle.load(sys.stdin.buffer)\npool._base[:] = [base]\ngc.disable()\n"
        "assert [pool._find(overrides).status for _ in range(2)] == ['found'] * 2\n"
        "print(sum(isinstance(each, Problem) for each in gc.get_objects()))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], check=False, input=pickle.dumps((sweep.base, overrides)), capture_output=True
    )
    assert (done.stdout, done.stderr) == (b"0\n", b"")


class Deadly(Base):
    """A base case that ends the process that builds one of its points, as running out of memory would."""

    def case(self, overrides: Any) -> Any:
        if overrides["nozzle.material"] == "copper":
            os._exit(9)
        return super().case(overrides)


def test_a_point_that_ends_its_process_is_recorded_and_the_others_go_on() -> None:
    sweep = load_sweep("setpoint-and-nozzle")
    points = [
        (number, {"nozzle.material": metal, "mesh.level": 0.25}) for number, metal in enumerate(["copper", "brass"])
    ]
    base = Deadly(sweep.base.name, sweep.base.file, sweep.base.layers)
    outcomes = dict(pool.outcomes(base, points, 1))
    assert {number: outcome.status for number, outcome in outcomes.items()} == {
        0: "failed", 1: "found",
    }  # fmt: skip
    assert "memory" in outcomes[0].reason


def test_the_command_sums_up_exports_and_draws(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    written(tmp_path)
    words = [
        "sweep",
        "mine.toml",
        "--csv",
        "mine.csv",
        "--plot",
        "mine.png",
        "--over",
        "heater.setpoint",
        "--workers",
        "1",
    ]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0, done.output
    assert done.stderr == "", "quiet where nobody looks at a terminal"
    rows = rows_of("meltzone-out/mine.sqlite")
    best = max(row["flow_mm3_per_s"] for row in rows)
    assert "4 points: 4 found" in done.stdout and f"{best:.2f}" in done.stdout
    assert "Cautions" in done.stdout and "qualified people" in done.stdout
    with Path("mine.csv").open(encoding="utf-8", newline="") as file:
        exported = list(csv.DictReader(file))
    assert [float(row["flow_mm3_per_s"]) for row in exported] == [row["flow_mm3_per_s"] for row in rows]
    assert [row["nozzle.material"] for row in exported] == ["brass", "copper"] * 2
    assert_drawn(Path("mine.png"), share=0.01)


@pytest.mark.parametrize(
    "words",
    [
        ["--plot", "x.bmp"],
        ["--plot", "x.png", "--over", "nozzle.matrial"],
        ["--over", "nozzle.material"],
        ["--csv", "."],
        ["--out", "."],
        ["--workers", "0"],
        ["--scheduler", "tcp://127.0.0.1:9", "--out", "x.sqlite"],
    ],
)
def test_bad_options_are_refused_before_any_solve(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("meltzone.cases.studies.sweep.cluster.PATIENCE", 0.5)
    written(tmp_path)
    done = CliRunner().invoke(app, ["sweep", "mine.toml", *words])
    assert done.exit_code == 2, done.output
    assert "hint:" in done.stderr and "Traceback" not in done.stderr


PICTURES = {
    "line": (FOUR, ["heater.setpoint"]),
    "bars": (FOUR, ["nozzle.material"]),
    "lines": (FOUR, []),
    "map": ('"heater.setpoint" = ["200 degC", "210 degC", "220 degC"]\n"contacts.thread" = { from = "1000 W/m^2/K", '
            'to = "16000 W/m^2/K", steps = 5, scale = "log" }', []),
    "cells": ('"nozzle.material" = ["brass", "copper"]\nsurroundings.fan = [false, true]', []),
    "dots": ('"heater.setpoint" = { from = "150 degC", to = "240 degC" }\n"contacts.thread" = { from = "1000 W/m^2/K", '
             'to = "16000 W/m^2/K", scale = "log" }\n[sample]\npoints = 9', []),
}  # fmt: skip


def _made_up(number: int) -> Outcome:
    """Invented for the pictures: every third point is governed by power, every fourth has no ceiling."""
    if number % 4 == 0:
        return Outcome("no ceiling", "invented", {"governs": "none"})
    governs = "power" if number % 3 == 0 else "melt"
    return Outcome("found", "", {"flow_mm3_per_s": 10.0 + number, "governs": governs})


@pytest.mark.parametrize("kind", PICTURES)
def test_pictures(tmp_path: Path, kind: str) -> None:
    vary, over = PICTURES[kind]
    sweep, path = load_sweep(written(tmp_path, vary)), tmp_path / "x.sqlite"
    with opened(path, sweep, _versions()) as store:
        for number, _ in store.waiting():
            store.keep(number, _made_up(number))
    figure = sweep_figure(Swept(sweep, path, tuple(rows_of(path))), over)
    save(figure, tmp_path / "x.png")
    assert_drawn(tmp_path / "x.png", share=0.01)


def test_means_count_no_flow_as_nothing(tmp_path: Path) -> None:
    sweep, path = load_sweep(written(tmp_path)), tmp_path / "x.sqlite"
    with opened(path, sweep, _versions()) as store:
        for number, _ in store.waiting():
            store.keep(number, _made_up(number))
    means = means_of(Swept(sweep, path, tuple(rows_of(path))), [sweep.axes[1]])
    assert means == {(200.0,): Mean(11.5, 11.0, 12.0, "melt"), (220.0,): Mean(6.5, 0.0, 13.0, "mixed")}


def test_no_picture_without_a_ceiling(tmp_path: Path) -> None:
    vary = '"heater.setpoint" = ["140 degC", "150 degC"]'
    swept = run_sweep(written(tmp_path, vary), tmp_path / "x.sqlite", workers=1)
    assert swept.counts == {"no ceiling": 2}
    with pytest.raises(CaseError, match="at least one point with a ceiling"):
        sweep_figure(swept)
    done = CliRunner().invoke(app, ["sweep", str(tmp_path / "mine.toml"), "--out", str(tmp_path / "x.sqlite")])
    assert done.exit_code == 1 and "no ceiling" in done.stdout
