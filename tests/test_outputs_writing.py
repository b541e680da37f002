"""Whole or not at all: nothing by halves, nothing lost, refusals before the solve."""

from __future__ import annotations

import json
import stat
from pathlib import Path
from typing import NoReturn

import pytest
from outputs import COARSE, assert_drawn, solved
from typer.testing import CliRunner

import meltzone as mz
from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.outputs.result import OURS, VTU
from meltzone.cases.outputs.result import RECORD as RESULT
from meltzone.cases.outputs.writing import staged_file, staged_folder
from meltzone.cases.studies import run as studies


def _fail(*_: object, **__: object) -> NoReturn:
    raise KeyboardInterrupt


def test_run_writes_every_file(tmp_path: Path) -> None:
    heard: list[str] = []
    folder = tmp_path / "deep" / "out"
    result = mz.run("short-block", COARSE, heard.append, out=folder)
    assert sorted(path.name for path in folder.iterdir()) == sorted(OURS)
    assert [path.name for path in tmp_path.iterdir()] == ["deep"]
    assert [path.name for path in folder.parent.iterdir()] == ["out"]
    record = json.loads((folder / RESULT).read_text(encoding="utf-8"))
    assert record["ceilings"]["flow_mm3_per_s"] == pytest.approx(result.flow_ceiling, rel=1e-7)
    assert record["ceilings"]["mesh_error_percent"] > 0.0
    assert_drawn(folder / "field.png")
    assert_drawn(folder / "axis.png")
    assert heard[0] == "melt ceiling" and "finer mesh" in heard and "pictures" in heard
    assert stat.S_IMODE(folder.stat().st_mode) & 0o500 == 0o500


