"""Print speeds: the section of a line against its outline, speed and flow as each other's inverse, one margin everywhere."""

from __future__ import annotations

import json

import numpy as np
import pytest
from typer.testing import CliRunner

import meltzone as mz
from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.printed_line import line_words, printed_line
from meltzone.cases.studies.printing import working_flow
from meltzone.cases.studies.run import flow_of
from meltzone.geometry.printed_line import PrintedLine
from meltzone.materials.units import UnitError

COARSE = {"mesh.level": 0.25}
LINES = ["0.3 mm x 0.6 mm", "0.2 mm x 0.45 mm"]
QUICK = ["--set", "mesh.level=0.25", "--line", LINES[0]]


@pytest.mark.parametrize(("height", "width"), [(0.2, 0.45), (0.3, 0.6), (0.25, 0.25), (0.1, 1.2)])
def test_the_section_is_the_area_within_the_outline(height: float, width: float) -> None:
    """Against the shoelace formula over the outline: two straight edges joined by half circles."""
    turn = np.linspace(-np.pi / 2, np.pi / 2, 20_001)
    right = np.array([(width - height) / 2 + height / 2 * np.cos(turn), height / 2 * np.sin(turn)])
    x, y = np.hstack([right, -right])
    area = 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
    assert PrintedLine(height, width).section == pytest.approx(area, rel=1e-7)


@pytest.mark.parametrize("written", ["0.2 mm x 0.45 mm", "0.2 x 0.45 mm", "0.2mm×0.45mm", "200 um x 0.045 cm"])
def test_lines_as_people_write_them(written: str) -> None:
    assert printed_line(written) == PrintedLine(0.2e-3, 0.45e-3)
    assert line_words(printed_line(written)) == "0.2 mm x 0.45 mm"


@pytest.mark.parametrize(
    "written", ["", "0.2 mm", "0.2 x 0.45", "0.45 mm x 0.2 mm", "2 m x 4 m", "0.2 mm x 0.4 s", 3, "1 x 2 x 3 mm"]
)
def test_what_is_no_line(written: object) -> None:
    with pytest.raises(UnitError):
        printed_line(written)


def test_a_speed_is_a_flow_where_there_is_one_line() -> None:
    line = PrintedLine(0.3e-3, 0.6e-3)
    assert flow_of("60 mm/s", [line]) == pytest.approx(0.06 * line.section, rel=1e-12)
    assert flow_of("12 mm^3/s", [line]) == pytest.approx(12e-9, rel=1e-12)
    for lines in ([], [line, PrintedLine(0.2e-3, 0.45e-3)]):
        with pytest.raises(CaseError) as caught:
            flow_of("60 mm/s", lines)
        assert "--line" in caught.value.hint and "printed line" in caught.value.expected


def test_speeds_of_a_ceiling_and_one_margin() -> None:
    result = mz.ceiling("short-block", COARSE | {"line.sizes": LINES})
    ceiling, section = result.flow_ceiling, 1e6 * PrintedLine(0.3e-3, 0.6e-3).section
    assert result.band is not None and ceiling is not None and result.band.low < ceiling
    found = mz.explain("short-block", COARSE | {"line.sizes": LINES})
    from meltzone.cases.outputs.explain import record as explained
    from meltzone.cases.outputs.record import record

    said = record(result)["printing"]
    assert said == explained(found)["printing"] and said["lines"] == LINES
    assert said["highest_speeds_mm_per_s"][0] == pytest.approx(ceiling / section, rel=1e-6)
    assert said["speeds_to_use_mm_per_s"][0] == pytest.approx(result.band.low / section, rel=1e-6)
    assert said["flow_to_use_mm3_per_s"] == pytest.approx(working_flow(result), rel=1e-6)


def test_compare_shows_speeds_and_time_saved() -> None:
    asked = ["compare", "short-block", "long-nozzle-bare", *QUICK, "--volume", "100 cm^3"]
    done = CliRunner().invoke(app, [*asked, "--json"])
    assert done.exit_code == 0, done.output
    first, second = json.loads(done.output)["cases"]
    for each in (first, second):
        assert each["print_time_min"] == pytest.approx(1e5 / each["flow_to_use_mm3_per_s"] / 60.0, rel=1e-6)
    assert first["time_saved_min"] is None
    assert second["time_saved_min"] == pytest.approx(first["print_time_min"] - second["print_time_min"], rel=1e-6)
    gain = second["highest_speeds_mm_per_s"][0] / first["highest_speeds_mm_per_s"][0]
    assert gain == pytest.approx(1.0 + second["gain_percent"] / 100.0, rel=1e-6)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["run", "short-block", *QUICK, "--out", "out"], "speed to use"),
        (["ceiling", "short-block", *QUICK], "speed"),
        (["curve", "short-block", *QUICK], "speed to use"),
        (["solve", "short-block", *QUICK, "--flow", "60 mm/s"], "At 9.6 mm³/s"),
    ],
)
def test_commands_take_lines(words: list[str], said: str, tmp_path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0 and said in done.output, done.output


@pytest.mark.parametrize(
    ("words", "key"),
    [
        (["ceiling", "short-block", "--line", "0.6 mm x 0.3 mm"], "--line"),
        (["solve", "short-block", "--flow", "60 mm/s"], "flow"),
        (["compare", "short-block", "--volume", "3 mm"], "--volume"),
        (["check", "short-block", "--set", "line.sizes=3"], "line.sizes"),
    ],
)
def test_what_cannot_be_used_is_told(words: list[str], key: str) -> None:
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 2 and key in done.output and "expected:" in done.output
