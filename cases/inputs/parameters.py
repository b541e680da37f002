"""The numbers of a case that may be changed, each once: key, kind, sentence, step, role, place, scale, texts."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal, get_origin

from pydantic.fields import FieldInfo

from meltzone.cases.inputs.fields import Role, Table, about, number_kind, submodel
from meltzone.cases.inputs.places import value_at, with_value, with_values
from meltzone.cases.inputs.schema import CaseModel
from meltzone.cases.inputs.tolerance import parse_percent
from meltzone.fem.inputs import SOLID_PARTS
from meltzone.geometry.passage import EVEN
from meltzone.materials.curves import Curve
from meltzone.materials.errors import nearest
from meltzone.materials.properties import OF_KIND, Property
from meltzone.materials.units import PLAIN, TEMPERATURE_DIFFERENCE, Kind, in_shown, parse, spelled
from meltzone.materials.viscosity import Viscosity

if TYPE_CHECKING:
    from meltzone.fem.problem import Problem

FARTHEST_FACTOR = 1000.0  # searched up and down from the case's own value
FARTHEST_KELVIN = 150.0
SMALLEST_FACTOR = 1e-3  # a property scaled by less is none
PARTS = ("polymer", *(part.replace(" ", "_") for part in SOLID_PARTS))  # that have a material


class UnknownParameter(LookupError):
    """No number of a case is called so; `nearest` are the keys most alike."""

    def __init__(self, key: str, close: list[str]) -> None:
        super().__init__(key)
        self.nearest = close


@dataclass(frozen=True)
class Parameter:
    """A number that may be changed: its dotted `key`, its `kind` with the bounds of a case file, what the schema says of it.

    `noun` is what a sentence calls it, `place` the names under which the solver's inputs hold it, `implied` where they hold
    what counts while nothing is given. It `follows` another key while both are equal, and counts only `when` the system uses
    it. One that `is_mapping` stands for numbers by name. `plausible` is how far it may be off where nobody says better.
    `motion` tells whether a value is set, or scales or shifts what stands there (from 1, from 0). `carried` are keys that
    change by the same difference.
    """

    key: str
    kind: Kind
    noun: str
    place: tuple[str, ...]
    implied: tuple[str, ...] = ()
    step: str = ""
    role: Role = "design"
    follows: str = ""
    when: Callable[[Any], bool] | None = None
    is_mapping: bool = False
    motion: Literal["set", "scale", "shift"] = "set"
    carried: tuple[str, ...] = ()
    plausible: str = ""

    @property
    def path(self) -> tuple[str, ...]:
        """The names of its key."""
        return tuple(self.key.split(".", 2))

    def entry(self, name: str) -> Parameter:
        """The number called `name` of a mapping."""
        implied = tuple(part.format(name.replace(" ", "_")) for part in self.implied)
        return replace(
            self, key=f"{self.key}.{name}", noun=self.noun.format(name), place=(*self.place, name), implied=implied,
            is_mapping=False,
        )  # fmt: skip

    @property
    def is_temperature(self) -> bool:
        """Whether it is sought on a linear scale; anything else in its logarithm."""
        return self.kind.is_temperature

    def coordinate(self, value: float) -> float:
        """The scale on which it is sought: kelvin, or the natural logarithm of the SI value."""
        return value if self.is_temperature else math.log(value)

    def value(self, coordinate: float) -> float:
        """The SI value at a `coordinate`, kept within what the schema allows."""
        return self.clipped(coordinate if self.is_temperature else math.exp(coordinate))

    def clipped(self, value: float) -> float:
        """The SI `value`, or the bound that it passes."""
        return min(max(value, self.kind.least), self.kind.most)

    def limits(self, start: float) -> tuple[float, float]:
        """Least and greatest value [SI] that are tried from `start`."""
        if self.is_temperature:
            near, far = start - FARTHEST_KELVIN, start + FARTHEST_KELVIN
        else:
            near, far = start / FARTHEST_FACTOR, start * FARTHEST_FACTOR
        return max(near, self.kind.least), min(far, self.kind.most)

    def exact(self, value: float) -> str | float:
        """The SI value as a case file may hold it, to twelve digits."""
        return f"{in_shown(value, self.kind):.12g} {self.kind.shown}" if self.kind.unit else value

    def words(self, value: float) -> str:
        """The SI value to four digits with its unit, for people."""
        number = in_shown(value, self.kind)
        if self.is_temperature:
            return f"{number:.1f} degC"
        if self.kind.unit and number:
            number = round(number, 3 - math.floor(math.log10(abs(number))))
            return f"{number:g} {spelled(self.kind.shown)}"
        return f"{number:.4g} {spelled(self.kind.shown)}".rstrip()

    def step_at(self, value: float) -> float:
        """Its natural step [SI] at an SI `value`."""
        if self.step.endswith("%"):
            return parse_percent(self.step) * value
        kind = TEMPERATURE_DIFFERENCE if self.is_temperature else self.kind
        return parse(self.step, kind.within(-math.inf, math.inf))

    def in_problem(self, problem: Problem) -> Any:
        """What stands in a `problem` for it: its value [SI] or a curve; None where the problem has no such number."""
        found = value_at(problem, self.place)
        return value_at(problem, self.implied) if found is None and self.implied else found

    def moved(self, problem: Problem, value: float) -> Problem:
        """The `problem` with its number at `value` [SI], and what it takes along; raises ValueError where that cannot be."""
        own = self.in_problem(problem)
        if self.motion == "scale":
            scaled = own.scaled(value) if isinstance(own, Curve | Viscosity) else min(own * value, self.kind.most)
            return with_value(problem, self.place, scaled)
        if self.motion == "shift":
            return with_value(problem, self.place, own + value)
        moved = {self.place: value}
        moved |= {other.place: there for other, there in self._company(lambda each: each.in_problem(problem), value)}
        return with_values(problem, moved)

    def in_model(self, model: CaseModel) -> float | None:
        """Its value [SI] as the case `model` gives it; None where it does not."""
        found: float | None = value_at(model, self.path)
        return found

    def values(self, model: CaseModel, value: float) -> dict[str, float]:
        """The keys of a case `model` that put it at `value` [SI], with their values [SI]: its own and those it takes along."""
        company = self._company(lambda each: each.in_model(model), value)
        return {self.key: value} | {other.key: there for other, there in company}

    def _company(self, now: Callable[[Parameter], Any], value: Any) -> Iterator[tuple[Parameter, float]]:
        """What changes with it, and to what [SI]: followers that are equal to it `now`, and what it carries."""
        for other in (*followers(self.key), *map(parameter, self.carried)):
            own, there = now(self), now(other)
            if there is not None and abs(there - own) <= EVEN:
                yield other, value
            elif there is not None and other.key in self.carried:
                yield other, there + value - own


def table_model(name: str) -> type[Table] | None:
    """The model of the table `name` of a case; None where the key is no table of fixed keys."""
    return submodel(CaseModel, name)


def key_place(table: type[Table], name: str) -> tuple[str, ...]:
    """Where the solver's inputs hold the key `name` of a `table`."""
    place = about(table.model_fields[name]).place or (table.home and f"{table.home}.{name}")
    return tuple(place.split(".")) if place else ()


