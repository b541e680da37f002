"""Variants side by side: numbers of the single commands, fan and gain, documented keys, tables that fit, a picture."""

from __future__ import annotations

import csv
import io
import json
import math
import re
from functools import cache
from pathlib import Path

import pytest
from outputs import COARSE, assert_drawn
from rich.console import Console
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.outputs.compare import KEYS, as_csv, page
from meltzone.cases.outputs.compare import record as record_of
from meltzone.cases.outputs.terminal import rendered
from meltzone.cases.statistics.independent import NORMAL_90
from meltzone.cases.studies.bands.gain import gain_band
from meltzone.cases.studies.compare import Comparison, compare
from meltzone.cases.studies.run import ceiling
from meltzone.fem.residence import residence_of
from meltzone.fem.steady import solve_at_flow

QUICK = ("--set", "mesh.level=0.25")
NAMES = ("short-block", "long-nozzle-bare", "long-nozzle-brass-sleeve-fan")
MANY = (*NAMES, "long-nozzle-wrapped-fan", "short-block-boot", "short-block-petg")
TOLERANT = {"uncertainty.polymer.conductivity": "10 %"}


@cache
def compared(names: tuple[str, ...] = NAMES) -> Comparison:
    return compare(names, overrides=COARSE)


def printed(comparison: Comparison) -> str:
    console = Console(width=110, file=io.StringIO(), markup=False, highlight=False)
    console.print(rendered(page(comparison)))
    return console.file.getvalue()  # type: ignore[attr-defined]


def test_numbers_are_those_of_each_case_alone() -> None:
    found = compared()
    for variant, name in zip(found.variants, NAMES, strict=True):
        alone = ceiling(name, COARSE)
        assert variant.result.flow_ceiling == pytest.approx(alone.flow_ceiling)
        assert variant.result.power == pytest.approx(alone.power)
        first = ceiling(NAMES[0], COARSE).flow_ceiling
        assert first and alone.flow_ceiling
        gain = 100.0 * (alone.flow_ceiling / first - 1.0)
        assert variant.gain is None if name == NAMES[0] else variant.gain == pytest.approx(gain)


def test_fan_penalty_is_the_same_case_with_the_fan_off_or_on() -> None:
    found = compared().variants
    pairs = [(NAMES[1], "long-nozzle-bare-fan"), ("long-nozzle-brass-sleeve", NAMES[2])]
    for variant, (still, blown) in zip(found[1:], pairs, strict=True):
        off, on = (ceiling(name, COARSE).flow_ceiling for name in (still, blown))
        assert off and on
        assert variant.fan_change == pytest.approx(100.0 * (on / off - 1.0), abs=1e-4)
    assert found[1].fan is False and found[2].fan is True


def test_working_flow_is_the_flow_to_use_with_the_smallest_ceiling_unless_asked() -> None:
    found = compared()
    bands = [variant.result.band for variant in found.variants]
    assert found.flow == pytest.approx(min(band.low for band in bands if band is not None))
    assert "the lower end of the ceiling's band of short-block, the smallest" in found.chosen
    asked = compare(["short-block"], flow="5 mm^3/s", overrides=COARSE)
    assert asked.flow == 5.0 and asked.chosen == "as asked for"
    field = solve_at_flow(asked.variants[0].result.system, 5e-9)
    assert asked.variants[0].hot_volume == pytest.approx(1e9 * residence_of(field).hot, rel=1e-6)


def test_walls_and_limits() -> None:
    for variant in compared().variants:
        assert variant.wall is not None
        low, high = variant.wall
        assert low < high <= 211.0  # the setpoint is 210 degC
        assert {margin.part for margin in variant.margins} == {margin.part for margin in variant.margins_stuck}
        stuck = {margin.part: margin for margin in variant.margins_stuck}
        assert stuck["block"].severity == "refuse"  # 40 W heat it beyond 550 degC, where its card refuses it
        assert all(margin.severity is None for margin in variant.margins)


def test_a_shared_tolerance_drops_out_of_the_gain() -> None:
    """To first order every purely thermal ceiling goes with the polymer's conductivity: its ratio does not."""
    variant = compare(["short-block", "long-block"], overrides=COARSE | TOLERANT).variants[1]
    assert variant.gained is not None and variant.result.band is not None and variant.interval is not None
    alone = {effect.identity: effect.ends for effect in variant.result.band.effects}["pla.conductivity"]
    assert abs(dict(variant.gained.parts)["pla.conductivity"].high) < 0.1 * abs(alone.high)
    assert variant.gain is not None and variant.interval[0] < variant.gain < variant.interval[1]


