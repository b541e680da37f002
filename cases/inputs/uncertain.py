"""Which inputs of a case carry a tolerance, and the problem with other values of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.deviations import property_deviations
from meltzone.cases.inputs.errors import CaseError, at_key
from meltzone.cases.inputs.layers import merge
from meltzone.cases.inputs.parameters import Parameter, parameter, parameters, toleranced
from meltzone.cases.inputs.places import value_at, with_value
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.tolerance import has_tolerance, parse_toleranced, show_toleranced
from meltzone.fem.problem import Problem

SMALLEST_FACTOR = 1e-3  # a property scaled by less is none


@dataclass(frozen=True)
class Uncertain:
    """An input, `moved`, with a tolerance: its central `value` and `deviation`, one standard deviation.

    Both are SI for a key of the case; of a property under [uncertainty] temperatures count as a shift in kelvin from 0, all
    else as a factor on 1.
    """

    moved: Parameter
    value: float
    deviation: float

    @property
    def key(self) -> str:
        """The dotted key."""
        return self.moved.key

    @property
    def bounds(self) -> tuple[float, float]:
        """What a case accepts [SI]."""
        if self.moved.motion == "set":
            return self.moved.kind.least, self.moved.kind.most
        return SMALLEST_FACTOR if self.moved.motion == "scale" else -math.inf, math.inf

    @property
    def words(self) -> str:
        """Value and tolerance for people."""
        if self.moved.motion == "set":
            return show_toleranced(self.value, self.deviation, self.moved.kind)
        return f"+/- {self.deviation:g} K" if self.moved.motion == "shift" else f"+/- {100.0 * self.deviation:g} %"


def uncertain_inputs(case: Case) -> tuple[Uncertain, ...]:
    """All inputs of `case` that carry a tolerance, in the order of the schema; raises CaseError for bad ones."""
    properties = (Uncertain(each, float(each.motion == "scale"), wide) for each, wide in property_deviations(case))
    return (*_written(case), *properties)


def tolerances_of(case: Case) -> dict[str, float]:
    """Standard deviation [SI] by dotted key of the case, for keys written with one."""
    return {item.key: item.deviation for item in _written(case)}


def _written(case: Case) -> Iterator[Uncertain]:
    """Keys of the case's tables written with a tolerance."""
    merged = merge(case.layers)
    for each in parameters().values():
        raw = value_at(merged, each.path)
        if raw is None:
            continue
        entries = [(each.entry(name), text) for name, text in raw.items()] if each.is_mapping else [(each, raw)]
        for moved, text in entries:
            if not isinstance(text, str) or not has_tolerance(text):
                continue
            both = parse_toleranced(text, moved.kind)
            if both.tolerance:
                yield Uncertain(moved, both.value, both.tolerance)


def problem_at(case: Case, values: Mapping[str, float]) -> Problem:
    """The problem of `case` with the uncertain inputs of these keys at `values`; raises CaseError where it cannot be."""
    model, properties = case.model, []
    for key, value in values.items():
        if key.startswith("uncertainty."):
            _, part, name = key.split(".")
            properties.append((toleranced(part)[name], value))
            continue
        for own, there in parameter(key).values(case.model, value).items():
            model = with_value(model, parameter(own).path, there)
    problem = problem_of(replace(case, model=model))
    for moved, value in properties:
        problem = problem if moved.in_problem(problem) is None else moved.moved(problem, value)
    return problem


def refused(case: Case, item: Uncertain, error: CaseError) -> CaseError:
    """The error for a tolerance on a number that cannot move by itself."""
    expected = f"a number that may move a little to both sides, but then: {error.expected}"
    return at_key(case.layers, item.moved.path, expected, "Leave out its tolerance, or give it room.")


def spread(values: Sequence[Uncertain], normal: Sequence[float]) -> dict[str, float]:
    """Values by key for standard normal numbers `normal`, one an input."""
    return {item.key: item.value + item.deviation * number for item, number in zip(values, normal, strict=True)}