@cache
def keys_below(place: str) -> tuple[tuple[str, str, str], ...]:
    """Name, table and key of what the solver's inputs hold right below a dotted `place`, materials left out."""
    above = tuple(place.split("."))
    return tuple(
        (at[-1], table, name)
        for table in CaseModel.model_fields
        if (model := table_model(table))
        for name in model.model_fields
        if name != "material" and (at := key_place(model, name))[:-1] == above
    )


@cache
def parameters() -> Mapping[str, Parameter]:
    """All numbers of a case by dotted key, in the order of the schema; entries of mappings have their key asked for."""
    tables = {name: model for name in CaseModel.model_fields if (model := table_model(name))}
    return MappingProxyType(
        {
            f"{table}.{name}": _declared(table, model, name, field)
            for table, model in tables.items()
            for name, field in model.model_fields.items()
            if number_kind(field) is not None
        }
    )


def _declared(table: str, model: type[Table], name: str, field: FieldInfo) -> Parameter:
    known, kind = about(field), number_kind(field)
    assert kind is not None
    implied = tuple(known.implied.split(".")) if known.implied else ()
    return Parameter(
        f"{table}.{name}", kind, known.noun, key_place(model, name), implied, known.step, known.role, known.follows,
        known.when, is_mapping=get_origin(field.annotation) is dict, plausible=known.plausible,
    )  # fmt: skip


