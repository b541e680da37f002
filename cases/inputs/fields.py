"""The kinds of value a case file may hold, as types that pydantic checks: lengths, temperatures, ratios, names."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, GetCoreSchemaHandler, StrictStr
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from meltzone.cases.inputs.tolerance import has_tolerance, parse_toleranced
from meltzone.geometry.channels import MOST
from meltzone.materials import units
from meltzone.materials.units import Kind, UnitError, parse, show

Role = Literal["design", "data"]
BAD_VALUE = "bad_value"  # the pydantic error type of every check in this module; ctx holds "expected" and "hint"


class Table(BaseModel):
    """Base of every table: unknown keys fail, values cannot be changed afterwards.

    `called` is what messages call a file or table of the kind, `page` where its keys are described, `strays` what to do about a
    key of a case in it. `home` is where the solver's inputs hold the keys of a table under the same names, '' where they do
    not.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)  # a table is made once, within its case
    called: ClassVar[str] = "a case"
    page: ClassVar[str] = "the file that meltzone new writes"
    strays: ClassVar[str] = ""
    home: ClassVar[str] = ""


def bad_value(expected: str, hint: str) -> PydanticCustomError:
    """The error that a check raises: what was expected and what to do."""
    return PydanticCustomError(BAD_VALUE, "{expected}. {hint}", {"expected": expected, "hint": hint})


@dataclass(frozen=True)
class Numeric:
    """A number of a `kind` within its bounds, as text with a unit or, of a plain kind, without; the model holds the SI float.

    A tolerance in it is checked and left out: `meltzone.cases.inputs.uncertain` reads it off the text.
    """

    kind: Kind

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.check)

    def check(self, value: object) -> float:
        """The SI value; raises PydanticCustomError with what was expected."""
        try:
            if self.kind.unit or (isinstance(value, str) and has_tolerance(value)):
                return parse_toleranced(value, self.kind).value
            return parse(None if isinstance(value, str) else value, self.kind)
        except UnitError as error:
            raise bad_value(error.expected, error.hint) from error


@dataclass(frozen=True)
class Worded(Numeric):
    """The same, with words that may stand for a number, or for none."""

    said: tuple[tuple[str, float | None], ...]

    def check(self, value: object) -> Any:
        """The SI value, None where a word stands for none; raises PydanticCustomError with what was expected."""
        known = dict(self.said)
        return known[value] if isinstance(value, str) and value in known else super().check(value)


@dataclass(frozen=True)
class Exact(Numeric):
    """The same, but without a tolerance."""

    def check(self, value: object) -> float:
        """The SI value; raises PydanticCustomError with what was expected."""
        try:
            return parse(None if isinstance(value, str) and not self.kind.unit else value, self.kind)
        except UnitError as error:
            raise bad_value(error.expected, error.hint) from error


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


def _single_blanks(text: str) -> str:
    return " ".join(text.split())


def _one_line(text: str) -> str:
    if not text.isprintable():
        raise bad_value("one line of text", "Leave out line breaks and control characters.")
    return text


