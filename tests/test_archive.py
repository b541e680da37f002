"""Weighings of several sessions in one file: kept as they were, told apart, exported, backed up, taken by other verbs."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest
from outputs import printed
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.studies.bench.archive import kept
from meltzone.cases.studies.bench.samples_csv import load_samples
from meltzone.cases.studies.validation.measurements import load_measured
from meltzone.cases.studies.validation.validate import validate


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with two sessions kept, a year apart, of one series name."""
    monkeypatch.chdir(tmp_path)
    printed("keep", "demo-short-block", "--spool", "grey 3", "--on", "2026-03-01")
    text = Path("mine.csv")
    lines = [
        "series;case;commanded [mm^3/s];length [mm];mass [g];density [g/cm^3];diameter [mm];heater.setpoint [degC]"
    ]
    lines += [
        f"short block;short-block;{flow};400;{1.19 - 0.01 * max(flow - 12, 0)};1.25;1.75;220" for flow in range(4, 18)
    ]
    text.write_text("\n".join(lines) + "\n", encoding="utf-8")
    printed("keep", "mine.csv", "--spool", "red 1", "--on", "2027-03-01")
    return tmp_path


def test_what_is_kept_is_what_was_read(here: Path) -> None:
    one, other = kept(Path("weighings.sqlite"))
    wanted = load_samples("demo-short-block").series[0]
    assert one.series.samples == wanted.samples and one.series.filament == wanted.filament
    assert (one.spool, one.measured_on, other.spool) == ("grey 3", "2026-03-01", "red 1")
    assert "invented data" in one.comments[0] and other.source == "mine.csv" and len(other.sha256) == 64
    read = load_samples("weighings.sqlite")
    assert [each.name for each in read.series] == ["short block, 2026-03-01", "short block, 2027-03-01"]


def test_samples_are_kept_once(here: Path) -> None:
    assert "kept already" in printed("keep", "mine.csv", code=2)
    assert len(kept(Path("weighings.sqlite"))) == 2


def test_reduce_and_validate_take_it(here: Path) -> None:
    said = printed("reduce", "weighings.sqlite", "--out", "out", "--resamples", "99")
    assert "short block, 2027-03-01 against short block, 2026-03-01" in said
    assert {row.case for row in load_measured("out/ceilings.csv").rows} == {"short-block"}
    read = load_measured("weighings.sqlite")
    assert [row.case for row in read.curves] == ["short-block", "short-block"]
    assert dict(read.curves[1].overrides) == {"heater.setpoint": "220 degC"}


def test_validate_lays_it_beside_the_model_and_the_page_of_evidence_takes_it(here: Path) -> None:
    """At samples made by the model's own ceiling a curve is missed by little; what the file says of them is passed on."""
    from generate.evidence.page import weighings

    with sqlite3.connect("weighings.sqlite") as connection:
        connection.execute("DELETE FROM series WHERE source = 'mine.csv'")
    found = validate("weighings.sqlite", overrides={"mesh.level": 0.25})
    assert [curve.row.name for curve in found.curves] == ["short block"] and found.curves[0].mean_miss < 5.0
    section = weighings([found])
    assert "| short block | short-block | weighings | 30 |" in section and "invented data" in section
    assert weighings([]) == ""


def test_exports_have_units_and_sources_and_are_read_again(here: Path) -> None:
    record = json.loads(CliRunner().invoke(app, ["kept", "weighings.sqlite", "--json", "--csv", "all.csv"]).stdout)
    assert [len(series["samples"]) for series in record["series"]] == [30, 14]
    assert record["series"][1]["source"] == "mine.csv" and record["series"][1]["spool"] == "red 1"
    Path("all.csv").write_text(
        Path("all.csv").read_text(encoding="utf-8").replace("short block,", "a,", 30), encoding="utf-8"
    )
    read = load_samples("all.csv")
    assert read.table is not None and not read.table.own_words
    header = next(line for line in Path("all.csv").read_text(encoding="utf-8").splitlines() if "#" not in line)
    assert "commanded_mm3_per_s,time_s,mass_g," in header and "[" not in header.removesuffix(",heater.setpoint [degC]")
    for series, wanted in zip(read.series, kept(Path("weighings.sqlite")), strict=True):
        assert [s.mass for s in series.samples] == pytest.approx([s.mass for s in wanted.series.samples], rel=1e-7)
        assert [s.commanded for s in series.samples] == pytest.approx(
            [s.commanded for s in wanted.series.samples], rel=1e-7
        )


def test_a_backup_is_one_whole_file_and_nothing_is_written_over(here: Path) -> None:
    printed("kept", "weighings.sqlite", "--backup", "copy.sqlite")
    assert kept(Path("copy.sqlite")) == kept(Path("weighings.sqlite"))
    assert "still free" in printed("kept", "weighings.sqlite", "--backup", "copy.sqlite", code=2)
    assert sorted(path.name for path in here.iterdir()) == ["copy.sqlite", "mine.csv", "weighings.sqlite"]


def test_files_of_something_else_are_refused_as_they_are(here: Path) -> None:
    with sqlite3.connect("other.sqlite") as connection:
        connection.execute("CREATE TABLE metadata (key TEXT, value TEXT)")
    Path("text.sqlite").write_text("notes", encoding="utf-8")
    for name in ("other.sqlite", "text.sqlite"):
        before = Path(name).read_bytes()
        assert "a data base of weighings" in printed("keep", "demo-trays", "--in", name, code=2)
        assert "a data base of weighings" in printed("kept", name, code=2)
        assert Path(name).read_bytes() == before
    assert "meltzone keep" in printed("kept", "none.sqlite", code=2)
    assert "a day, as in" in printed("keep", "demo-trays", "--on", "1.3.2026", code=2)
