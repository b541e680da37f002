"""What is not known exactly of a case: every number that its hot end uses, with the range that it plausibly lies in."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from meltzone.cases.inputs.levers import names_below
from meltzone.cases.inputs.parameters import VISCOSITY, Parameter, parameter, parameters, toleranced
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.tolerance import parse_percent
from meltzone.cases.inputs.uncertain import Uncertain, uncertain_inputs
from meltzone.fem.inputs import SOLID_PARTS
from meltzone.fem.problem import Problem
from meltzone.fem.system import System
from meltzone.geometry.passage import EVEN
from meltzone.materials.doubt import doubt_of
from meltzone.materials.polymer import Polymer
from meltzone.materials.solid import Solid
from meltzone.materials.units import ANGLE, CONDUCTANCE, LENGTH, PLAIN, TEMPERATURE_DIFFERENCE, in_shown, parse

NORMAL_90 = 1.644854  # 90 % of a normal distribution lie within so many standard deviations
OWN = "common practice, no source"
Scale = Literal["difference", "factor", "resistance"]


@dataclass(frozen=True)
class Unknown:
    """A number that is not known exactly: `moved`, its `value`, and `low` and `high`, between which it lies nine times in ten.

    All in SI as `moved` takes them. `identity` is the same in two cases where the same number is meant: its key, of a length
    together with its value, of a material the number of its card. `scale` is that on which the ceiling is taken as straight.
    `words` are the range, `known` how it is known; `stated` whether the case states a tolerance, `usual` what would count
    if it did not.
    """

    moved: Parameter
    identity: str
    value: float
    low: float
    high: float
    scale: Scale
    words: str
    known: str
    stated: bool = False
    usual: Unknown | None = None

    @property
    def key(self) -> str:
        """The dotted key."""
        return self.moved.key

    def at(self, value: float) -> float:
        """A `value` [SI] on its scale, counted from its own."""
        if self.scale == "factor":
            return math.log(value / self.value)
        if self.scale == "resistance":
            return 1.0 - self.value / value
        return value - self.value

    def value_at(self, there: float) -> float:
        """The value [SI] that lies at `there` on its scale."""
        if self.scale == "factor":
            return self.value * math.exp(there)
        if self.scale == "resistance":
            return self.value / (1.0 - there)
        return self.value + there

    @property
    def ends(self) -> tuple[float, float]:
        """Both ends of the range on its scale."""
        return self.at(self.low), self.at(self.high)

    @property
    def per_unit(self) -> float:
        """By how much the number [SI] changes for one of its scale, at its own value."""
        return 1.0 if self.scale == "difference" else self.value


def unknowns_of(case: Case, system: System) -> tuple[Unknown, ...]:
    """All numbers in doubt that the hot end of `system` uses; a tolerance in the `case` takes the place of a range.

    Raises CaseError for tolerances that cannot be.
    """
    usual: dict[tuple[str, ...], Unknown] = {}
    for unknown in (*_of_case(system), *_of_cards(system)):
        usual.setdefault(unknown.moved.place, unknown)
    stated = {
        item.moved.place: _stated(item, usual.get(item.moved.place), system.problem) for item in uncertain_inputs(case)
    }
    return tuple((stated | {place: each for place, each in usual.items() if place not in stated}).values())


def _stated(item: Uncertain, usual: Unknown | None, problem: Problem) -> Unknown:
    reach = NORMAL_90 * item.deviation
    words = item.words
    return Unknown(
        item.moved, _identity(item.moved, problem), item.value, item.value - reach, item.value + reach, "difference",
        words, "stated in the case", stated=True, usual=usual,
    )  # fmt: skip


def _identity(moved: Parameter, problem: Problem) -> str:
    at = moved.place
    if at[0] == "materials":
        return f"{_material(moved, problem).key}.{at[2]}"
    if moved.kind in (LENGTH, ANGLE):  # another length is another piece, made with an error of its own
        return f"{moved.key} {moved.in_problem(problem):.9g}"
    return ".".join(at)


def _of_case(system: System) -> Iterator[Unknown]:
    """The keys of a case that have a range of their own."""
    problem = system.problem
    for declared in parameters().values():
        if not declared.plausible or (declared.when is not None and not declared.when(system)):
            continue
        for each in map(declared.entry, names_below(system, declared)) if declared.is_mapping else (declared,):
            value = each.in_problem(problem)
            if value is None or value == 0.0 or _taken_along(each, value, problem):
                continue
            if declared.plausible == "card":
                yield _of_card(each, problem, each.path[1], float(value), each)
            else:
                yield _declared(each, float(value), problem)


def _taken_along(each: Parameter, value: float, problem: Problem) -> bool:
    if not each.follows:
        return False
    other = parameter(each.follows).in_problem(problem)
    return other is not None and abs(other - value) <= EVEN


def _declared(moved: Parameter, value: float, problem: Problem) -> Unknown:
    low, high, scale = _range(moved, value)
    return Unknown(moved, _identity(moved, problem), value, low, high, scale, _words(moved, low, high), OWN)


def _material(moved: Parameter, problem: Problem) -> Polymer | Solid:
    """The material whose card holds the property `moved`."""
    part = moved.place[1].replace("_", " ")
    return problem.materials.polymer if part == "polymer" else problem.materials.solid_of(part)


def _words(moved: Parameter, low: float, high: float) -> str:
    ends = " to ".join(f"{in_shown(end, moved.kind):.4g}" for end in (low, high))
    return f"{ends} {moved.kind.shown}".rstrip()


def _range(moved: Parameter, value: float) -> tuple[float, float, Scale]:
    """Both ends [SI] of a declared range around `value`, kept within what the schema allows, and the scale."""
    said, clipped = moved.plausible, moved.clipped
    scale: Scale = "resistance" if moved.kind.name == CONDUCTANCE.name else "factor"
    if said.startswith("factor "):
        factor = float(said.removeprefix("factor "))
    elif said.endswith("%"):
        factor = 1.0 + parse_percent(said)
    else:
        kind = TEMPERATURE_DIFFERENCE if moved.is_temperature else moved.kind.within(-math.inf, math.inf)
        reach = float(said) if kind.name == PLAIN.name else parse(said, kind)
        return clipped(value - reach), clipped(value + reach), "difference"
    return clipped(value / factor), clipped(value * factor), scale


def _of_cards(system: System) -> Iterator[Unknown]:
    """The properties of the materials that a tolerance could move, part by part."""
    problem, polymer = system.problem, system.problem.materials.polymer
    pushed = problem.operation.grip is not None
    if pushed and polymer.viscosity is not None:
        yield _of_card(VISCOSITY, problem, "viscosity", 1.0)
    for part in ("polymer", *(part for part in SOLID_PARTS if part in system.space.section.parts)):
        for name, moved in toleranced(part.replace(" ", "_")).items():
            unused = (name.startswith("melting") and not polymer.melting_enthalpy) or (
                name == "plateau_modulus" and not pushed
            )
            if name == "emissivity" or (part == "polymer" and unused) or moved.in_problem(problem) is None:
                continue
            if name in ("flow_temperature", "softening_temperature"):
                continue  # keys of a case
            yield _of_card(moved, problem, name, float(moved.motion == "scale"))


def _of_card(moved: Parameter, problem: Problem, name: str, value: float, shown: Parameter | None = None) -> Unknown:
    low, high, known = doubt_of(_material(moved, problem), name)
    scale: Scale = "factor" if moved.motion == "scale" else "difference"
    if shown is not None:
        words = _words(shown, value + low, value + high)
        return Unknown(moved, _identity(moved, problem), value, value + low, value + high, scale, words, known)
    words = f"times {low:.3g} to {high:.3g}" if scale == "factor" else f"{low:+.3g} to {high:+.3g} K"
    least = (low, high) if scale == "factor" else (value + low, value + high)
    return Unknown(moved, _identity(moved, problem), value, *least, scale, words, known)
