"""Ten questions of a practitioner: the first three lines of each command hold the answer, its numbers those of its record."""

from __future__ import annotations

import json
import re
from contextlib import chdir
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import regenerate
from regenerate import QUESTIONS, agrees, carried_out, exchanges

import meltzone as mz
from meltzone.cases.studies.bench.balance import Balance

LINES = 3
Numbers = list[float]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("questions")


@cache
def _answered() -> dict[str, tuple[list[str], str, dict[str, Any]]]:
    """Every command of the page: its first lines at 80 columns, what the page quotes, and the records that it wrote."""
    found = {}
    for each in exchanges(QUESTIONS):
        assert each.exit_code == 0, each.given
        written = sorted(Path("meltzone-out").rglob("*.json")) if Path("meltzone-out").exists() else []
        records = {path.name: json.loads(path.read_text(encoding="utf-8")) for path in written}
        for path in written:
            path.unlink()
        found[each.command] = (each.given.split("\n")[:LINES], each.quoted, records, agrees(each.quoted, each.given))
    return found  # type: ignore[return-value]


def _record(command: str) -> Any:
    """The one record of a `command`: as it wrote it, else as it prints it."""
    records = _answered()[command][2]
    if records:
        [found] = records.values()
        return found
    given, code = carried_out(f"{command} --json")
    assert code == 0
    found = json.loads(given)
    return found[0] if isinstance(found, list) and len(found) == 1 else found


def _run(record: Any) -> Numbers:
    flows = record["ceilings"]
    return [flows["flow_mm3_per_s"], flows["flow_low_mm3_per_s"], flows["flow_high_mm3_per_s"]]


def _printing(record: Any) -> Numbers:
    return [*record["printing"]["speeds_to_use_mm_per_s"], *record["printing"]["highest_speeds_mm_per_s"]]


def _which(record: Any) -> Numbers:
    flows = [case["ceilings"]["flow_mm3_per_s"] for case in record]
    best = max(flows)
    return [best, *(100.0 * (flow / best - 1.0) for flow in flows if flow < best)]


def _explained(record: Any) -> Numbers:
    bounds = [record[f"ceiling_{end}mm3_per_s"] for end in ("low_", "high_")]
    return [*bounds, max(record["budget_percent"].values()), record["design_levers"][0]["change_percent"]]


def _fan(record: Any) -> Numbers:
    return [-record["cases"][0]["fan_change_percent"]]


def _heater(record: Any) -> Numbers:
    return [record["state"]["heater_power_W"], record["state"]["heater_rating_W"]]


def _weighed(record: Any) -> Numbers:
    [series] = record["measured"]
    return [record["onset_low_mm3_per_s"], record["onset_high_mm3_per_s"], series["ceiling_mm3_per_s"]]


def _designed(record: Any) -> Numbers:
    sizes = [float(value.split()[0]) for value in record["answer"].values()]
    return [record["end"]["ceiling_mm3_per_s"], record["end"]["mass_g"], *sizes]


def _reduced(record: Any) -> Numbers:
    return [each[key]["value"] for each in record["series"] for key in ("ceiling_mm3_per_s", "onset_mm3_per_s")]


ANSWERS = {
    "meltzone run ": (_run, ["melt governs"]),
    "meltzone ceiling long-block ": (_which, ["long-block first", "short-block"]),
    "meltzone ceiling short-block --line": (_printing, ["mm/s to use"]),
    "meltzone explain ": (_explained, ["Limit:", "Strongest lever:"]),
    "meltzone compare ": (_fan, ["The fan costs"]),
    "meltzone solve ": (_heater, ["it melts", "the heater gives"]),
    "meltzone ceiling short-block-petg": (_run, ["all that the model was compared with: PETG"]),
    "meltzone curve ": (_weighed, ["within the predicted band"]),
    "meltzone design ": (_designed, ["is reached", "nozzle.length"]),
    "meltzone transient ": (lambda r: [r["burst"]["lasts_s"], r["burst"]["volume_mm3"]], ["lasts"]),
    "meltzone reduce ": (_reduced, ["it differs"]),
    "meltzone validate ": (lambda r: [r["mean_error_percent"], r["worst_error_percent"]], ["mean error"]),
}


def holds(text: str, value: float) -> bool:
    """Whether `text` has `value`, rounded to as many digits as stand there."""
    for token in re.findall(r"[-+]?\d+(?:\.\d+)?", text):
        digits = len(token.partition(".")[2])
        if abs(float(token) - value) <= 0.5001 * 10.0**-digits:
            return True
    return False


def test_a_number_is_found_as_it_is_rounded_and_no_other() -> None:
    assert holds("13 mm³/s, 8 to 16", 13.0015) and holds("-3 % (-7 to -1)", -3.36)
    assert not holds("13 mm³/s", 13.6) and not holds("13.0", 13.06)


@pytest.mark.parametrize("start", ANSWERS)
def test_the_first_three_lines_hold_the_answer(start: str, folder: Path) -> None:
    with chdir(folder):
        [command] = [each for each in _answered() if each.startswith(start)]
        lines = _answered()[command][0]
        numbers, words = ANSWERS[start]
        text = " ".join(lines)
        assert max(map(len, lines)) <= 80
        for said in words:
            assert said in text, lines
        for value in numbers(_record(command)):
            assert holds(text, value), (value, lines)


def test_the_first_three_lines_of_a_plan_count_the_weighings_and_name_the_flows(folder: Path) -> None:
    with chdir(folder):
        [command] = [each for each in _answered() if each.startswith("meltzone plan")]
        text = " ".join(_answered()[command][0])
        found = mz.plan("short-block", mz.Wanted(Balance(1e-5, None), 0.01, 3, 60.0, 0))
    flows = [1e9 * sample.flow for sample in found.samples]
    for value in (
        len(flows),
        len({round(flow, 6) for flow in flows}),
        min(flows),
        max(flows),
        found.result.flow_ceiling,
    ):
        assert value is not None and holds(text, value), (value, text)


def test_the_page_quotes_what_the_commands_say() -> None:
    """Ten numbered questions, each with one command; the page quotes the first three lines."""
    text = QUESTIONS.read_text(encoding="utf-8")
    assert len(re.findall(r"^## \d+\. ", text, re.MULTILINE)) == 10
    for command, (lines, quoted, _, same) in _answered().items():  # type: ignore[misc]
        assert same, f"$ {command}\n" + "\n".join(lines)
        assert quoted.split("\n")[-1] == regenerate.LEFT_OUT and len(quoted.split("\n")) == LINES + 1
    assert len(_answered()) == len(re.findall(r"^#{2,3} .*\?$", text, re.MULTILINE))
