"""The command that writes the report: whole or not there, refusals before the solve, and what the terminal says."""

from __future__ import annotations

from pathlib import Path
from typing import NoReturn

import pytest
from outputs import solved
from typer.testing import CliRunner, Result

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.outputs.report.page import write_report

QUICK = ("--set", "mesh.level=0.25")


def call(*words: str) -> Result:
    return CliRunner().invoke(app, ["report", *words])


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def _never(*_: object, **__: object) -> NoReturn:
    raise AssertionError("solved before the place was tried")


def test_it_writes_one_page_to_the_default_place() -> None:
    done = call("short-block", *QUICK)
    assert done.exit_code == 0, done.output
    assert [path.as_posix() for path in Path().rglob("*") if path.is_file()] == ["meltzone-out/short-block.html"]
    page = Path("meltzone-out/short-block.html").read_text(encoding="utf-8")
    band = solved().band
    assert band is not None
    flow, ends = f"{band.value:.0f}", f"{band.low:.0f} to {band.high:.0f} mm³/s"
    assert f"<b>{flow}</b> mm³/s" in page and f"Flow ceiling {flow} mm³/s, {ends}" in done.stdout
    assert "Cautions" in done.stdout and "Written: meltzone-out/short-block.html" in done.stdout
    assert done.stderr == ""


def test_it_writes_where_it_is_told_and_replaces_what_was_there() -> None:
    Path("old.html").write_text("<!DOCTYPE html>old")
    done = call("short-block", *QUICK, "--set", "heater.setpoint=150 degC", "--out", "old.html")
    assert done.exit_code == 1, done.output  # written, but no answer
    assert "No ceiling" in Path("old.html").read_text(encoding="utf-8")
    assert "no melt ceiling" in done.stdout.lower()


@pytest.mark.parametrize("place", ["report.txt", "report", "taken", "file/below.html"])
def test_a_place_that_cannot_be_written_is_found_before_the_solve(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    Path("taken").mkdir()
    Path("file").write_text("in the way")
    monkeypatch.setattr("meltzone.cases.outputs.report.page.run", _never)
    done = call("short-block", "--out", place)
    assert done.exit_code == 2
    assert done.stderr.startswith(f"output {place}") and "expected:" in done.stderr and "Traceback" not in done.stderr
    assert sorted(path.name for path in Path().iterdir()) == ["file", "taken"]


def test_a_case_that_cannot_be_used_leaves_nothing() -> None:
    done = call("short-block", "--set", "heater.setpoint=210", "--out", "new/page.html")
    assert done.exit_code == 2 and "heater.setpoint" in done.stderr
    assert list(Path().iterdir()) == []


@pytest.mark.parametrize("fault", [KeyboardInterrupt, RuntimeError])
def test_an_interrupted_report_leaves_the_old_one(fault: type, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> NoReturn:
        raise fault

    Path("page.html").write_text("<!DOCTYPE html>old")
    monkeypatch.setattr("meltzone.cases.outputs.report.page.page_html", broken)
    with pytest.raises(fault):
        write_report(load_case("short-block", {"mesh.level": 0.25}), Path("page.html"))
    assert [path.name for path in Path().iterdir()] == ["page.html"] and Path(
        "page.html"
    ).read_text() == "<!DOCTYPE html>old"


def test_bad_tolerances_are_a_clear_error() -> None:
    case = load_case("short-block", {"mesh.level": 0.25, "uncertainty.polymer.colour": "10 %"})
    with pytest.raises(CaseError, match="uncertainty"):
        write_report(case, Path("page.html"))
    assert list(Path().iterdir()) == []