# Lengths are bounded by the parts themselves, which name the part and its neighbours.
Length = Annotated[float, Numeric(units.LENGTH)]
Angle = Annotated[float, Numeric(units.ANGLE)]
# Wider than any hot end's range, to catch slips of the unit; the materials' own tables bound it closer.
HotTemperature = Annotated[float, Numeric(units.TEMPERATURE.within(323.15, 873.15))]
MeltTemperature = Annotated[float, Numeric(units.TEMPERATURE.within(223.15, 873.15))]
RoomTemperature = Annotated[float, Numeric(units.TEMPERATURE.within(223.15, 473.15))]
Power = Annotated[float, Numeric(units.POWER.within(0.1, 1000.0))]
Force = Annotated[float, Numeric(units.FORCE.within(0.1, 1000.0))]
Speed = Annotated[float, Numeric(units.SPEED.within(0.0, 50.0))]
Conductance = Annotated[float, Numeric(units.CONDUCTANCE.within(1.0, 1e7))]
ThreadArea = Annotated[float, Worded(units.PLAIN.within(0.1, 5.0), (("developed", None), ("envelope", 1.0)))]
Resistance = Annotated[float, Numeric(units.RESISTANCE.within(1e-3, 1e3))]
FinCount = Annotated[int, Count(1, 100)]
Film = Annotated[float, Numeric(units.FILM.within(0.0, 1e5))]
FilmFactor = Annotated[float, Numeric(units.PLAIN.within(0.1, 10.0))]
Emissivity = Annotated[float, Numeric(units.PLAIN.within(0.0, 1.0))]
Exponent = Annotated[float, Numeric(units.PLAIN.within(0.05, 1.0))]
PowerShare = Annotated[float, Numeric(units.PLAIN.within(0.0, 1.0))]
Share = Annotated[float, Numeric(units.PLAIN.within(0.001, 0.9))]
ChannelCount = Annotated[int, Count(2, MOST)]
SmallSlip = Annotated[float, Numeric(units.PLAIN.within(0.0001, 0.3))]
Rise = Annotated[float, Numeric(units.PLAIN.within(0.001, 10.0))]
MeshLevel = Annotated[float, Exact(units.PLAIN.within(0.25, 4.0))]
Line = Annotated[str, Field(max_length=200), AfterValidator(_one_line)]
Text = Annotated[StrictStr, AfterValidator(_single_blanks)]  # on one line
Name = Annotated[str, Field(min_length=1, max_length=60)]


@dataclass(frozen=True)
class About:
    """What is known of a key besides its type, default and description.

    `default_words` says a default that is no value of its own, `example` is a value as TOML where the default is none, `words`
    tell what may stand there where the type does not.
    `noun` is what a sentence calls the number; without a natural `step`, as a person writes it or in percent, nothing moves
    it. `role` tells what one can build or set ("design") from what one must know ("data"). `place` is where the solver's
    inputs hold it, `implied` where they hold what counts as long as the key is not given. `follows` is the key that takes it
    along where both are equal. It counts only `when` the system uses it. `plausible` is how far the number may be off where
    nobody says better, nine times in ten: "0.1 mm" or "3 K" to both sides, "5 %" or "factor 2" up and down, "card" where its
    material's card tells; '' for what is known as it stands.
    """

    default_words: str = ""
    example: str = ""
    words: str = ""
    noun: str = ""
    step: str = ""
    role: Role = "design"
    place: str = ""
    implied: str = ""
    follows: str = ""
    when: Callable[[Any], bool] | None = None
    plausible: str = ""


def key(default: Any, description: str, default_words: str = "", alias: str | None = None, **known: Any) -> Any:
    """A key of a table with all that is `known` of it, by the names of About; a `default` of ... asks for a value."""
    extra: Any = {"about": About(default_words, **known)}
    return Field(default, description=description, alias=alias, json_schema_extra=extra)


def about(field: FieldInfo) -> About:
    """What is known of the key of a `field`."""
    extra = field.json_schema_extra
    found = extra.get("about") if isinstance(extra, dict) else None
    return found if isinstance(found, About) else About()


def in_case_file(value: float, kind: Kind) -> str:
    """The SI `value` as it stands in a TOML file."""
    return f'"{show(value, kind)}"' if kind.unit else show(value, kind)


def joined(*names: str) -> Callable[[Any], bool]:
    """A condition: the section has contacts of one of these names."""
    return lambda system: any(contact.name in names for contact in system.space.section.contacts)


def submodel(model: type[Table], name: str) -> type[Table] | None:
    """The model of the table `name` below a `model`; None where the key is no table of fixed keys."""
    field = model.model_fields.get(name)
    candidates = [field.annotation, *getattr(field.annotation, "__args__", ())] if field is not None else []
    models = [item for item in candidates if isinstance(item, type) and issubclass(item, Table)]
    return models[0] if models else None


def number_kind(field: FieldInfo) -> Kind | None:
    """The kind of the number of a field, also where it stands in a mapping or may be left out; None for words and counts."""
    found = [item for item in field.metadata if isinstance(item, Numeric)] + _measures(field.annotation)
    return found[0].kind if found else None


def _measures(annotation: Any) -> list[Numeric]:
    own = [item for item in getattr(annotation, "__metadata__", ()) if isinstance(item, Numeric)]
    return own + [item for argument in getattr(annotation, "__args__", ()) for item in _measures(argument)]
