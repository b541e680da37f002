"""Streams that are closed, full or narrow, names that are too long or no text, an end asked for: one message, no traceback."""

from __future__ import annotations

import os
import re
import shlex
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from meltzone.cases.commands.cli import main

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="devices, signals and names of bytes")
PROGRAM = [sys.executable, "-m", "meltzone.cases.commands.cli"]
# Calls of the program in one process, each ended by the word then; a real standard output, as if each had its own
ONE_AFTER_ANOTHER = """
import sys
from meltzone.cases.commands.cli import main
words, sys.argv[1:] = sys.argv[1:], []
for word in words:
    if word != "then":
        sys.argv.append(word)
        continue
    try:
        main()
        code = 0
    except SystemExit as left:
        code = left.code or 0
    sys.argv[1:] = []
    print("exit code", code, flush=True)
"""
QUICK = ["--set", "mesh.level=0.25"]
CEILING = ["ceiling", "short-block", *QUICK]


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def _run(words: list[str], **options: object) -> subprocess.CompletedProcess[str]:
    given = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True, "timeout": 120} | options
    return subprocess.run([*PROGRAM, *words], check=False, **given)  # type: ignore[call-overload,no-any-return]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no such device")
@pytest.mark.parametrize("words", [CEILING, [*CEILING, "--json"], ["materials"], ["--help"]])
def test_a_full_device_is_told(words: list[str]) -> None:
    with open("/dev/full", "w") as full:
        done = _run(words, stdout=full)
    assert done.returncode == 2
    assert done.stderr.startswith("standard output\n") and "No space left on device" in done.stderr
    assert "Traceback" not in done.stderr and "Exception" not in done.stderr


def test_a_reader_that_has_gone_is_told() -> None:
    reads, writes = os.pipe()
    os.close(reads)
    with os.fdopen(writes, "w") as gone:
        done = _run(CEILING, stdout=gone)
    assert done.returncode == 2
    assert "Broken pipe" in done.stderr and "Traceback" not in done.stderr and "Exception" not in done.stderr


def test_nobody_listening_is_no_fault() -> None:
    words = ["solve", "short-block", "--flow", "8 mm^3/s", *QUICK, "--out", "out"]
    closed = f"{shlex.join([*PROGRAM, *words])} >&-"
    done = subprocess.run(closed, shell=True, check=False, stderr=subprocess.PIPE, text=True, timeout=120)
    assert (done.returncode, done.stderr) == (0, "")
    assert Path("out/result.json").exists()


ANSWERS = [
    ["explain", "short-block", *QUICK],
    ["ceiling", "short-block", "long-block", *QUICK, "--line", "0.3 mm x 0.6 mm"],
    ["compare", "short-block", "long-nozzle-bare-fan", *QUICK],
    ["check", "short-block"],
    ["materials", "petg"],
    ["cautions", "short-block-petg", *QUICK],
    ["examples"],
    ["plan", "short-block", *QUICK, "--to", "sheet.csv", "--program", "bench.gcode"],
    ["reduce", "demo-short-block", "--resamples", "99", "--out", "bench"],
    ["reduce", "demo-trays", "--preview"],
    ["validate", "bench/ceilings.csv", "--set", "mesh.level=0.25", "--out", "validated"],
    ["curve", "short-block", *QUICK, "--measured", "demo-short-block"],
    ["trial", "short-block", *QUICK, "--line", "0.3 mm x 0.6 mm", "--bed", "220 mm x 220 mm", "--out", "trial"],
    ["design", "--help"],
    ["transient", "--help"],
]  # fmt: skip
BAD = ["ceiling", "short-block", "--set", "heater.setpoint=210 °K"]


@pytest.mark.parametrize(("encoding", "unit"), [("cp1252", "mm³/s"), ("ascii", "mm3/s")])
def test_narrow_encodings_get_plainer_letters(encoding: str, unit: str) -> None:
    """Every verb into a pipe, one after another in one process."""
    words = [word for each in [*ANSWERS, BAD] for word in (*each, "then")]
    done = subprocess.run(
        [sys.executable, "-c", ONE_AFTER_ANOTHER, *words],
        check=False,
        capture_output=True,
        timeout=300,
        env={**os.environ, "PYTHONIOENCODING": encoding},
    )
    said, told = done.stdout.decode(encoding), done.stderr.decode(encoding)
    assert "Traceback" not in told and "heater.setpoint" in told, told
    assert re.findall(r"exit code (\d+)", said) == ["0"] * len(ANSWERS) + ["2"], told
    assert unit in said and "####" in said and "?" not in said.replace("--", "").split("exit code")[0]


NAMES = [
    ["run", "short-block", *QUICK, "--out", "{}"],
    ["ceiling", "{}"],
    ["ceiling", "short-block", *QUICK, "--out", "{}.png"],
    ["compare", "short-block", *QUICK, "--csv", "{}.csv"],
    ["plan", "short-block", *QUICK, "--out", "{}.csv"],
    ["new", "{}.toml"],
    ["reduce", "{}"],
    ["validate", "{}"],
    ["design", "{}"],
    ["sweep", "{}"],
    ["curve", "short-block", "--measured", "{}"],
]


@pytest.mark.parametrize("words", NAMES, ids=" ".join)
def test_names_that_are_too_long(
    words: list[str], monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["meltzone", *(word.format("n" * 300) for word in words)])
    with pytest.raises(SystemExit) as left:
        main()
    said = capfd.readouterr()
    assert left.value.code == 2, said.err
    assert "expected:" in said.err and "Traceback" not in said.err and said.out == ""
    assert not list(Path().iterdir())


def test_names_that_are_no_text() -> None:
    name = os.fsdecode(b"b\xffd.toml")
    try:
        Path(name).write_text('extends = "short-block"\nmesh.level = 0.25\n', encoding="utf-8")
    except OSError:
        pytest.skip("the file system wants text")
    out = os.fsdecode(b"out\xff")
    calls = (
        ["run", name, "--out", out],
        ["explain", name, "--out", f"{out}-explain"],
        ["report", name, "--out", f"{out}.html"],
        ["plan", name, "--out", f"{out}.csv"],
        ["compare", name, "short-block", *QUICK, "--json"],
    )
    words = [word for call in calls for word in (*call, "then")]
    one_process = [sys.executable, "-c", ONE_AFTER_ANOTHER, *words]
    done = subprocess.run(
        one_process, check=False, capture_output=True, text=True, errors="surrogateescape", timeout=120
    )
    assert done.returncode == 0, done.stderr
    said = done.stdout.split("exit code 0\n")
    assert len(said) == len(calls) + 1 and said[-1] == ""
    assert all("b?d" in each for each in said[:-1])
    assert Path(out, "result.json").exists() and Path(f"{out}.csv").exists()


def test_an_end_asked_for_leaves_nothing() -> None:
    words = ["run", "short-block", "--set", "mesh.level=4", "--out", "out"]
    with subprocess.Popen([*PROGRAM, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        while process.poll() is None and not list(Path().glob(".meltzone-*")):
            time.sleep(0.02)
        process.send_signal(signal.SIGTERM)
        _, said = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "interrupted" in said and "Traceback" not in said
    assert not list(Path().iterdir())
