"""The print trial: speeds against the laws of motion, the program by an independent reader, the print read back."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machine import Machine, carry_out
from outputs import assert_drawn
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.outputs.trial import OURS
from meltzone.cases.studies.machine.ring import Motion, stretches
from meltzone.geometry.printed_line import PrintedLine

WORDS = ["trial", "short-block", "--line", "0.3 mm x 0.6 mm", "--bed", "220 mm x 180 mm", "--set", "mesh.level=0.25"]
SECTION = 0.3 * 0.3 + math.pi / 4.0 * 0.3**2  # of the line [mm2]
LINE = PrintedLine(0.3e-3, 0.6e-3)


def _run(*more: str, code: int = 0) -> str:
    done = CliRunner().invoke(app, [*WORDS, *more])
    assert done.exit_code == code, done.output
    return " ".join(done.output.split())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Everything written of a trial."""
    out = tmp_path_factory.mktemp("trial") / "out"
    _run("--out", str(out), "--fastest", "110 mm/s")
    return out


@pytest.fixture(scope="module")
def machine(folder: Path) -> Machine:
    """Its program carried out."""
    return carry_out((folder / "trial.gcode").read_text(encoding="utf-8"))


def test_every_file_is_there_and_the_program_prints_what_the_table_says(folder: Path, machine: Machine) -> None:
    assert sorted(path.name for path in folder.iterdir()) == sorted(OURS)
    assert_drawn(folder / "trial.png")
    record = json.loads((folder / "trial.json").read_text(encoding="utf-8"))
    foot, *fed = machine.fed
    assert foot.text == "Foot" and len(fed) == len(record["stretches"])
    for stretch, each in zip(record["stretches"], fed, strict=True):
        around = stretch["turns"] * 2.0 * math.pi * 60.0
        assert each.text == f"Stretch {stretch['number']}: {stretch['flow_mm3_per_s']:.2f} mm3/s"
        assert each.length * math.pi / 4.0 * 1.75**2 == pytest.approx(around * SECTION, rel=2e-3)  # chords are shorter
        assert each.speed / 60.0 == pytest.approx(stretch["speed_mm_per_s"], rel=1e-6)
        assert stretch["speed_mm_per_s"] * SECTION == pytest.approx(stretch["flow_mm3_per_s"])
    assert machine.height == pytest.approx(record["stretches"][-1]["top_mm"] + 20.0)
    assert max(machine.flows) <= 1.5 * record["predicted"] * 1.001


def test_the_machine_stays_on_its_bed_hot_only_as_it_must_and_ends_cold(machine: Machine) -> None:
    printed = [step for step in machine.way if step[4] > 0.0]
    for x, y in [place for step in printed[1:] for place in (step[:2], step[2:4])]:
        assert 10.0 <= x <= 210.0 and 10.0 <= y <= 170.0
    assert set(machine.setpoints) == {0.0, 210.0} and machine.heater == 0.0 and not machine.motors
    assert machine.pauses == [("Bed clear and warm? Press to heat", 0.0)]


def test_steps_that_the_machine_does_not_reach_are_said_and_left_out(folder: Path) -> None:
    record = json.loads((folder / "trial.json").read_text(encoding="utf-8"))
    assert all(stretch["speed_mm_per_s"] <= 110.0 for stretch in record["stretches"])
    assert record["left_out_mm3_per_s"] and min(record["left_out_mm3_per_s"]) > 110.0 * SECTION
    said = _run("--acceleration", "100 mm/s^2")  # sqrt(100 * 60) = 77.5 mm/s round the ring: 12.4 mm3/s
    assert "reaches 77 mm/s" in said and "Left out, as the machine does not reach the speed" in said


@settings(deadline=None, max_examples=60)
@given(
    acceleration=st.floats(0.05, 20.0), fastest=st.floats(0.03, 1.0), side=st.floats(0.06, 0.5),
    content=st.floats(1e-9, 1e-7), highest=st.floats(1e-9, 5e-8),
)  # fmt: skip
def test_no_stretch_asks_for_more_than_the_motion_allows(
    acceleration: float, fastest: float, side: float, content: float, highest: float
) -> None:
    """v^2 / r of uniform motion on a circle within the acceleration; each stretch long enough to mean something."""
    motion = Motion((side, 2.0 * side), acceleration, fastest)
    for each in stretches([share * highest for share in (0.4, 0.6, 0.8, 1.0)], LINE, motion, content):
        assert each.speed <= fastest * 1.000001 and each.speed**2 / motion.radius <= acceleration * 1.000001
        assert each.flow * each.time >= 3.0 * content * 0.999 and each.top - each.bottom >= 1.5e-3 * 0.999
        assert each.flow == pytest.approx(each.speed * LINE.section)


def test_a_print_is_read_back_beside_prediction_and_bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("ceilings.csv").write_text(
        "name,case,ceiling [mm^3/s],uncertainty [mm^3/s]\nweighed,short-block,12.8,0.1\n", encoding="utf-8"
    )
    _run("--failed", "14", "--bench", "ceilings.csv", "--out", "out")
    record = json.loads(Path("out/trial.json").read_text(encoding="utf-8"))
    held, failed = (record["stretches"][number]["flow_mm3_per_s"] for number in (12, 13))
    printed = record["printed"]
    assert (printed["low_mm3_per_s"], printed["high_mm3_per_s"]) == (held, failed)
    assert printed["ceiling_mm3_per_s"] == pytest.approx(0.5 * (held + failed))
    assert printed["uncertainty_mm3_per_s"] == pytest.approx((failed - held) / math.sqrt(12.0))
    assert 0.1 < record["lasts_s"] < 20.0, "a burst of five percent beyond the ceiling"
    said = _run("--failed", "14", "--bench", "ceilings.csv")
    assert "bench: weighed 12.80 ± 0.10" in said and "cooling jet" in said and "Pressure" in said
    lowest, none = _run("--failed", "1"), _run("--failed", "none")
    assert "printed - - 5.2" in lowest and "printed - 19.5" in none


BAD = [
    (("--failed", "99"), "the number of a stretch"),
    (("--failed", "some"), "the number of a stretch"),
    (("--bed", "220 mm"), "two sides"),
    (("--bed", "40 mm x 40 mm"), "room for a ring"),
    (("--fastest", "6 mm/s"), "two fifths of the ceiling"),
    (("--line", "0.2 mm x 0.45 mm"), "one printed line"),
    (("--set", "heater.setpoint=260 degC"), "at most 250 degC"),
]  # fmt: skip


@pytest.mark.parametrize(("more", "words"), BAD, ids=lambda value: " ".join(value) if isinstance(value, tuple) else "")
def test_what_cannot_be_tried_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, more: tuple[str, ...], words: str
) -> None:
    monkeypatch.chdir(tmp_path)
    said = _run(*more, "--out", "out", code=2)
    assert words in said and not list(tmp_path.iterdir())
