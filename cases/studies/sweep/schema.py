"""The schema of a sweep file: what a range, a sample and the whole file may hold, with the meaning of every key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal, get_origin

from pydantic import AfterValidator, BeforeValidator, Field, StrictStr, ValidationError
from pydantic.fields import FieldInfo

from meltzone.cases.inputs.errors import CaseError, nearest
from meltzone.cases.inputs.fields import BAD_VALUE, Line, Table, bad_value
from meltzone.cases.inputs.layers import Layer, find_line, locate, written_form
from meltzone.cases.inputs.outline import entries, tables
from meltzone.cases.inputs.parameters import table_model
from meltzone.cases.inputs.schema import CaseModel

MOST_VALUES = 1000  # of one key
MOST_POINTS = 100_000  # of a sweep
MOST_KEYS = 20
NOT_VARIED = ("title", "extends")
_EXAMPLE = 'Write { from = "190 degC", to = "260 degC", steps = 8 } or a list such as ["brass", "copper"].'


@dataclass(frozen=True)
class Whole:
    """A whole number from `least` to `most`."""

    least: int
    most: int

    def __call__(self, value: object) -> int:
        """`value`; raises PydanticCustomError with what was expected."""
        if isinstance(value, bool) or not isinstance(value, int) or not self.least <= value <= self.most:
            raise bad_value(f"a whole number from {self.least} to {self.most}", "Write it without quotes.")
        return value


def _something_varied(value: dict[str, Any]) -> dict[str, Any]:
    if not value:
        raise bad_value("at least one key of a case with its values", _EXAMPLE)
    return value


def _about(default: Any, words: str, description: str, **more: Any) -> Any:
    """A key of a sweep file; `words` say what may stand there."""
    return Field(default, description=description, json_schema_extra={"words": words}, **more)


class RangeTable(Table):
    """A range of a number, with the units of the case file."""

    start: Any = _about(..., "a value of the key, with its unit", "First value.", alias="from")
    end: Any = _about(..., "a value of the key, with its unit", "Last value.", alias="to")
    steps: Annotated[int, BeforeValidator(Whole(2, MOST_VALUES))] | None = _about(
        None,
        f"whole number from 2 to {MOST_VALUES}",
        "How many values, both ends included. Must be given without [sample]; with it, the sample draws from the whole "
        "range where steps are left out, and from these values where they are given.",
    )
    scale: Literal["linear", "log"] = _about(
        "linear", '"linear" or "log"', "Equal differences, or equal ratios; temperatures are always linear."
    )


class SampleTable(Table):
    """A Latin hypercube instead of all combinations. Leave the table out for all combinations."""

    points: Annotated[int, BeforeValidator(Whole(1, MOST_POINTS))] = _about(
        ...,
        f"whole number from 1 to {MOST_POINTS}",
        "How many points. Every value of a list gets an even share of them.",
    )
    seed: Annotated[int, BeforeValidator(Whole(0, 2**32 - 1))] = _about(
        0, "whole number", "The same seed draws the same points."
    )


class SweepModel(Table):
    """A sweep: one case, and what is varied in it."""

    title: Line = _about("", "text", "One line that says what the sweep asks; it heads the summary and the pictures.")
    case: Annotated[StrictStr, AfterValidator(str.strip)] = _about(
        ..., "text", "The base case: a file beside this one, or the name of a shipped example."
    )
    vary: Annotated[dict[str, Any], AfterValidator(_something_varied)] = _about(
        ..., "table", "What is varied: dotted keys of a case, each with a range or a list of values."
    )
    sample: SampleTable | None = _about(None, "table", SampleTable.__doc__ or "")


def checked(model: type[Table], data: Any, layer: Layer, path: Sequence[str] = ()) -> Any:
    """`data`, which stands at the key `path` of the file of `layer`, as a `model`; raises CaseError."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise _in_words(error, model, layer, path) from error


def refused(layer: Layer, path: Sequence[str], expected: str, hint: str, value: Any = None) -> CaseError:
    """The error for the key `path` of a sweep file; `value` instead of the one that stands there."""
    place = locate([layer], path)
    shown = value if value is not None or place is None else place.written
    written = None if shown is None else written_form(shown)
    return CaseError(layer.label, find_line(layer.text, path), ".".join(path), written, expected, hint)


def _in_words(error: ValidationError, model: type[Table], layer: Layer, path: Sequence[str]) -> CaseError:
    found = error.errors(include_url=False)
    first = next((each for each in found if each["type"] == "extra_forbidden"), found[0])  # misspelt, hence missing
    inner = [part for part in first["loc"] if isinstance(part, str)]
    here, kind, context = [*path, *inner], first["type"], first.get("ctx", {})
    if kind == BAD_VALUE:
        return refused(layer, here, context["expected"], context["hint"])
    if kind == "extra_forbidden":
        table: Any = SampleTable if inner[:-1] == ["sample"] else model
        known = [field.alias or name for name, field in table.model_fields.items()]
        close = nearest(inner[-1], known)
        field = field_of(inner[-1])
        hint = (
            f"Did you mean {close[0]}?" if close else "Keys of the case stand below [vary]." if field else "Remove it."
        )
        return refused(layer, here, f"one of: {', '.join(known)}", hint)
    if kind == "missing":
        hints = {"case": 'Add case = "short-block".', "vary": f"Add [vary]. {_EXAMPLE}", "points": "Add points = 100."}
        return refused(layer, here, "a value; it has no default", hints.get(inner[-1], f"Add {inner[-1]}."))
    if kind == "literal_error":
        return refused(layer, here, context["expected"].replace("'", '"'), "Choose one of them.")
    words = {"dict_type": "a table", "model_type": "a table", "string_type": "text in quotes"}
    return refused(layer, here, words.get(kind, first["msg"]), "See docs/sweep.md.")


def field_of(key: str) -> FieldInfo | None:
    """The schema's field for a dotted `key` of a case, a whole table included; None where a case has no such key."""
    head, *rest = key.split(".")
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


def unknown_key(layer: Layer, path: Sequence[str], key: str) -> CaseError:
    """The error for a varied `key` that a case does not have."""
    known = known_keys()
    last = key.rpartition(".")[2]
    same = [name for name in known if name.rpartition(".")[2] == last]
    close = [name for name in nearest(key, known, 3) if name not in same]
    found = [*same, *close][:3]
    hint = f"Did you mean {' or '.join(found)}?" if found else "See docs/case-file.md for all keys."
    if key in NOT_VARIED:
        hint = "Write one sweep for each case, or vary whole tables such as nozzle or sleeve."
    if key.partition(".")[0] == "materials":
        hint = 'Name the card and its property, as in "materials.NAME.conductivity".'
    return refused(layer, ["vary", *path], "a dotted key of a case", hint)


def is_range(value: object) -> bool:
    """Whether `value` is meant as a range and not as a table of further keys."""
    words = [field.alias or name for name, field in RangeTable.model_fields.items()]
    return isinstance(value, Mapping) and any(word in value for word in words)
