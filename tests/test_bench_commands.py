"""The commands plan and reduce as a person uses them: sheet, filling in, reducing, and on to validate."""

from __future__ import annotations

import csv
import json
import math
import os
from pathlib import Path

import numpy as np
import pytest
from generate import demo_data
from outputs import printed
from typer.testing import CliRunner

from meltzone.cases.outputs.reduce import OURS, remarks
from meltzone.cases.studies.bench.plan import SHARES
from meltzone.cases.studies.bench.reduce import reduce
from meltzone.cases.studies.bench.samples_csv import demo_folder, load_samples
from meltzone.cases.studies.run import sought
from meltzone.cases.studies.validation.measurements import load_measured

runner = CliRunner()


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder in which the commands run."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def _sheet(path: Path) -> list[dict[str, str]]:
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith('"#')]
    return list(csv.DictReader(lines))


def test_a_sheet_asks_for_what_it_promises(here: Path) -> None:
    said = printed(
        "plan", "short-block", "--to", "sheet.csv", "--diameter", "1.72 mm", "--uncertainty", "0.5 %", "--seed", "3"
    )
    rows = _sheet(here / "sheet.csv")
    assert len(rows) == 3 * len(SHARES)
    area = 0.25 * math.pi * 1.72**2
    predicted = sought("short-block").flow_ceiling
    assert predicted is not None
    weighing = 1e-2 * math.sqrt(1.0 + 1.0 / 6.0)  # one step of repeatability and two rounded readings [g]
    for row in rows:
        flow, speed = float(row["commanded [mm^3/s]"]), float(row["feeder speed [mm/min]"])
        assert flow == pytest.approx(speed / 60.0 * area, abs=2e-3)
        expected = float(row["expected mass [g]"])
        fed = 1.24e-3 * area * float(row["length [mm]"])
        assert expected == pytest.approx(fed * min(1.0, predicted / flow), rel=2e-3)
        assert weighing / expected <= 0.005 * 1.001
        assert row["mass [g]"] == ""
    shares = sorted(float(row["commanded [mm^3/s]"]) / predicted for row in rows[: len(SHARES)])
    assert shares == pytest.approx(sorted(SHARES), rel=2e-3)
    orders = [[row["commanded [mm^3/s]"] for row in rows if row["round"] == str(n)] for n in (1, 2, 3)]
    assert sorted(orders[0]) == sorted(orders[1]) and orders[0] != orders[1] != orders[2]
    text = (here / "sheet.csv").read_text(encoding="utf-8")
    for words in ("burn skin", "Ventilate", "data sheet, local codes", "jams"):
        assert words in text and words in said
    assert not [line for line in text.splitlines() if line.startswith(("G", "M"))]  # for a person, not for a machine


def test_time_is_the_sum_of_its_parts_and_the_seed_sets_the_order(here: Path) -> None:
    first = printed("plan", "short-block", "--out", "a.csv", "--handling", "2 min", "--repeats", "2")
    printed("plan", "short-block", "--out", "b.csv", "--repeats", "2")
    printed("plan", "short-block", "--out", "c.csv", "--repeats", "2", "--seed", "1")
    a, b, c = ([row["commanded [mm^3/s]"] for row in _sheet(here / f"{name}.csv")] for name in "abc")
    assert a == b != c and sorted(a) == sorted(c)
    seconds = 600.0 + 20 * 120.0 + sum(
        60.0 * (float(row["purge [mm]"]) + float(row["length [mm]"])) / float(row["feeder speed [mm/min]"])
        for row in _sheet(here / "a.csv")
    )  # fmt: skip
    hours, minutes = divmod(round(seconds / 60.0), 60)
    assert f"Time {hours} h {minutes} min" in first


def test_a_filled_sheet_gives_back_the_ceiling_and_goes_on_to_validate(here: Path) -> None:
    """Masses invented from the predicted ceiling by a law of slip, written where the sheet leaves room for them."""
    printed("plan", "short-block", "--out", "sheet.csv", "--set", "heater.setpoint=220 degC")
    rng, true = np.random.default_rng(2), 14.2
    head, *lines = [line for line in (here / "sheet.csv").read_text(encoding="utf-8").splitlines() if line[1] != "#"]
    column = head.split(",").index("mass [g]")
    filled = []
    for line in lines:
        cells = line.split(",")
        flow, seconds = float(cells[4]), float(cells[8])
        delivered = float(demo_data.slipped(np.array(flow), true)) * (1.0 + 0.01 * rng.standard_normal())
        cells[column] = f"{1.24e-3 * delivered * seconds:.2f}"
        filled.append(",".join(cells))
    (here / "sheet.csv").write_text("\n".join([head, *filled]) + "\n", encoding="utf-8")
    said = printed("reduce", "sheet.csv", "--out", "out", "--resamples", "99")
    assert said.endswith("meltzone validate out/ceilings.csv")
    assert sorted(os.listdir("out")) == sorted(OURS)
    assert "ceiling, delivered" in said
    (row,) = load_measured("out/ceilings.csv").rows
    assert (row.name, row.case, dict(row.overrides)) == ("short-block", "short-block", {"heater.setpoint": "220 degC"})
    assert 1e9 * row.ceiling == pytest.approx(true, rel=0.02)
    record = json.loads(Path("out/reduced.json").read_text(encoding="utf-8"))["series"][0]
    assert 1e9 * row.uncertainty == pytest.approx(record["ceiling_uncertainty_mm3_per_s"], rel=0.01)
    assert record["ceiling_uncertainty_mm3_per_s"] > 0.005 * true  # the density's half percent is in it
    said = printed("validate", "out/ceilings.csv", "--out", "validated")
    assert "Over 1 predicted row" in said and "--calibrate NAME" in said
    assert json.loads(printed("reduce", "sheet.csv", "--out", "out", "--resamples", "99", "--json"))["series"] == [
        record
    ]
    told = json.loads(printed("validate", "out/ceilings.csv", "--out", "validated", "--json"))
    assert told["rows"] == json.loads(Path("validated/validation.json").read_text(encoding="utf-8"))["rows"]


