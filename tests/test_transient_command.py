"""The command transient: what it prints and writes, what it refuses, what an interruption leaves."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from outputs import assert_drawn
from typer.testing import CliRunner, Result

from meltzone.cases.commands.cli import app
from meltzone.cases.outputs.transient import COLUMNS, KEYS
from meltzone.cases.studies import transient as verb

QUICK = ("--set", "mesh.level=0.25")
runner = CliRunner()


def call(*words: str) -> Result:
    return runner.invoke(app, ["transient", *words])


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_a_response_with_files() -> None:
    asked = ("--flow", "5 mm^3/s", "--step", "15 mm^3/s", "--step", "2 mm^3/s at 4 s", "--fan", "on at 6 s")
    done = call("short-block", *QUICK, *asked, "--duration", "8 s", "--out", "found")
    assert done.exit_code == 0, done.output
    for word in ("95 % after [s]", "innermost flow", "not accounted for below a millionth", "qualified people"):
        assert word in " ".join(done.stdout.split())
    assert done.stderr == ""
    assert sorted(path.name for path in Path("found").iterdir()) == [
        "history.csv",
        "report.html",
        "transient.json",
        "transient.png",
    ]
    assert_drawn(Path("found/transient.png"))
    record = json.loads(Path("found/transient.json").read_text(encoding="utf-8"))
    assert record["kind"] == "response" and record["burst"]["lasts_s"] is None
    changes = [(change["time_s"], change["flow_mm3_per_s"], change["fan"]) for change in record["response"]["changes"]]
    assert changes == [(-0.4, 5.0, False), (0.0, 15.0, False), (4.0, 2.0, False), (6.0, 2.0, True)]
    rows = list(csv.DictReader(Path("found/history.csv").read_text(encoding="utf-8").splitlines()))
    assert list(rows[0]) == [column.path for column in COLUMNS]
    for name, values in record["history"].items():
        assert [float(row[name]) for row in rows] == pytest.approx(values), name
    assert float(rows[-1]["time_s"]) == 8.0


def test_a_warm_up_as_json_alone() -> None:
    done = call("short-block", *QUICK, "--json", "--duration", "12 s", "--set", "heater.setpoint=60 degC")
    assert done.exit_code == 0, done.output
    record = json.loads(done.stdout)
    assert record["kind"] == "warm-up" and record["case"]["name"] == "short-block"
    assert 5.0 < record["warm_up"]["reached_s"] < 12.0
    assert record["warm_up"]["melted_s"] is None, "60 degC is far below the flow temperature"
    heat = record["heat_J"]
    assert abs(heat["imbalance"]) < 1e-6 * heat["heater"]
    assert not list(Path().iterdir()), "nothing is written without --out"


def test_every_key_of_the_page_is_in_the_record_and_none_besides() -> None:
    record = json.loads(call("short-block", *QUICK, "--json", "--burst", "40 mm^3/s", "--duration", "3 s").stdout)
    tables = {key.path.partition(".")[0] for key in KEYS if "." in key.path}
    flat = {name if name not in tables else f"{name}.{inner}" for name, table in record.items()
            for inner in (table if name in tables else [""])}  # fmt: skip
    assert flat == {key.path for key in KEYS}
    assert record["burst"]["volume_mm3"] == pytest.approx(40.0 * record["burst"]["lasts_s"], rel=1e-6)
    assert record["burst"]["filament_mm"] == pytest.approx(record["burst"]["volume_mm3"] / 2.40528, rel=1e-4)


@pytest.mark.parametrize(
    ("words", "option", "expected"),
    [
        (("--flow", "5 mm^3/s"), "--flow", "a change to answer to"),
        (("--step", "15 mm/s"), "--line", "a printed line beside a speed"),
        (("--step", "15 mm^2"), "--step", "a volume flow with its unit"),
        (("--step", "15 mm^3/s at noon"), "--step", "a time with its unit"),
        (("--step", "15 mm^3/s at 90 s"), "--duration", "longer than the last step's time"),
        (("--step", "15 mm^3/s", "--step", "5 mm^3/s"), "--step", "one step of a kind at a time"),
        (("--fan", "maybe"), "--fan", '"on" or "off"'),
        (("--burst", "0 mm^3/s"), "flow", "above 0"),
        (("--burst", "25 mm^3/s", "--step", "5 mm^3/s"), "--burst", "either a burst or steps"),
        (("--duration", "0 s"), "--duration", "a time above 0"),
        (("--duration", "100 h"), "--duration", "up to 24 h"),
        (("--set", "polymer.profile=solved"), "polymer.profile", "solved with steady temperatures only"),
    ],
)
def test_what_cannot_be_asked(words: tuple[str, ...], option: str, expected: str) -> None:
    done = call("short-block", *words, "--out", "found")
    assert done.exit_code == 2, done.output
    assert option in done.stderr and expected in " ".join(done.stderr.split())
    assert "Traceback" not in done.output and not Path("found").exists()


def test_a_working_flow_that_does_not_melt_is_no_answer() -> None:
    done = call("short-block", *QUICK, "--flow", "20 mm^3/s", "--burst", "30 mm^3/s", "--duration", "1 s")
    assert done.exit_code == 1 and "does not melt through" in done.stderr


def test_an_interruption_leaves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, report: object = None) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(verb, "warm_up", interrupted)
    done = call("short-block", *QUICK, "--out", "found/deep")
    assert done.exit_code == 130 and "nothing was left half-written" in done.stderr
    assert not list(Path().iterdir())


def test_progress_tells_the_time() -> None:
    told: list[str] = []
    asked = verb.Asked("5 mm^3/s", ("9 mm^3/s",), (), None, "1 s")
    verb.transient("short-block", asked, {"mesh.level": 0.25}, told.append)
    assert len(told) > 5 and told[-1] == "at 1.0 s"
