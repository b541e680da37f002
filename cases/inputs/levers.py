"""The numbers that a system uses as levers: what may be moved, and by how much at a time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from meltzone.cases.inputs.parameters import LONGER, Parameter, parameter, parameters, properties_with_step
from meltzone.cases.inputs.places import value_at
from meltzone.fem.inputs import SOLID_PARTS
from meltzone.fem.lever import Lever
from meltzone.fem.problem import Problem
from meltzone.fem.system import System
from meltzone.geometry.passage import EVEN

LONGEST = " and ".join((*LONGER.carried, LONGER.key))  # what the lever of a longer nozzle is called
ORDER = ("arrangement", "operation", "contacts", "surroundings", "materials")


def levers_of(system: System) -> tuple[Lever, ...]:
    """All inputs of the problem of `system` that are numbers and that it uses."""
    return tuple(lever for each in _candidates(system) if (lever := lever_of(system, each)) is not None)


def lever_of(system: System, chosen: Parameter) -> Lever | None:
    """The lever of one number; None where the system does not use it, or takes it along with another."""
    problem = system.problem
    value, is_entry = chosen.in_problem(problem), len(chosen.path) > 2
    if value is None or (value_at(problem, chosen.place) is None and not is_entry):
        return None  # not there, or not given: then it follows from others
    if not chosen.step or (chosen.when is not None and not chosen.when(system)):
        return None
    if chosen.follows and abs(parameter(chosen.follows).in_problem(problem) - value) <= EVEN:
        return None
    scales = chosen.motion == "scale"
    value = 1.0 if scales else value
    unit = "-" if scales else chosen.kind.symbol
    key = " and ".join((*chosen.carried, chosen.key))

    def at(moved: float) -> Problem:
        return chosen.moved(problem, moved)

    return Lever(key, chosen.noun, unit, value, chosen.step_at(value), chosen.role, at)


def _candidates(system: System) -> Iterator[Parameter]:
    """The numbers of a case by where they belong, entries by name, then the properties of the materials."""
    sought = [each for each in parameters().values() if each.step]
    for each in sorted([*sought, LONGER], key=lambda each: ORDER.index(each.place[0])):
        yield from map(each.entry, names_below(system, each)) if each.is_mapping else (each,)
    unused = [] if system.problem.materials.polymer.melting_enthalpy > 0.0 else ["polymer.melting"]
    if system.problem.operation.grip is None:
        unused.append("polymer.plateau")
    yield from (each for each in properties_with_step("polymer") if not each.key.startswith(tuple(unused)))
    for part in SOLID_PARTS:
        if part in system.space.section.parts:
            yield from properties_with_step(part.replace(" ", "_"))


def names_below(system: System, mapping: Parameter) -> Iterable[str]:
    """The names of a mapping that count: faces with a film of their own, parts with exposed faces."""
    if mapping.key == "surroundings.films":
        return system.problem.surroundings.films
    return dict.fromkeys(face.part for face in system.space.section.exposed)
