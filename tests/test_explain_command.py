"""What `meltzone explain` says, prints, draws and writes."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path

import pytest
from outputs import COARSE, assert_drawn
from typer.testing import CliRunner, Result

from meltzone.cases.commands.cli import app
from meltzone.cases.outputs.explain import INTERVAL, KEYS, LEVER
from meltzone.cases.outputs.explain import record as explained_record
from meltzone.cases.studies.explain import Explained, explain

QUICK = ("--set", "mesh.level=0.25")
PAGE = Path(__file__).resolve().parent.parent / "docs" / "records-json.md"
runner = CliRunner()


def call(*words: str) -> Result:
    return runner.invoke(app, list(words))


@cache
def explained(*overrides: tuple[str, str]) -> Explained:
    return explain("short-block", overrides=COARSE | dict(overrides))


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_the_terminal_tells_bottleneck_budget_drops_and_levers() -> None:
    done = call("explain", "short-block", *QUICK)
    assert done.exit_code == 0, done.output
    words = " ".join(done.stdout.split())
    assert re.search(r"Filament itself governs \d\d %: the heat must get through the filament", words)
    assert re.search(r"together 100\.0", words)
    for text in (
        "What one can build or set",
        "What the number hangs on",
        "bore contact",
        "+1 mm block height",
        "+10 K setpoint",
    ):
        assert text in words
    assert "Cautions" in words and "Interval" not in words


def test_it_leaves_nothing_behind_unless_asked(tmp_path: Path) -> None:
    assert call("explain", "short-block", *QUICK).exit_code == 0
    assert not list(tmp_path.iterdir())


def test_out_writes_record_and_picture(tmp_path: Path) -> None:
    done = call("explain", "short-block", *QUICK, "--out", "why")
    assert done.exit_code == 0, done.output
    assert sorted(path.name for path in (tmp_path / "why").iterdir()) == ["explain.json", "explain.png", "report.html"]
    assert_drawn(tmp_path / "why" / "explain.png")
    record = json.loads((tmp_path / "why" / "explain.json").read_text(encoding="utf-8"))
    assert sum(record["budget_percent"].values()) == pytest.approx(100.0, abs=1e-5)


def test_json_is_the_record_alone_and_its_keys_are_documented() -> None:
    done = call("explain", "short-block", *QUICK, "--json", "--set", "heater.setpoint=210 +/- 3 degC")
    assert done.exit_code == 0, done.output
    record = json.loads(done.stdout)
    page = PAGE.read_text(encoding="utf-8").partition("## explain.json")[2].partition("## curve.json")[0]
    for declared, part in ((KEYS, record), (LEVER, record["design_levers"][0]), (INTERVAL, record["interval"])):
        assert set(part) == {quantity.path.partition(".")[0] for quantity in declared}
        assert all(f"| `{quantity.path}` | {quantity.unit or '-'} |" in page for quantity in declared)
    assert (
        record["interval"]["low_95_mm3_per_s"] < record["ceiling_mm3_per_s"] < record["interval"]["high_95_mm3_per_s"]
    )


def test_levers_are_sorted_into_offers_and_data() -> None:
    found = explained()
    design, data = ({lever.key for lever in found.strongest(kind)} for kind in ("design", "data"))
    assert {"block.height", "heater.setpoint", "polymer.filament_diameter"} <= design
    assert {"polymer.conductivity", "polymer.density", "polymer.flow_temperature"} <= data
    for kind in ("design", "data"):
        sizes = [abs(lever.change) for lever in found.strongest(kind)]
        assert sizes == sorted(sizes, reverse=True) and len(sizes) <= 10


def test_a_lever_in_one_line() -> None:
    (lever,) = (lever for lever in explained().strongest("design") if lever.key == "block.height")
    assert re.fullmatch(r"\+1 mm of block height: \+0\.\d+ mm³/s", lever.sentence)


def test_the_drops_lead_from_the_sensor_to_the_judged_core() -> None:
    found = explained()
    assert found.explanation is not None
    field = found.explanation.adjoint.field
    assert sum(found.explanation.drops.values()) == pytest.approx(field.sensor - field.inner, abs=1e-9)
    assert all(drop > 0.0 for drop in found.explanation.drops.values())


def test_where_the_heater_governs_the_sentence_and_the_caution_say_so() -> None:
    found = explained(("heater.rating", "12 W"))
    assert found.result.governs == "power"
    assert found.bottleneck.startswith("Heater rating governs")
    assert found.strongest("design")[0].key == "heater.rating"
    words = " ".join(call("explain", "short-block", *QUICK, "--set", "heater.rating=12 W").stdout.split())
    assert "overheats faster when its control fails" in words


def test_where_nothing_melts_it_says_why() -> None:
    done = call("explain", "short-block", *QUICK, "--set", "heater.setpoint=150 degC", "--out", "why")
    assert done.exit_code == 1, done.output
    words = " ".join(done.stdout.split())
    assert "There is no ceiling to explain" in words and "does not exceed the polymer's flow temperature" in words
    assert "What one can build" not in words
    record = json.loads(Path("why/explain.json").read_text(encoding="utf-8"))
    assert record["budget_percent"] is None and record["design_levers"] == []
    assert not Path("why/explain.png").exists()


def test_a_hotter_setpoint_is_held_against_the_materials_limits() -> None:
    polymer = explained().result.problem.materials.polymer
    close = f"{polymer.degradation_temperature - 273.15 - 1.0:.1f} degC"
    found = explained(("heater.setpoint", close))
    assert any("degrades" in finding.text for finding in found.hotter)
    assert not explained().hotter
    words = " ".join(call("explain", "short-block", *QUICK, "--set", f"heater.setpoint={close}").stdout.split())
    assert "at a setpoint 10 K higher" in words and "degrades within minutes" in words


@pytest.mark.parametrize("profile", ["shaped", "solved"])
def test_a_velocity_that_follows_the_viscosity_comes_with_its_reservation(profile: str) -> None:
    found = explained(("polymer.profile", profile))
    assert any("held as it is" in note for note in found.notes)
    assert any(note.startswith("nozzle.bore is left out") for note in found.notes)
    assert not {"nozzle.bore", "polymer.filament_diameter"} & {lever.key for lever in found.strongest("design")}


@pytest.mark.parametrize("count", ["1", "-3", "100000"])
def test_impossible_counts_of_samples_are_refused(count: str) -> None:
    done = call("explain", "short-block", "--samples", count, "--set", "heater.setpoint=210 +/- 3 degC", *QUICK)
    assert done.exit_code == 2 and "from 2 to 10000" in done.output


def test_the_interval_in_the_terminal() -> None:
    words = ("--set", "uncertainty.polymer.density=2 %", "--samples", "4")
    done = call("explain", "short-block", *QUICK, *words)
    assert done.exit_code == 0, done.output
    said = " ".join(done.stdout.split())
    assert "uncertainty.polymer.density contributes most: 100 % of the variance." in said
    assert "4 of 4 samples solved" in said and "Inputs without a tolerance count as exact" in said


def test_the_record_is_plain() -> None:
    assert json.loads(json.dumps(explained_record(explained()), allow_nan=False))