def test_the_record_has_every_sample_and_the_same_seed_gives_the_same_files(here: Path) -> None:
    for name in ("one", "two"):
        printed("reduce", "demo-short-block", "--out", name, "--resamples", "99", "--seed", "5")
    for name in ("reduced.json", "reduced.csv", "ceilings.csv"):
        assert (here / "one" / name).read_bytes() == (here / "two" / name).read_bytes()
    record = json.loads((here / "one/reduced.json").read_text(encoding="utf-8"))
    (series,) = record["series"]
    assert len(series["samples"]) == 30
    for sample in series["samples"]:
        promised = series["gain"]["value"] * sample["commanded_mm3_per_s"]
        missing = 100.0 * (1.0 - sample["delivered_mm3_per_s"] / promised)
        assert sample["shortfall_percent"] == pytest.approx(missing, abs=0.01)
    assert "invented data" in record["comments"][0]


def test_the_demonstrations_are_what_their_script_makes_and_near_the_model() -> None:
    found = {
        case: sought(case).flow_ceiling
        for case in ("short-block", "long-nozzle-bare-fan", "long-nozzle-brass-sleeve-fan")
    }
    for case, written in demo_data.STATED.items():
        assert written == pytest.approx(found[case], rel=0.05), "run: PYTHONPATH=docs python -m generate.demo_data"
    for name, text in demo_data.demo_tables(demo_data.STATED).items():
        assert (demo_folder() / f"{name}.csv").read_text(encoding="utf-8") == text
        assert text.startswith("# invented data, generated by")


def test_outliers_are_shown_and_kept() -> None:
    found = reduce(load_samples("demo-short-block"), resamples=99)
    spoilt = next(sample.line for sample in found.samples.series[0].samples if sample.note)
    assert any(
        f"line {spoilt} lies " in text and "above the line" in text and "it is kept" in text for text in remarks(found)
    )
    assert len(found.series[0].scores) == 30


def test_two_series_are_told_apart() -> None:
    found = reduce(load_samples("demo-sleeve"), resamples=99)
    (compared,) = found.compared
    truth = demo_data.STATED["long-nozzle-brass-sleeve-fan"] - demo_data.STATED["long-nozzle-bare-fan"]
    assert compared.shared
    assert abs(compared.change - truth) < 3.0 * compared.uncertainty
    assert compared.p_ceiling <= 0.05 and compared.adjusted_ceiling >= compared.p_ceiling


def test_samples_that_stop_short_of_the_ceiling_say_so(here: Path) -> None:
    lines = (demo_folder() / "demo-short-block.csv").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if line.startswith(("#", "series")) or float(line.split(",")[3]) < 11.5]
    Path("short.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    said = printed("reduce", "short.csv", "--out", "out", "--resamples", "99")
    assert "above 1" in said and "lower bound" in said
    assert not Path("out/ceilings.csv").exists()


BAD = [
    (["reduce", "nothing.csv"], "demo-short-block"),
    (["reduce", "demo-short-block", "--tolerance", "5"], "as in \"5 %\""),
    (["reduce", "demo-short-block", "--tolerance", "80 %"], "up to 50 %"),
    (["reduce", "demo-short-block", "--density", "1.24"], "Add the unit"),
    (["reduce", "demo-short-block", "--diameter", "175 mm"], "a length from 0.5 mm to 6 mm"),
    (["reduce", "demo-short-block", "--balance-resolution", "10 kg"], "a mass from"),
    (["reduce", "demo-short-block", "--out", "file"], "a name that is still free"),
    (["reduce", "few.csv"], "at least 8 weighed samples at 5 flows"),
    (["plan", "short-blokc"], "short-block"),
    (["plan", "short-block", "--uncertainty", "0 %"], "above 0 and up to 20 %"),
    (["plan", "short-block", "--handling", "soon"], "a time with its unit"),
    (["plan", "short-block", "--out", "."], "That is a folder"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "words"), BAD, ids=lambda value: " ".join(value) if isinstance(value, list) else ""
)
def test_bad_input_gives_one_message_and_no_file(here: Path, arguments: list[str], words: str) -> None:
    Path("file").write_text("in the way", encoding="utf-8")
    Path("few.csv").write_text(
        "commanded [mm^3/s],length [mm],mass [g],density [g/cm^3]\n10,400,1.2,1.24\n12,400,1.2,1.24\n", encoding="utf-8"
    )
    before = sorted(os.listdir())
    said = printed(*arguments, code=2)
    assert words in said and "Traceback" not in said
    assert sorted(os.listdir()) == before
