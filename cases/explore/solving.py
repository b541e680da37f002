"""What is solved for the page: at once on the mesh of searches, then on the case's own."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from meltzone.cases.explore.inquiry import reach
from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.layers import typed
from meltzone.cases.inputs.parameters import Parameter, UnknownParameter, parameter, written
from meltzone.cases.inputs.reader import Case, case_of
from meltzone.cases.studies.completing import result_of, with_band, with_push, with_stuck_on
from meltzone.cases.studies.explain import Explained, LeverEffect, explained_of
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.wording import reason
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.explain import explain
from meltzone.fem.faults import NoConvergence
from meltzone.fem.progress import Reporter
from meltzone.fem.search_mesh import ceilings_for_search
from meltzone.materials.units import in_shown, parse

POINTS = 15  # of a sweep


def quick(case: Case, report: Reporter | None = None) -> Explained:
    """The ceilings of `case` on the mesh of searches, with the budget alone; raises CaseError."""
    return _with_budget(with_push(_searched(case, report)))


def whole(case: Case, report: Reporter | None = None) -> Explained:
    """The same on the case's own mesh, with the heater stuck on and the band of the ceiling; raises CaseError."""
    say = report or (lambda _: None)
    pushed = with_push(result_of(case, find_ceilings(problem_of(case), report=say)))
    say("heater stuck on")
    stuck = with_stuck_on(pushed)
    say("band")
    banded = with_band(stuck)
    say("budget")
    return _with_budget(banded)


def _searched(case: Case, report: Reporter | None) -> Result:
    return result_of(case, ceilings_for_search(problem_of(case), report=report))


def _with_budget(result: Result) -> Explained:
    if result.field is None or result.ceilings is None:
        return Explained(result, None)
    return Explained(result, explain(result.ceilings))


def levers(case: Case, report: Reporter | None = None) -> list[LeverEffect]:
    """What a step of each number of `case` does to its ceiling, the strongest first; raises CaseError."""
    found = explained_of(_searched(case, report), report=report)
    return sorted((*found.strongest("design"), *found.strongest("data")), key=lambda effect: -abs(effect.percent))


@dataclass(frozen=True)
class Tried:
    """One value of a sweep [in the unit shown] as text `typed` and number, its `ceiling` [mm3/s], what governs, or why none."""

    typed: str
    value: float
    ceiling: float | None
    governs: str
    reason: str


def sweep(case: Case, key: str, points: int = POINTS, report: Reporter | None = None) -> Iterator[Tried]:
    """The ceiling over the range of the number `key`, outwards from its value now; raises CaseError for what has no range."""
    try:
        number = parameter(key)
    except UnknownParameter as error:
        raise CaseError(case.file, None, key, None, "a number of the case", "Choose another field.") from error
    now = number.in_problem(problem_of(case))
    if not isinstance(now, int | float) or not number.step:
        raise CaseError(case.file, None, key, None, "a number that has a value", "Type one first.")
    low, high = (in_shown(end, number.kind) for end in reach(number, now))
    tried = {float(f"{low + (high - low) * k / (points - 1):.3g}") for k in range(points)}  # of few digits
    for value in sorted((number.clipped(_in_si(each, number)) for each in tried), key=lambda v: abs(v - now)):
        yield _tried(case, dict(written(case.model, [(number, value)])), key, report)


def _in_si(shown: float, number: Parameter) -> float:
    kind = number.kind.within(-math.inf, math.inf)
    return parse(f"{shown!r} {kind.shown}" if kind.unit else shown, kind)


def _tried(case: Case, moved: dict[str, Any], key: str, report: Reporter | None) -> Tried:
    text = str(moved[key])
    value = float(text.split(maxsplit=1)[0])
    try:
        there = case_of(case.name, case.file, case.layers, {name: typed(str(each)) for name, each in moved.items()})
        result = _searched(there, report)
    except CaseError as error:
        return Tried(text, value, None, "", f"{error.expected}. {error.hint}")
    except NoConvergence as error:
        return Tried(text, value, None, "", reason(error))
    return Tried(
        text, value, result.flow_ceiling, result.governs or "", "" if result.flow_ceiling else result.statement
    )
