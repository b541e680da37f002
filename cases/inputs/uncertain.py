"""Which inputs of a case carry a tolerance, and the problem with other values of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.deviations import ONLY_SCALED, property_deviations
from meltzone.cases.inputs.errors import CaseError, at_key, table_model
from meltzone.cases.inputs.fields import Measured, measure_of
from meltzone.cases.inputs.layers import merge
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.schema import CaseModel
from meltzone.cases.inputs.tolerance import parse_toleranced, show_toleranced
from meltzone.fem.levers import scaled
from meltzone.fem.problem import Problem
from meltzone.materials.curves import Curve
from meltzone.materials.solid import Solid
from meltzone.materials.units import Kind

SMALLEST_FACTOR = 1e-3  # a property scaled by less is none


@dataclass(frozen=True)
class Uncertain:
    """One input with a tolerance: its dotted `key`, central `value` and `deviation`, one standard deviation.

    Both are SI for a key of the case with its `kind`. A property under [uncertainty] has none: temperatures count as
    a shift in kelvin from 0, all else as a factor on 1. `least` and `most` bound what a case file accepts.
    """

    key: str
    value: float
    deviation: float
    kind: Kind | None = None
    least: float = 0.0
    most: float = float("inf")

    @property
    def path(self) -> tuple[str, ...]:
        """The key's names."""
        table, name, *rest = self.key.split(".", 2)
        return (table, name, *rest)

    @property
    def words(self) -> str:
        """Value and tolerance for people."""
        if self.kind is not None:
            return show_toleranced(self.value, self.deviation, self.kind)
        return f"+/- {self.deviation:g} K" if not self.value else f"+/- {100.0 * self.deviation:g} %"


def uncertain_inputs(case: Case) -> tuple[Uncertain, ...]:
    """All inputs of `case` that carry a tolerance, in the order of the schema; raises CaseError for bad ones."""
    found = list(_written(case))
    for key, deviation in property_deviations(case).items():
        centre = 1.0 if key.rpartition(".")[2] in ONLY_SCALED else 0.0
        found.append(Uncertain(key, centre, deviation, least=SMALLEST_FACTOR if centre else -float("inf")))
    return tuple(found)


def tolerances_of(case: Case) -> dict[str, float]:
    """Standard deviation [SI] by dotted key of the case, for keys written with one."""
    return {item.key: item.deviation for item in _written(case)}


def _written(case: Case) -> Iterator[Uncertain]:
    """Keys of the case's tables written with a tolerance."""
    merged = merge(case.layers)
    for table in type(case.model).model_fields:
        model, raw = table_model(table), merged.get(table)
        if model is None or not isinstance(raw, Mapping):
            continue
        for name, field in model.model_fields.items():
            measure = measure_of(field)
            if not isinstance(measure, Measured) or name not in raw:
                continue
            texts = raw[name] if isinstance(raw[name], Mapping) else {"": raw[name]}
            for word, text in texts.items():
                both = parse_toleranced(text, measure.kind)
                if both.tolerance:
                    key = f"{table}.{name}.{word}" if word else f"{table}.{name}"
                    yield Uncertain(key, both.value, both.tolerance, measure.kind, measure.least, measure.most)


def problem_at(case: Case, values: Mapping[str, float]) -> Problem:
    """The problem of `case` with the uncertain inputs of these keys at `values`; raises CaseError where it cannot be."""
    model = case.model
    properties = {}
    for key, value in values.items():
        table, name, *rest = key.split(".", 2)
        if table == "uncertainty":
            properties[f"{name}.{rest[0]}"] = value
            continue
        section = getattr(model, table)
        there: Any = {**getattr(section, name), rest[0]: value} if rest else value
        model = model.model_copy(update={table: section.model_copy(update={name: there})})
        if key == "nozzle.bore":
            model = _with_bore(model, case.model.nozzle.bore, value)
    problem = problem_of(replace(case, model=model))
    for place, value in properties.items():
        problem = _with_property(problem, place, value)
    return problem


def _with_bore(model: CaseModel, bore: float, value: float) -> CaseModel:
    """Heat break and liner where their bore is written as the nozzle's, `bore` [m]: it goes with it to `value` [m]."""
    for table, name in (("heat_break", "bore"), ("liner", "inner_diameter")):
        section = getattr(model, table)
        if section is not None and getattr(section, name) == bore:
            model = model.model_copy(update={table: section.model_copy(update={name: value})})
    return model


def _with_property(problem: Problem, place: str, value: float) -> Problem:
    part, name = place.split(".")
    material = getattr(problem.materials, part)
    if material is None:
        return problem
    if name == "emissivity":
        return _with_emissivity(problem, part.replace("_", " "), material, value)
    changes: dict[str, Any] = {part: replace(material, **{name: _moved(getattr(material, name), name, value)})}
    return replace(problem, materials=replace(problem.materials, **changes))


def _moved(known: Any, name: str, value: float) -> Any:
    """A curve or a number scaled by `value`, a temperature shifted by it."""
    if name not in ONLY_SCALED:
        return known + value
    return scaled(known, value) if isinstance(known, Curve) else known * value


def _with_emissivity(problem: Problem, part: str, solid: Solid, factor: float) -> Problem:
    """The emissivity that counts, be it the card's or the case's own, scaled but at most 1."""
    outside = problem.surroundings
    own = min(outside.emissivities.get(part, solid.emissivity) * factor, 1.0)
    return replace(problem, surroundings=replace(outside, emissivities={**outside.emissivities, part: own}))


def refused(case: Case, item: Uncertain, error: CaseError) -> CaseError:
    """The error for a tolerance on a number that cannot move by itself."""
    expected = f"a number that may move a little to both sides, but then: {error.expected}"
    return at_key(case.layers, item.path, expected, "Leave out its tolerance, or give it room.")


def spread(values: Sequence[Uncertain], normal: Sequence[float]) -> dict[str, float]:
    """Values by key for standard normal numbers `normal`, one an input."""
    return {item.key: item.value + item.deviation * number for item, number in zip(values, normal, strict=True)}
