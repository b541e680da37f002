"""The schema of a sweep file: what a range, a sample and the whole file may hold, with the meaning of every key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Literal, get_origin

from pydantic import AfterValidator
from pydantic.fields import FieldInfo

from meltzone.cases.inputs.errors import CaseError, at_key
from meltzone.cases.inputs.fields import Count, Line, Table, Text, bad_value, key
from meltzone.cases.inputs.layers import Layer
from meltzone.cases.inputs.outline import entries, tables
from meltzone.cases.inputs.parameters import table_model
from meltzone.cases.inputs.schema import CaseModel
from meltzone.materials.errors import nearest

MOST_VALUES = 1000  # of one key
MOST_POINTS = 100_000  # of a sweep
MOST_KEYS = 20
Steps = Annotated[int, Count(2, MOST_VALUES)]
Points = Annotated[int, Count(1, MOST_POINTS)]
Seed = Annotated[int, Count(0, 2**32 - 1)]
VALUE = "a value of the key, with its unit"
NOT_VARIED = ("title", "extends")
_EXAMPLE = 'Write { from = "190 degC", to = "260 degC", steps = 8 } or a list such as ["brass", "copper"].'


def _something_varied(value: dict[str, Any]) -> dict[str, Any]:
    if not value:
        raise bad_value("at least one key of a case with its values", _EXAMPLE)
    return value


class SweepTable(Table):
    """A table of a sweep file."""

    called = "a sweep file"
    page = "meltzone sweep --help"


class RangeTable(SweepTable):
    """A range of a number, with the units of the case file."""

    called = "a range"

    start: Any = key(..., "First value.", words=VALUE, example='"190 degC"', alias="from")
    end: Any = key(..., "Last value.", words=VALUE, example='"260 degC"', alias="to")
    steps: Steps | None = key(
        None,
        "How many values, both ends included. Must be given without [sample]; with it, the sample draws from the whole "
        "range where steps are left out, and from these values where they are given.",
    )
    scale: Literal["linear", "log"] = key(
        "linear", "Equal differences, or equal ratios; temperatures are always linear."
    )


class SampleTable(SweepTable):
    """A Latin hypercube instead of all combinations. Leave the table out for all combinations."""

    points: Points = key(..., "How many points. Every value of a list gets an even share of them.", example="100")
    seed: Seed = key(0, "The same seed draws the same points.")


class SweepModel(SweepTable):
    """A sweep: one case, and what is varied in it."""

    strays = "Keys of the case stand below [vary]."

    title: Line = key("", "One line that says what the sweep asks; it heads the summary and the pictures.")
    case: Text = key(
        ..., "The base case: a file beside this one, or the name of a shipped example.", example='"short-block"'
    )
    vary: Annotated[dict[str, Any], AfterValidator(_something_varied)] = key(
        ..., "What is varied: dotted keys of a case, each with a range or a list of values.", words="table",
        example='"heater.setpoint" = { from = "190 degC", to = "260 degC", steps = 8 }',
    )  # fmt: skip
    band: bool = key(
        False,
        "Whether every point has the 90 % band of its ceiling, for which it takes three times as long.",
        words="true or false",
    )
    sample: SampleTable | None = key(None, SampleTable.__doc__ or "", words="table")


def field_of(name: str) -> FieldInfo | None:
    """The schema's field for the dotted key `name` of a case, a whole table included; None where a case has no such key."""
    head, *rest = name.split(".")
    top, model = CaseModel.model_fields.get(head), table_model(head)
    if head in NOT_VARIED or top is None:
        return None
    if not rest:
        return top if head != "materials" else None
    if model is None:
        return top if head == "materials" and all(rest) else None
    field = model.model_fields.get(rest[0])
    if field is None or len(rest) == 1:
        return field
    return field if get_origin(field.annotation) is dict and len(rest) == 2 and rest[1] else None


def known_keys() -> list[str]:
    """Every dotted key that can be varied, whole tables included."""
    names = [name for name, _ in tables()]
    return [*names, *(entry.key for name in names for entry in entries(name))]


def unknown_key(layer: Layer, path: Sequence[str]) -> CaseError:
    """The error for a varied key, at `path` below [vary], that a case does not have."""
    name, known = ".".join(path), known_keys()
    same = [each for each in known if each.rpartition(".")[2] == name.rpartition(".")[2]]
    found = [*same, *(each for each in nearest(name, known, 3) if each not in same)][:3]
    hint = f"Did you mean {' or '.join(found)}?" if found else "meltzone new FILE writes them all."
    if name in NOT_VARIED:
        hint = "Write one sweep for each case, or vary whole tables such as nozzle or sleeve."
    if name.partition(".")[0] == "materials":
        hint = 'Name the card and its property, as in "materials.NAME.conductivity".'
    return at_key([layer], ["vary", *path], "a dotted key of a case", hint)


def is_range(value: object) -> bool:
    """Whether `value` is meant as a range and not as a table of further keys."""
    words = [field.alias or name for name, field in RangeTable.model_fields.items()]
    return isinstance(value, Mapping) and any(word in value for word in words)
