"""The kinds of value a case file may hold, as types that pydantic checks: lengths, temperatures, ratios, names."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, GetCoreSchemaHandler
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from meltzone.cases.inputs.tolerance import parse_toleranced
from meltzone.geometry.channels import MOST
from meltzone.materials import units
from meltzone.materials.units import Kind, UnitError, show

BAD_VALUE = "bad_value"  # the pydantic error type of every check in this module; ctx holds "expected" and "hint"


class Table(BaseModel):
    """Base of every table of a case: unknown keys fail, values cannot be changed afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def bad_value(expected: str, hint: str) -> PydanticCustomError:
    """The error that a check raises: what was expected and what to do."""
    return PydanticCustomError(BAD_VALUE, "{expected}. {hint}", {"expected": expected, "hint": hint})


@dataclass(frozen=True)
class Measured:
    """A string with a number and a unit of `kind`, between `least` and `most` [SI]; the model holds the SI float.

    A tolerance in it is checked and left out: `meltzone.cases.inputs.uncertain` reads it off the text.
    """

    kind: Kind
    least: float = -math.inf
    most: float = math.inf

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.check)

    def check(self, value: object) -> float:
        """The SI value; raises PydanticCustomError with what was expected."""
        try:
            number = parse_toleranced(value, self.kind).value
        except UnitError as error:
            raise bad_value(error.expected, error.hint) from error
        if not self.least <= number <= self.most:
            raise bad_value(f"{self.kind.name} {self.limits}", "Check the number and its unit.")
        return number

    @property
    def limits(self) -> str:
        """The range in words."""
        return _limits(self.least, self.most, lambda value: show(value, self.kind))

    def write(self, value: float) -> str:
        """The SI `value` as it stands in a case file."""
        return f'"{show(value, self.kind)}"'


@dataclass(frozen=True)
class Ratio:
    """A plain number without a unit, between `least` and `most`."""

    least: float
    most: float

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.check)

    def check(self, value: object) -> float:
        """The number as a float; raises PydanticCustomError with what was expected."""
        if isinstance(value, bool) or not isinstance(value, int | float) or not self.least <= value <= self.most:
            raise bad_value(f"a plain number {self.limits}", f"Write it without unit and quotes, as in {self.most:g}.")
        return float(value)

    @property
    def limits(self) -> str:
        """The range in words."""
        return _limits(self.least, self.most, lambda value: f"{value:g}")

    def write(self, value: float) -> str:
        """The number as it stands in a case file."""
        return f"{value:g}"


@dataclass(frozen=True)
class Count:
    """A whole number without a unit, between `least` and `most`."""

    least: int
    most: int

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.check)

    def check(self, value: object) -> int:
        """The number; raises PydanticCustomError with what was expected."""
        if isinstance(value, bool) or not isinstance(value, int) or not self.least <= value <= self.most:
            raise bad_value(f"a {self.words}", f"Write it without unit and quotes, as in {self.least}.")
        return value

    @property
    def words(self) -> str:
        """What may stand there."""
        return f"whole number from {self.least} to {self.most}"


def _limits(least: float, most: float, written: Any) -> str:
    if math.isinf(least) and math.isinf(most):
        return "of any size"
    if math.isinf(most):
        return f"of at least {written(least)}"
    return f"from {written(least)} to {written(most)}"


def _one_line(text: str) -> str:
    if not text.isprintable():
        raise bad_value("one line of text", "Leave out line breaks and control characters.")
    return text


# Lengths are bounded by the parts themselves, which name the part and its neighbours.
Length = Annotated[float, Measured(units.LENGTH)]
Angle = Annotated[float, Measured(units.ANGLE)]
# Wider than any hot end's range, to catch slips of the unit; the materials' own tables bound it closer.
HotTemperature = Annotated[float, Measured(units.TEMPERATURE, 323.15, 873.15)]
MeltTemperature = Annotated[float, Measured(units.TEMPERATURE, 223.15, 873.15)]
RoomTemperature = Annotated[float, Measured(units.TEMPERATURE, 223.15, 473.15)]
Power = Annotated[float, Measured(units.POWER, 0.1, 1000.0)]
Force = Annotated[float, Measured(units.FORCE, 0.1, 1000.0)]
Speed = Annotated[float, Measured(units.SPEED, 0.0, 50.0)]
Conductance = Annotated[float, Measured(units.CONDUCTANCE, 1.0, 1e7)]
Film = Annotated[float, Measured(units.FILM, 0.0, 1e5)]
Emissivity = Annotated[float, Ratio(0.0, 1.0)]
Exponent = Annotated[float, Ratio(0.05, 1.0)]
PowerShare = Annotated[float, Ratio(0.0, 1.0)]
Share = Annotated[float, Ratio(0.001, 0.9)]
ChannelCount = Annotated[int, Count(2, MOST)]
Rise = Annotated[float, Ratio(0.001, 10.0)]
MeshLevel = Annotated[float, Ratio(0.25, 4.0)]
Line = Annotated[str, Field(max_length=200), AfterValidator(_one_line)]
Name = Annotated[str, Field(min_length=1, max_length=60)]


def key(default: Any, description: str, default_words: str = "") -> Any:
    """A key of a table. `default_words` says the default where it is no value of its own, such as a card's number."""
    return Field(default, description=description, json_schema_extra={"default_words": default_words})


def default_words(field: FieldInfo) -> str:
    """The words given for the default of `field`, or ''."""
    extra = field.json_schema_extra
    return str(extra.get("default_words", "")) if isinstance(extra, dict) else ""


def measure_of(field: FieldInfo) -> Measured | Ratio | None:
    """The measure of a field, also where it stands in a mapping or may be left out; None for words."""
    found = _measures(field.annotation) + [item for item in field.metadata if isinstance(item, Measured | Ratio)]
    return found[0] if found else None


def _measures(annotation: Any) -> list[Measured | Ratio]:
    own = [item for item in getattr(annotation, "__metadata__", ()) if isinstance(item, Measured | Ratio)]
    inner = [item for argument in getattr(annotation, "__args__", ()) for item in _measures(argument)]
    return own + inner
