"""The verdict of a comparison: who leads, what is a tie, what the fan costs; held against the numbers it is made of."""

from __future__ import annotations

import io
from functools import cache

from outputs import COARSE
from rich.console import Console

from meltzone.cases.outputs.ceilings import page_of_all
from meltzone.cases.outputs.compare import page
from meltzone.cases.outputs.page import Page
from meltzone.cases.outputs.terminal import rendered
from meltzone.cases.outputs.verdict import ranked, verdict
from meltzone.cases.studies.compare import Comparison, compare
from meltzone.cases.studies.run import ceiling

LINE = {"line.sizes": ["0.3 mm x 0.6 mm"]}
NAMES = ("short-block", "long-block", "long-nozzle-copper-sleeve", "long-nozzle-brass-sleeve", "long-nozzle-bare-fan")


@cache
def compared() -> Comparison:
    return compare(NAMES, overrides=COARSE | LINE, volume="100 cm^3")


def lines_of(page: Page, width: int = 80) -> list[str]:
    console = Console(width=width, file=io.StringIO(), markup=False, highlight=False)
    console.print(rendered(page))
    return console.file.getvalue().splitlines()  # type: ignore[attr-defined]


def test_the_greatest_ceiling_comes_first_and_its_lead_is_that_of_the_table() -> None:
    found, text = compared(), verdict(compared()).text
    best = max(found.variants, key=lambda v: v.result.flow_ceiling or 0.0)
    assert best.gain is not None and text.startswith(f"{best.name} first")
    assert f"{best.gain:+.0f} %" in text.split(".")[0] + text.split(".")[1]


def test_brass_and_copper_are_a_tie_whoever_leads() -> None:
    sleeves = [ceiling(name, COARSE) for name in NAMES[2:4]]
    assert "no difference that could be measured" in ranked(sleeves).text
    assert "no difference that could be measured" in ranked(sleeves[::-1]).text


def test_a_case_that_melts_less_is_told_with_its_loss() -> None:
    text = verdict(compared()).text
    assert "Less: " in text and "short-block -" in text.split("Less: ")[1]


def test_fan_is_told_by_the_name_of_whom_it_costs_most() -> None:
    found = compared().variants
    most = min(found, key=lambda v: v.fan_change or 0.0)
    assert most.fan_change is not None
    assert f"The fan costs {most.name} {-most.fan_change:.1f} %" in verdict(compared()).text


def test_speed_to_use_and_time_follow_from_the_lower_end_of_the_band() -> None:
    found, text = compared(), verdict(compared()).text
    section = 0.3 * (0.6 - 0.3) + 3.141592653589793 / 4.0 * 0.3**2  # rounded rectangle [mm2]
    band = found.variants[0].result.band
    assert band is not None and f"short-block {band.low / section:.0f}" in text
    quickest = max(v.result.band.low for v in found.variants if v.result.band is not None)
    assert f"{1e5 / quickest / 60.0:.0f} min" in text


def test_first_three_lines_hold_the_answer_on_eighty_columns() -> None:
    said = lines_of(page(compared()))
    assert said[0].startswith("Variants") and "first: " in said[1]
    alone = lines_of(page_of_all([ceiling("short-block", COARSE)]))
    assert "Flow ceiling" in alone[0] and "nine times in ten" in alone[0]


def test_doubts_stand_before_the_answer_by_name_and_after_it_with_the_evidence() -> None:
    said = lines_of(page_of_all([ceiling("short-block-petg", COARSE)]))
    assert said[0].startswith("doubtful  Outside") and "PETG" in said[0] and "Flow ceiling" in said[1]
    assert any("PLA only" in line for line in said[3:])


def test_cases_without_a_ceiling_are_named() -> None:
    cold, warm = (ceiling("short-block", COARSE | change) for change in ({"heater.setpoint": "100 degC"}, {}))
    assert ranked([cold, cold]).text == "No variant melts anything." and not ranked([cold, cold]).good
    assert "No ceiling: short-block." in ranked([warm, cold]).text
    assert ranked([cold, warm]).text == ranked([warm, cold]).text, "a gain on nothing is not told"
