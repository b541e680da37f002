"""One point of a design: the case with the varied keys at given values, built, solved, and what it trades."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from meltzone.cases.inputs.build import arrangement_of, problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.levers import LONGEST, lever_of, levers_of
from meltzone.cases.inputs.parameters import written
from meltzone.cases.inputs.reader import Case, case_of
from meltzone.cases.studies.completing import result_of
from meltzone.cases.studies.design.limits import Judged, NoValue, sloped
from meltzone.cases.studies.design.read import ADDED, Design, Varied
from meltzone.cases.studies.wording import reason
from meltzone.fem.ceiling import ceilings_of
from meltzone.fem.discretise import discretise
from meltzone.fem.faults import NoConvergence
from meltzone.fem.problem import Problem
from meltzone.fem.search_mesh import for_search
from meltzone.fem.system import System
from meltzone.fem.trade import SlopedValue, Trade, trade_at
from meltzone.materials.units import parse


class Unbuildable(Exception):
    """A point that cannot be: its parts do not fit, or nothing melts.

    `key` is the varied key at fault, if one is; `values` (n,) [SI] are those tried, set by whoever searches.
    """

    def __init__(self, reason: str, key: str | None) -> None:
        super().__init__(reason)
        self.reason, self.key = reason, key
        self.values: np.ndarray | None = None


@dataclass(frozen=True, eq=False)
class Point:
    """The varied keys at `values` (n,) [SI], what they trade, and what else is limited; slopes in the order of the keys."""

    values: np.ndarray
    trade: Trade
    judged: Mapping[str, SlopedValue] = field(default_factory=dict)

    @property
    def ceiling(self) -> float:
        """The least of melt and power ceiling [m3/s]; the feeding force has no slope and is looked at in the answer."""
        power = self.trade.power
        return self.trade.melt.value if power is None else min(self.trade.melt.value, power.value)

    def value_of(self, name: str) -> SlopedValue:
        """What is judged under `name`."""
        return self.judged[name]


def overrides_at(base: Case, varied: tuple[Varied, ...], values: np.ndarray) -> dict[str, Any]:
    """The keys of a case file that put `values` (n,) [SI] in place."""
    numbers = ((item.moved, item.base(base) + float(value)) for item, value in zip(varied, values, strict=True))
    return {**written(base.model, numbers)}


def rounded_as_written(item: Varied, value: float) -> float:
    """The value [SI] cut to the four digits that people are shown."""
    words = item.words(value)
    return parse(words, item.moved.kind) if item.moved.kind.unit else float(words)


def start_of(design: Design, base: Case, problem: Problem) -> np.ndarray:
    """The base's own values of the varied keys [SI], shape (n,), moved to the nearest bound where they lie outside."""
    values, system = [], discretise(for_search(problem))
    for item in design.varied:
        lever = lever_of(system, item.moved)
        if lever is None or lever.kind != "design":
            expected = "a dimension, setpoint or rating that the base has and that one can choose"
            known = [each.key.replace(LONGEST, ADDED) for each in levers_of(system) if each.kind == "design"]
            raise design.fault(f"vary.{item.key}", None, expected, f"This base has {', '.join(known)}.")
        values.append(min(max(lever.value - item.base(base), item.least), item.most))
    return np.array(values)


def case_at(design: Design, base: Case, chosen: Mapping[str, Any], values: np.ndarray) -> Case:
    """The case with the `chosen` keys and the varied ones at `values` (n,) [SI]; raises CaseError."""
    return case_of(base.name, base.file, base.layers, {**chosen, **overrides_at(base, design.varied, values)})


def fits(design: Design, base: Case, chosen: Mapping[str, Any], values: np.ndarray) -> Unbuildable | None:
    """Why the parts cannot be made at `values` (n,) [SI], None where they can."""
    try:
        arrangement_of(case_at(design, base, chosen, values))
    except CaseError as error:
        return _unbuildable(design, error)
    return None


def solved_at(design: Design, base: Case, chosen: Mapping[str, Any], values: np.ndarray, flow: float) -> Point:
    """Build and solve the point at `values` (n,) [SI], on the mesh of searches; `flow` [m3/s] is where hot volume is judged.

    What has no slopes by adjoints takes them from differences of further ceilings on that mesh.

    Raises Unbuildable.
    """
    try:
        case, system = _built(design, base, chosen, values)
    except CaseError as error:
        raise _unbuildable(design, error) from error
    levers = [lever for item in design.varied if (lever := lever_of(system, item.moved)) is not None]
    try:
        trade = trade_at(system, levers, flow if design.hot_volume is not None else None)
        here = Judged(case, system, result_of(case, trade.ceilings), flow, design.prices)
        return Point(values, trade, _judged(design, base, chosen, values, here))
    except NoConvergence as error:
        raise Unbuildable(reason(error), None) from error


def _built(design: Design, base: Case, chosen: Mapping[str, Any], values: np.ndarray) -> tuple[Case, System]:
    """The case at `values` and its arrays on the mesh of searches, without a grip; raises CaseError."""
    case = case_at(design, base, chosen, values)
    problem = problem_of(case)
    return case, discretise(for_search(replace(problem, operation=replace(problem.operation, grip=None))))


def _judged(
    design: Design, base: Case, chosen: Mapping[str, Any], values: np.ndarray, here: Judged
) -> Mapping[str, SlopedValue]:
    """What is limited besides, with its slopes; nothing where nothing is. Raises CaseError for what the case has not."""
    if not design.judged:
        return {}

    def aside(moved: np.ndarray, solves: bool) -> Judged | None:
        try:
            case, system = _built(design, base, chosen, moved)
        except CaseError:
            return None
        result = result_of(case, ceilings_of(system)) if solves else None
        return Judged(case, system, result, here.flow, here.prices)

    widths = np.array([item.most - item.least for item in design.varied])
    try:
        return sloped(design.judged, here, values, widths, aside)
    except NoValue as error:
        table = "limits" if error.name in {each.name for each in design.limits} else "aim.against"
        raise design.fault(
            f"limits.{error.name}" if table == "limits" else table,
            error.name,
            "something that the base has",
            error.hint,
        ) from error


def written_at(design: Design, base: Case, chosen: Mapping[str, Any], values: np.ndarray) -> dict[str, Any]:
    """The keys of a case file with the varied ones at `values` (n,) [SI]: to four digits where that fits, else to twelve."""
    pairs = list(zip(design.varied, values, strict=True))
    rounded = np.array([rounded_as_written(item, value) for item, value in pairs])
    inside = [item.least <= value <= item.most for item, value in zip(design.varied, rounded, strict=True)]
    if not all(inside) or fits(design, base, chosen, rounded) is not None:
        rounded = values
    return {**chosen, **overrides_at(base, design.varied, rounded)}


def _unbuildable(design: Design, error: CaseError) -> Unbuildable:
    keys = [item.key for item in design.varied]
    key = error.key if error.key in keys else None
    if key is None and error.key in ("nozzle.exposed", "nozzle.length") and ADDED in keys:
        key = ADDED
    return Unbuildable(f"{error.key} must be {error.expected}", key)
