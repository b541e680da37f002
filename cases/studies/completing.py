"""Results completed by what is solved besides: the melt's push, a usual feeder, and the heater stuck on."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from meltzone.cases.inputs.reader import Case
from meltzone.cases.studies.bands.band import band_of
from meltzone.cases.studies.results import Result
from meltzone.fem.ceiling import Ceilings
from meltzone.fem.faults import GripToSpare, NoConvergence
from meltzone.fem.field import Field
from meltzone.fem.runaway import StuckOn, stuck_on
from meltzone.fem.steady import FARTHEST
from meltzone.fem.system import System
from meltzone.fem.usual_feeder import USUAL_GRIP

if TYPE_CHECKING:
    from meltzone.fem.slow_flow.feeding import Feeding


def result_of(case: Case, found: Ceilings) -> Result:
    """The result of `case` with its ceilings and nothing besides."""
    return Result(case, found.system, found.field, found)


def with_push(result: Result) -> Result:
    """The `result` with what pushes the melt of its field."""
    return replace(result, pushed=pushed_at(result.field))


def with_band(result: Result) -> Result:
    """The `result` with the band of its ceiling. Raises CaseError for tolerances that cannot be."""
    return result if result.ceilings is None else replace(result, band=band_of(result.case, result.ceilings))


def pushed_at(field: Field | None) -> Feeding | None:
    """What pushes the melt of `field`; None without a grip, and where the polymer's card lacks a number for it."""
    if field is None or field.problem.operation.grip is None:
        return None
    from meltzone.fem.slow_flow.feeding import feeding, missing_for_force  # loaded only where a grip is given

    if missing_for_force(field.problem):
        return None
    return feeding(field)


def with_usual(result: Result) -> Result:
    """The `result` with what stops a usual feeder, where the case gives no grip and something melts."""
    melt = result.ceilings.melt if result.ceilings else None
    if melt is None or result.problem.operation.grip is not None:
        return result
    from meltzone.fem.slow_flow.feeding import missing_for_force  # loaded where a force is reckoned
    from meltzone.fem.slow_flow.usual import usual_stall

    missing = missing_for_force(result.problem)
    if missing:
        return replace(result, usual=f"nor is it known for a usual feeder: {missing}")
    try:
        return replace(result, usual=usual_stall(result.problem))
    except GripToSpare:
        spare = f"a usual feeder of {USUAL_GRIP:g} N has grip to spare up to {FARTHEST:g} times the melt ceiling"
        return replace(result, usual=spare)
    except NoConvergence:
        return replace(result, usual="where a usual feeder would stop was not found")


def stuck_on_in(system: System) -> StuckOn | None:
    """What the heater comes to when nothing switches it off; None where that is beyond the tables."""
    try:
        return stuck_on(system)
    except NoConvergence:
        return None


def with_stuck_on(result: Result) -> Result:
    """The `result` with the heater stuck on, for its safety."""
    return replace(result, stuck_on=stuck_on_in(result.system))