def test_one_sensor_errs_alike_at_two_setpoints() -> None:
    """The gain of 20 K more with a sensor uncertain by 2 K, by whole solves with both setpoints moved together."""
    cooler, hotter = (ceiling("short-block", COARSE | {"heater.setpoint": f"{t} +/- 2 degC"}) for t in (210, 230))
    found = gain_band(hotter.band, cooler.band)

    def gain(error: float) -> float:
        flows = [
            ceiling("short-block", COARSE | {"heater.setpoint": f"{t + error} degC"}).flow_ceiling or 0.0
            for t in (210, 230)
        ]
        return math.log(flows[1] / flows[0])

    assert found is not None
    ends = dict(found.parts)["operation.setpoint"]
    assert ends.high - ends.low == pytest.approx(NORMAL_90 * (gain(2.0) - gain(-2.0)), rel=0.03)


def test_the_record_holds_every_documented_key_and_survives_json() -> None:
    record = json.loads(json.dumps(record_of(compared()), allow_nan=False))
    for case in record["cases"]:
        assert set(case) == {key.path for key in KEYS} | {"limits", "cautions"}
        assert case["limits"]["block"]["hottest_stuck_on_degC"] > case["limits"]["block"]["hottest_at_ceiling_degC"]
    assert record["cases"][0]["gain_percent"] is None and record["working_flow_mm3_per_s"] > 0.0


def test_csv_has_one_row_a_case_and_no_formulas() -> None:
    rows = list(csv.DictReader(io.StringIO(as_csv(compared()))))
    assert [row["case"] for row in rows] == list(NAMES)
    assert float(rows[1]["ceiling_mm3_per_s"]) == pytest.approx(compared().variants[1].result.flow_ceiling, rel=1e-6)
    assert rows[0]["gain_percent"] == "" and rows[2]["fan"] == "true"
    odd = as_csv(compare(["short-block"], overrides=COARSE | {"title": "=1+1"}))
    assert "'=1+1" in odd


@pytest.mark.parametrize("names", [NAMES[:2], MANY])
def test_tables_fit_a_terminal_and_name_every_case(names: tuple[str, ...]) -> None:
    text = printed(compared(names))
    lines = text.splitlines()
    assert max(len(line) for line in lines) <= 110 and "…" not in text
    rows = " ".join(line for line in lines if line.startswith("melt ceiling"))
    numbers = re.findall(r"\d+\.\d", rows)
    expected = [f"{variant.result.flow_ceiling:.1f}" for variant in compared(names).variants]
    assert numbers == expected
    for word in (
        "gain on the first",
        "heater stuck on",
        "bore wall, coolest",
        "time in the melt zone",
        "qualified people",
    ):
        assert word in text


def test_what_does_not_melt_is_said_beside_what_does() -> None:
    found = compare(["short-block"], overrides=COARSE | {"heater.setpoint": "140 degC"})
    assert found.flow is None and found.variants[0].hot_volume is None
    assert "does not exceed" in " ".join(printed(found).split())
    json.dumps(record_of(found), allow_nan=False)


def test_command_writes_files_and_prints(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(app, ["compare", *NAMES[:2], *QUICK, "--out", "side", "--csv", "side.csv"])
    assert done.exit_code == 0, done.output
    assert "Written to side: compare.csv, compare.json, compare.png" in done.stdout
    assert_drawn(Path("side/compare.png"))
    assert Path("side.csv").read_text(encoding="utf-8") == Path("side/compare.csv").read_text(encoding="utf-8")
    machine = CliRunner().invoke(app, ["compare", "short-block", *QUICK, "--json"])
    assert json.loads(machine.stdout)["cases"][0]["case"] == "short-block"


@pytest.mark.parametrize(
    "words", [("nowhere",), ("short-block", "--flow", "5"), ("short-block", "--flow", "-1 mm^3/s")]
)
def test_bad_input_is_one_error(words: tuple[str, ...]) -> None:
    done = CliRunner().invoke(app, ["compare", *words])
    assert done.exit_code == 2 and "expected:" in done.output and "Traceback" not in done.output


def test_bad_flow_is_refused_before_anything_is_solved() -> None:
    with pytest.raises(CaseError):
        compare(["short-block"], flow="fast")
