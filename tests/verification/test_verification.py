"""Every check of the verification page holds, and the page lists every check."""

from __future__ import annotations

import re

import pytest

from .checks import Check, Group, worst
from .register import all_groups
from .report import COMMAND, DOCS


@pytest.mark.parametrize("group", all_groups(), ids=lambda group: group.key)
def test_checks_hold(group: Group) -> None:
    failed = [
        f"{c.id}: expected {c.expected:.9g}, found {c.found:.9g}, {c.measure} {c.tolerance:g}"
        for c in group.checks()
        if not c.ok
    ]
    assert not failed, "\n".join(failed)


def test_page_lists_every_check_and_no_other() -> None:
    page = (DOCS / "verification.md").read_text(encoding="utf-8")
    listed = re.findall(r"^\| `([^`]+)` \|", page, flags=re.MULTILINE)
    run = [check.id for group in all_groups() for check in group.checks()]
    assert len(set(run)) == len(run)
    assert listed == run, f"the page is stale: run {COMMAND}"


def test_page_pictures_exist() -> None:
    page = (DOCS / "verification.md").read_text(encoding="utf-8")
    pictures = re.findall(r"\]\((images/[^)]+)\)", page)
    assert len(pictures) == 2
    assert all((DOCS / picture).stat().st_size > 10_000 for picture in pictures)


def test_page_figures_are_those_of_the_checks() -> None:
    """The page's 'found' column agrees with a fresh run to within a tenth of what each check allows."""
    page = (DOCS / "verification.md").read_text(encoding="utf-8")
    rows = dict(re.findall(r"^\| `([^`]+)` \|(?:[^|]*\|){3} ([-+.\de]+)", page, flags=re.MULTILINE))
    for group in all_groups():
        for check in group.checks():
            allowed = abs(check.expected) if check.measure != "absolute" else 1.0
            slack = 0.1 * check.tolerance * allowed if check.tolerance else 0.1 * abs(check.expected)
            assert abs(float(rows[check.id]) - check.found) <= slack + 1e-6 * abs(check.found), check.id


def test_a_check_can_fail() -> None:
    assert not Check("x", "", "", 1.0, 1.2, 0.1).ok
    assert not Check("x", "", "", 1.0, float("nan"), 0.1).ok
    assert not Check("x", "", "", 1.0, float("nan"), 0.1, measure="at most").ok
    assert not Check("x", "", "", 1.0, 1.2, 0.0, measure="at most").ok
    assert not Check("x", "", "", 100.0, 102.0, 0.01, measure="relative").ok
    assert worst("x", "t", "", "abc", (1.0, 2.0, 3.0), (1.0, 2.5, 3.1), 1.0).found == 2.5