@pytest.mark.parametrize("fault", [KeyboardInterrupt, RuntimeError, MemoryError])
def test_an_interrupted_write_leaves_nothing(fault: type, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> NoReturn:
        raise fault

    monkeypatch.setattr("meltzone.cases.outputs.vtu.write_vtu", broken)
    with pytest.raises(fault):
        mz.solve("short-block", "8 mm^3/s", COARSE, out=tmp_path / "a" / "b")
    assert list(tmp_path.iterdir()) == []


def test_an_interrupted_write_leaves_the_old_results(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "out"
    mz.solve("short-block", "8 mm^3/s", COARSE, out=folder)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    monkeypatch.setattr("meltzone.cases.outputs.vtu.write_vtu", _fail)
    with pytest.raises(KeyboardInterrupt):
        mz.solve("short-block", "9 mm^3/s", COARSE, out=folder)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_other_files_stay_and_stale_ones_of_ours_go(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    mz.solve("short-block", "8 mm^3/s", COARSE, out=folder)
    (folder / "notes.txt").write_text("mine")
    mz.run("short-block", COARSE | {"heater.setpoint": "100 degC"}, out=folder)
    assert sorted(path.name for path in folder.iterdir()) == ["notes.txt", RESULT]
    assert json.loads((folder / RESULT).read_text(encoding="utf-8"))["ceilings"]["governs"] == "none"


def test_a_move_that_breaks_off_leaves_no_result_json(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / RESULT).write_text('{"old": 1}')
    with pytest.raises(KeyboardInterrupt), staged_folder(folder, OURS) as temporary:
        (temporary / VTU).write_text("new")
        (temporary / RESULT).write_text("new")
        monkeypatch.setattr(Path, "replace", _fail)
    assert not (folder / RESULT).exists()


@pytest.mark.parametrize("place", ["file", "file/below", "file/below/deeper"])
def test_unwritable_folders_are_refused_before_the_solve(
    place: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way")
    for name in ("find_ceilings", "solve_at_flow"):
        monkeypatch.setattr(studies, name, _fail)
    with pytest.raises(CaseError, match="expected: a folder"):
        mz.run("short-block", COARSE, out=tmp_path / place)
    with pytest.raises(CaseError, match="expected: a folder"):
        mz.solve("short-block", "8 mm^3/s", COARSE, out=tmp_path / place)
    assert (tmp_path / "file").read_text() == "in the way"


def test_a_file_is_replaced_at_the_end_only(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(b"\x89PNG old")
    with pytest.raises(RuntimeError), staged_file(path) as temporary:
        temporary.write_text("half")
        raise RuntimeError
    assert path.read_bytes() == b"\x89PNG old"
    with staged_file(path) as temporary:
        temporary.write_text("new")
    assert path.read_text() == "new"
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.png"]


def test_new_refuses_to_overwrite(tmp_path: Path) -> None:
    path = mz.new(tmp_path / "mine.toml")
    before = path.read_bytes()
    with pytest.raises(CaseError, match="still free"):
        mz.new(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("written", ["12", "12 mm", "fast", "-3 mm^3/s", "0 mm^3/s", "12 m^3/s", ""])
def test_flows_that_are_none(written: str) -> None:
    with pytest.raises(CaseError, match="a volume flow"):
        studies.flow_of(written)


def test_three_lines_of_python() -> None:
    result = studies.ceiling("short-block", COARSE)
    assert 8.0 < result.flow_ceiling < 18.0  # measured about 13 (common practice, no source)
    assert result.governs == "melt"
    assert result.flow_ceiling == solved().flow_ceiling


FOREIGN = {
    "table": (["compare", "short-block", "--csv"], "mine.csv"),
    "sheet": (["plan", "short-block", "--out"], "mine.csv"),
    "picture": (["ceiling", "short-block", "--out"], "mine.png"),
    "page": (["report", "short-block", "--out"], "mine.html"),
    "data base": (["sweep", "setpoint-and-nozzle", "--csv"], "results.sqlite"),
}


@pytest.mark.parametrize(("words", "name"), FOREIGN.values(), ids=FOREIGN)
def test_a_file_of_another_kind_is_not_written_over(
    words: list[str], name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path(name).write_bytes(b'SQLite format 3\0 or = "notes of somebody"\n')
    before = Path(name).read_bytes()
    done = CliRunner().invoke(app, [*words, name])
    assert done.exit_code == 2 and f"output {name}" in done.stderr and "expected:" in done.stderr
    assert Path(name).read_bytes() == before


@pytest.mark.parametrize(
    "words",
    [
        ["plan", "case.toml", "--out", "case.toml"],
        ["compare", "case.toml", "--csv", "case.toml"],
        ["compare", "case.toml", "--out", "case.toml"],
        ["explain", "case.toml", "--out", "case.toml"],
        ["check", "case.toml", "--out", "case.toml"],
        ["reduce", "out/ceilings.csv", "--out", "out"],
        ["design", "out/answer.toml", "--out", "out"],
        ["validate", "out/calibrated.toml", "--out", "out"],
    ],
    ids=" ".join,
)
def test_what_is_read_is_not_written_over(words: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    rows = "".join(f"{flow},300,0.895,1.24\n" for flow in range(4, 16))
    texts = {
        "case.toml": '# mine\nextends = "short-block"\nmesh.level = 0.25\n',
        "out/ceilings.csv": "commanded [mm^3/s],length [mm],mass [g],density [g/cm^3]\n" + rows,
        "out/answer.toml": '# mine\nbase = "short-block"\n[aim]\nmaximise = "ceiling"\n'
        '[vary]\nblock.height = ["11 mm", "12 mm"]\n',
        "out/calibrated.toml": '# mine\nuncertainty = "5 %"\n'
        '[[row]]\nname = "a"\ncase = "short-block"\nceiling = "13 mm^3/s"\n',
    }  # fmt: skip
    Path("out").mkdir()
    for name, text in texts.items():
        Path(name).write_text(text, encoding="utf-8")
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 2 and "output " in done.stderr and "Traceback" not in done.output
    assert {name: Path(name).read_text(encoding="utf-8") for name in texts} == texts


def test_a_sheet_with_masses_is_not_written_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    words = ["plan", "short-block", "--out", "sheet.csv", "--set", "mesh.level=0.25"]
    runner = CliRunner()
    assert runner.invoke(app, words).exit_code == 0
    assert runner.invoke(app, words).exit_code == 0, "an empty one is"
    lines = Path("sheet.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    head = next(number for number, line in enumerate(lines) if line.startswith("order"))
    cells = lines[head + 1].split(",")
    cells[lines[head].split(",").index("mass [g]")] = "1.02"
    Path("sheet.csv").write_text("".join([*lines[: head + 1], ",".join(cells), *lines[head + 2 :]]), encoding="utf-8")
    filled = Path("sheet.csv").read_bytes()
    done = runner.invoke(app, words)
    assert done.exit_code == 2 and "as this program wrote it" in done.stderr
    assert Path("sheet.csv").read_bytes() == filled


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no such device")
def test_devices_are_not_written_over() -> None:
    with pytest.raises(CaseError, match="an ordinary file"), staged_file(Path("/dev/full")):
        raise AssertionError
