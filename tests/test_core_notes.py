"""Where the criterion's number is a guess the result says so: a core as wide as the orifice, a mean that is not molten."""

from __future__ import annotations

import pytest
from outputs import COARSE

from meltzone.cases.studies.run import ceiling, solve

WIDE = {"nozzle.orifice": "1.5 mm", "nozzle.tip_diameter": "3 mm"} | COARSE
UNMELTED, UNBACKED = "in the mean, below the flow temperature of 158 degC", "no measurement backs this rule"


def said(overrides: dict, words: str) -> bool:
    return any(words in warning for warning in ceiling("short-block", overrides).warnings)


def test_a_wide_orifice_is_told_to_be_a_guess_and_its_mean_not_molten() -> None:
    found = ceiling("short-block", WIDE)
    unmelted, unbacked = found.warnings
    assert found.mean is not None and found.mean < 150.0
    assert UNMELTED in unmelted and f"{found.mean:.0f} degC" in unmelted
    assert UNBACKED in unbacked and "56 %" in unbacked  # (1.5/2)^2


@pytest.mark.parametrize("orifice", ["0.4 mm", "1 mm"])
def test_up_to_a_quarter_of_the_flow_nothing_is_said(orifice: str) -> None:
    assert ceiling("short-block", WIDE | {"nozzle.orifice": orifice}).warnings == ()


def test_a_share_of_the_case_s_own_is_no_rule_of_ours() -> None:
    given = WIDE | {"polymer.inner_share": 0.5625}
    assert said(given, UNMELTED) and not said(given, UNBACKED)


def test_other_criteria_do_not_hang_on_the_share() -> None:
    assert not said(WIDE | {"polymer.criterion": "mean"}, UNBACKED)
    assert not said(WIDE | {"polymer.criterion": "mean"}, UNMELTED)  # it leaves just there


def test_a_flow_that_does_not_melt_in_the_mean_is_told() -> None:
    assert any(UNMELTED in warning for warning in solve("short-block", "60 mm^3/s", COARSE).warnings)
