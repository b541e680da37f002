"""The bench program against its plan, by an independent reader of the lines; and that nothing in it exceeds the limits."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machine import Machine, carry_out
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.outputs.plan import bench_program_text
from meltzone.cases.studies.bench.balance import Balance
from meltzone.cases.studies.bench.bench_program import bench_program
from meltzone.cases.studies.bench.plan import Plan, Wanted, plan
from meltzone.cases.studies.machine.limits import checked, limits_of
from meltzone.cases.studies.machine.words import feed, heat

COARSE = {"mesh.level": 0.25}
WANTED = Wanted(Balance(1e-5), 0.01, 2, 60.0, 3)


@pytest.fixture(scope="module")
def planned() -> Plan:
    """A plan of two rounds."""
    return plan("short-block", WANTED, COARSE)


@pytest.fixture(scope="module")
def machine(planned: Plan) -> Machine:
    """Its program carried out."""
    return carry_out(bench_program_text(planned))


def test_lengths_speeds_and_order_are_the_plans(planned: Plan, machine: Machine) -> None:
    check, *fed = machine.fed
    assert check.length == pytest.approx(100.0) and check.text == "Check: heating"
    assert len(fed) == 2 * len(planned.samples)
    for number, sample in enumerate(planned.samples):
        purge, weighed = fed[2 * number : 2 * number + 2]
        assert purge.text == f"Sample {sample.order}/{len(planned.samples)}: purge"
        assert weighed.text.startswith(f"Sample {sample.order}/")
        assert purge.length == pytest.approx(1e3 * sample.purge) and weighed.length == pytest.approx(
            1e3 * sample.length
        )
        assert purge.speed == weighed.speed == pytest.approx(6e4 * sample.speed)
    total = sum(each.length for each in fed)
    assert total == pytest.approx(1e3 * planned.fed)


def test_it_heats_to_the_setpoint_alone_and_is_off_at_every_stop_that_may_last(machine: Machine) -> None:
    assert set(machine.setpoints) == {0.0, 210.0} and {each.setpoint for each in machine.fed} == {210.0}
    assert machine.heater == 0.0 and not machine.motors and set(machine.fans) == {0.0}
    at_rest = [setpoint for text, setpoint in machine.pauses if not text.startswith("Sample")]
    assert at_rest == [0.0, 0.0, 0.0], "mark, measure the rest, between the rounds"
    assert machine.waited == [60.0, 600.0, 600.0]


def test_the_fan_is_on_where_the_case_has_it_on(planned: Plan) -> None:
    problem = planned.result.problem
    assert problem.surroundings.jet_speed == 0.0
    fanned = plan("short-block", replace(WANTED, repeats=1), {**COARSE, "surroundings.fan": True})
    assert carry_out(bench_program_text(fanned)).fans == [255.0, 0.0]


def test_the_header_says_what_must_be_true_and_who_counts_before_it(planned: Plan) -> None:
    header = " ".join(line[1:].strip() for line in bench_program_text(planned).splitlines() if line.startswith(";"))
    for words in ("never let it run unattended", "nothing else under it", "maker's manual", "thermal cut-off", "burn skin",
                  "The maker's data sheet, local codes"):  # fmt: skip
        assert words in header, words
    assert header.isascii()


@settings(deadline=None, max_examples=40)
@given(
    uncertainty=st.floats(0.001, 0.2), repeats=st.integers(1, 4), seed=st.integers(0, 99),
    diameter=st.floats(1.6e-3, 3.0e-3), share=st.floats(0.2, 1.0),
)  # fmt: skip
def test_no_command_exceeds_the_limits(
    planned: Plan, uncertainty: float, repeats: int, seed: int, diameter: float, share: float
) -> None:
    """Flow within 1.6 of the band's upper end, setpoint within 250 degC: the degradation of PLA on its card."""
    from meltzone.cases.studies.bench import plan as module

    wanted = replace(WANTED, uncertainty=uncertainty, repeats=repeats, seed=seed)
    filament = replace(planned.filament, diameter=replace(planned.filament.diameter, value=diameter))
    flow = 1e-9 * share * (planned.result.flow_ceiling or 0.0)
    samples = tuple(
        module._planned(number, turn, each, flow, 3e-8, filament, wanted)
        for number, (turn, each) in enumerate(module._order(wanted), start=1)
    )
    found = carry_out(
        bench_program_text(replace(planned, filament=filament, wanted=wanted, samples=samples)), 1e3 * diameter
    )
    band = planned.result.band
    assert band is not None and max(found.flows) <= 1.6 * band.high * 1.001 and max(found.setpoints) <= 250.0
    assert found.heater == 0.0 and max(each.length for each in found.fed) < math.inf


def test_lines_beyond_the_limits_are_refused(planned: Plan) -> None:
    limits, area = limits_of(planned.result), planned.filament.area
    assert limits.setpoint == pytest.approx(523.15, abs=0.01)
    with pytest.raises(CaseError, match="setpoint"):
        checked(heat(251.0), limits, area, "x")
    with pytest.raises(CaseError, match=r"1\.6 times"):
        checked(feed(0.1, 1.01 * limits.flow / area), limits, area, "x")
    assert checked(feed(0.1, 0.99 * limits.flow / area), limits, area, "x")


def test_a_case_hotter_than_its_parts_stand_gets_no_program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    words = [
        "plan",
        "short-block",
        "--program",
        "hot.gcode",
        "--set",
        "heater.setpoint=260 degC",
        "--set",
        "mesh.level=0.25",
    ]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 2 and "at most 250 degC" in " ".join(done.output.split())
    assert not list(tmp_path.iterdir())


def test_a_program_that_a_person_changed_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    words = ["plan", "short-block", "--program", "bench.gcode", "--repeats", "1", "--set", "mesh.level=0.25"]
    assert CliRunner().invoke(app, words).exit_code == 0
    assert "never let it run unattended" in " ".join(CliRunner().invoke(app, words).output.split())
    path = Path("bench.gcode")
    path.write_text(path.read_text(encoding="utf-8").replace("G4 S60\n", "G4 S90\n"), encoding="utf-8")
    assert CliRunner().invoke(app, words).exit_code == 2
    assert "G4 S90" in path.read_text(encoding="utf-8")
    assert CliRunner().invoke(app, [*words[:3], "bench.csv"]).exit_code == 2


def test_its_duration_is_that_of_feeding_and_waiting(planned: Plan, machine: Machine) -> None:
    fed = sum(60.0 * each.length / each.speed for each in machine.fed)
    assert bench_program(planned).duration == pytest.approx(fed + sum(machine.waited), rel=1e-4)
