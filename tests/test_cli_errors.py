"""What goes wrong on the command line: one message on stderr, an exit code, no traceback, nothing on stdout."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import NoReturn

import pytest
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app

runner = CliRunner()

BAD = [
    (["run", "nothing-here.toml"], "an existing case file"),
    (["ceiling", "short-blokc"], "short-block"),
    (["check", "short-block", "--out", "picture.bmp"], ".png, .svg, .pdf"),
    (["check", "short-block", "--out", "file/picture.png"], "output file/picture.png"),
    (["check", "short-block", "--out", "."], "output ."),
    (["run", "short-block", "--out", "file"], "a name that is still free"),
    (["solve", "short-block", "--flow", "12"], "mm^3/s"),
    (["solve", "short-block", "--flow", "12 mm"], "a volume flow"),
    (["solve", "short-block", "--flow", "-1 mm^3/s"], "above 0"),
    (["ceiling", "short-block", "--set", "heater.setpoint"], "KEY=VALUE"),
    (["ceiling", "short-block", "--set", "heater.setpoint=210"], "a temperature with its unit"),
    (["ceiling", "short-block", "--set", "heater.setpiont=210 degC"], "setpoint"),
    (["ceiling", "short-block", "--set", "nozzle.material=cheese"], "the name of a solid"),
    (["ceiling", "short-block", "--set", "extends=long-block"], "overridden"),
    (["new", "file"], "still free"),
    (["new", "my.toml", "--like", "long-blokc"], "long-block"),
    (["new", "file/my.toml"], "output file/my.toml"),
    (["materials", "alumnium"], "aluminium"),
    (["materials", "pla", "--out", "pla.xyz"], ".png"),
    (["materials", "--out", "pla.png"], "one material"),
]  # fmt: skip


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("file").write_text("in the way")


@pytest.mark.parametrize(("words", "said"), BAD, ids=[" ".join(words) for words, _ in BAD])
def test_bad_input_is_told_once_and_exits_with_two(words: list[str], said: str) -> None:
    done = runner.invoke(app, words)
    assert done.exit_code == 2
    assert said in " ".join(done.stderr.split())
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert os.listdir() == ["file"], "nothing was written"


@pytest.mark.parametrize(
    "words", [["melt", "short-block"], ["run"], ["solve", "short-block"], ["run", "short-block", "--fast"]]
)
def test_usage_errors_exit_with_two(words: list[str]) -> None:
    done = runner.invoke(app, words)
    assert done.exit_code == 2
    assert "Usage" in done.stderr


def test_a_bad_value_in_a_file_names_file_line_and_key() -> None:
    Path("my.toml").write_text('extends = "short-block"\n[heater]\nsetpoint = "210 mm"\n', encoding="utf-8")
    done = runner.invoke(app, ["run", "my.toml"])
    assert done.exit_code == 2
    assert done.stderr.startswith("my.toml, line 3\n")
    assert "heater.setpoint" in done.stderr


def test_marks_of_the_terminal_library_in_a_title_are_plain_text() -> None:
    Path("my.toml").write_text('title = "[red]x[/red] :smile: [/]"\nextends = "short-block"\n[mesh]\nlevel = 0.25\n')
    done = runner.invoke(app, ["check", "my.toml"])
    assert done.exit_code == 0
    assert "[red]x[/red] :smile: [/]" in done.stdout


def test_a_title_full_of_formula_marks_can_be_drawn() -> None:
    Path("my.toml").write_text(
        'title = "$x^{2 costs $5 and _ \\\\frac"\nextends = "short-block"\n[mesh]\nlevel = 0.25\n'
    )
    done = runner.invoke(app, ["solve", "my.toml", "--flow", "8 mm^3/s", "--out", "out"])
    assert done.exit_code == 0, done.output


def test_no_steady_state_exits_with_one(monkeypatch: pytest.MonkeyPatch) -> None:
    from meltzone.cases.studies import run as verbs
    from meltzone.fem.faults import NoConvergence

    def lost(*_: object) -> NoReturn:
        raise NoConvergence("no steady state after 20 steps")

    monkeypatch.setattr(verbs, "solve_at_flow", lost)
    done = runner.invoke(app, ["solve", "short-block", "--flow", "8 mm^3/s", "--out", "out"])
    assert (done.exit_code, done.stderr) == (1, "no steady state after 20 steps\n")
    assert os.listdir() == ["file"]


@pytest.mark.parametrize(
    "words", [[verb] for verb in ("run", "ceiling", "explain", "report", "curve", "plan")] + [["compare"]]
)
def test_no_ceiling_exits_with_one_and_says_why(words: list[str]) -> None:
    lukewarm = 'extends = "short-block"\n[heater]\nsetpoint = "150 degC"\n[mesh]\nlevel = 0.25\n'
    Path("lukewarm.toml").write_text(lukewarm, encoding="utf-8")
    done = runner.invoke(app, [*words, "lukewarm.toml"])
    assert done.exit_code == 1, done.output
    assert "Traceback" not in done.output
    said = " ".join((done.stdout + done.stderr).split())
    assert words == ["compare"] or "does not exceed the polymer's flow temperature" in said


def test_a_ceiling_whose_search_failed_exits_with_one(monkeypatch: pytest.MonkeyPatch) -> None:
    from meltzone.fem import limits
    from meltzone.fem.newton import NoConvergence

    def lost(*_: object) -> NoReturn:
        raise NoConvergence("no convergence in 20 steps")

    monkeypatch.setattr(limits, "power_ceiling", lost)
    done = runner.invoke(app, ["ceiling", "short-block", "--set", "mesh.level=0.25"])
    assert done.exit_code == 1, done.output


def test_an_interrupt_exits_with_130_and_leaves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, **__: object) -> NoReturn:
        raise KeyboardInterrupt

    monkeypatch.setattr("meltzone.cases.outputs.vtu.write_vtu", interrupted)
    done = runner.invoke(
        app, ["solve", "short-block", "--flow", "8 mm^3/s", "--out", "out", "--set", "mesh.level=0.25"]
    )
    assert done.exit_code == 130
    assert "Traceback" not in done.stderr
    assert os.listdir() == ["file"]


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_ctrl_c_in_the_middle_of_a_solve() -> None:
    """A real process, interrupted once its temporary folder shows that the solve has begun."""
    words = [
        sys.executable,
        "-m",
        "meltzone.cases.commands.cli",
        "run",
        "short-block",
        "--set",
        "mesh.level=4",
        "--out",
        "out",
    ]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        while process.poll() is None and not list(Path().glob(".meltzone-*")):
            time.sleep(0.02)
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "Traceback" not in said and "interrupted" in said
    assert os.listdir() == ["file"]
