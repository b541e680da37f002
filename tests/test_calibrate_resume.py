"""A calibration goes on where it was interrupted; what it found goes into any command, ratios with their tolerance."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.free_number import free_number
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.inputs.uncertain import tolerances_of
from meltzone.cases.outputs.calibrated_text import _carried
from meltzone.cases.studies.calibration import row_cases
from meltzone.cases.studies.calibration.calibration import CalibratedNumber
from meltzone.cases.studies.calibration.journal import Journal

ROWS = "name,case,ceiling [mm^3/s],uncertainty [mm^3/s],calibrates\na,short-block,12.6,0.2,yes\n"
WORDS = ["validate", "rows.csv", "--set", "mesh.level=0.25", "--out", "out"]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with one measured ceiling."""
    monkeypatch.chdir(tmp_path)
    Path("rows.csv").write_text(ROWS, encoding="utf-8")
    return tmp_path


def test_an_interrupted_calibration_goes_on_and_comes_to_the_same(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    solve, asked = row_cases.ceilings_for_search, []

    def counted(*given: object) -> object:
        asked.append(given)
        if len(asked) == stop:
            raise KeyboardInterrupt
        return solve(*given)

    monkeypatch.setattr(row_cases, "ceilings_for_search", counted)
    stop = 10**9
    assert CliRunner().invoke(app, WORDS).exit_code == 0
    whole, wanted = len(asked), Path("out/calibrated.toml").read_text(encoding="utf-8")
    assert sorted(path.name for path in here.iterdir()) == ["out", "rows.csv"], "nothing unfinished is left"
    asked.clear()
    Path("out/calibrated.toml").unlink()
    stop = whole // 2
    done = CliRunner().invoke(app, WORDS)
    assert done.exit_code == 130 and "out-unfinished.sqlite" in done.output
    assert Path("out-unfinished.sqlite").exists() and not Path("out/calibrated.toml").exists()
    asked.clear()
    stop = 10**9
    assert CliRunner().invoke(app, WORDS).exit_code == 0
    assert len(asked) == whole - whole // 2 + 1
    assert Path("out/calibrated.toml").read_text(encoding="utf-8") == wanted
    assert not Path("out-unfinished.sqlite").exists()


def test_answers_of_another_question_do_not_count(tmp_path: Path) -> None:
    for meaning, wanted in (("a", 1), ("a", 1), ("b", 2)):
        journal = Journal(tmp_path / "j.sqlite", meaning)
        assert journal.once(("k", 0.1), lambda: 1 if meaning == "a" else 2) == wanted  # noqa: B023
        assert journal.once(("k", 0.1), lambda: 3) == wanted
        journal.close(done=False)
    (tmp_path / "text.sqlite").write_text(
        "notes of somebody, longer than any head of a data base " * 9, encoding="utf-8"
    )
    with pytest.raises(CaseError, match="unfinished calibration"):
        Journal(tmp_path / "text.sqlite", "a")


def test_a_file_of_values_goes_into_any_command(here: Path) -> None:
    text = '# mine\n[contacts]\nbore_melt = "7000 W/m^2/K +/- 500 W/m^2/K"\n[surroundings.emissivity]\nblock = 0.5\n'
    Path("calibrated.toml").write_text(text.partition("[surroundings")[0], encoding="utf-8")
    both = [
        CliRunner().invoke(app, ["ceiling", "short-block", "--json", "--set", "mesh.level=0.25", "--set", given])
        for given in ("calibrated.toml", "contacts.bore_melt=7000 W/m^2/K +/- 500 W/m^2/K")
    ]
    assert [each.exit_code for each in both] == [0, 0]
    assert both[0].stdout == both[1].stdout
    Path("case.toml").write_text('extends = "short-block"\n', encoding="utf-8")
    done = CliRunner().invoke(app, ["ceiling", "short-block", "--set", "case.toml"])
    assert done.exit_code == 2 and "values alone" in done.output


def test_a_ratio_carries_its_tolerance(tmp_path: Path) -> None:
    free = free_number("feeder.slip_rise", "x")
    number = CalibratedNumber(free, 0.3, 0.2, 0.4, (0.001, 10.0), True, None)
    assert _carried(number) == '"0.3 +/- 0.051"'  # a quarter of the 95 % interval, 0.2 / 2 / 1.96
    case = load_case("short-block", {"feeder.grip": "40 N", "feeder.slip_rise": "0.3 +/- 0.051"})
    assert case.model.feeder.slip_rise == 0.3 and tolerances_of(case) == {"feeder.slip_rise": 0.051}
    for wrong in ("0.3", "0.3 +/- 0"):
        with pytest.raises(CaseError):
            load_case("short-block", {"feeder.slip_rise": wrong})
    with pytest.raises(CaseError):
        load_case("short-block", {"mesh.level": "0.5 +/- 0.1"})