def parameter(key: str) -> Parameter:
    """The number behind the dotted `key`, be it an entry of a mapping; raises UnknownParameter."""
    above, _, entry = key.rpartition(".")
    found, mapping = parameters().get(key), parameters().get(above)
    if mapping is not None and mapping.is_mapping and entry:
        return mapping.entry(entry)
    if found is None or found.is_mapping:
        known = [name for name, each in parameters().items() if not each.is_mapping]
        raise UnknownParameter(key, nearest(key, known, 3))
    return found


def written(model: CaseModel, numbers: Iterable[tuple[Parameter, float]]) -> dict[str, str | float]:
    """The keys, as a case file may hold them, that put numbers of a case `model` at values [SI], with all they take along."""
    return {
        key: parameter(key).exact(there)
        for moved, value in numbers
        for key, there in moved.values(model, value).items()
    }


@cache
def followers(key: str) -> tuple[Parameter, ...]:
    """The numbers that change with that of `key` while they are equal to it."""
    return tuple(each for each in parameters().values() if each.follows == key)


def key_at(place: str) -> str:
    """The key of a case for a dotted `place` in the solver's inputs, such as arrangement.block.heater_radius."""
    at = tuple(place.split("."))
    return next((key for key, each in parameters().items() if each.place == at), place.partition(".")[2])


# The nozzle longer by what stands out of the block: a longer melt zone in the same block.
LONGER = replace(
    parameters()["nozzle.exposed"],
    noun="melt zone, by a nozzle that is longer below the block",
    carried=("nozzle.length",),
)

# The melt's viscosity as a whole, at every shear rate and temperature alike
VISCOSITY = Parameter(
    "polymer.viscosity*",
    PLAIN,
    "viscosity of the polymer",
    ("materials", "polymer", "viscosity"),
    role="data",
    motion="scale",
)


def toleranced(part: str) -> dict[str, Parameter]:
    """The properties of the material of a `part` that [uncertainty] may move, by name; none for what is no part."""
    declared = OF_KIND["polymer" if part == "polymer" else "solid"] if part in PARTS else ()
    return {each.name: _of_property(part, each, "uncertainty.") for each in declared if each.tolerance}


def properties_with_step(part: str) -> list[Parameter]:
    """The properties of the material of a `part` that have a natural step of their own."""
    declared = OF_KIND["polymer" if part == "polymer" else "solid"]
    return [_of_property(part, each) for each in declared if each.step]


def _of_property(part: str, declared: Property, above: str = "") -> Parameter:
    scales = declared.tolerance == "share" if above else declared.is_curve
    place: tuple[str, ...] = ("materials", part, declared.name)
    implied: tuple[str, ...] = ()
    if declared.name == "emissivity":  # a case may give its own, part by part
        place, implied = ("surroundings", "emissivities", part.replace("_", " ")), place
    return Parameter(
        f"{above}{part}.{declared.name}{'' if above or not scales else '*'}",
        declared.kind,
        f"{declared.words} of the {part.replace('_', ' ')}",
        place,
        implied,
        declared.step,
        "data",
        motion="scale" if scales else "shift" if above else "set",
    )
