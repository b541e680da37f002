"""The schema as a flat list of documented keys: what the reference page and the starter case are written from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from meltzone.cases.inputs.errors import table_model
from meltzone.cases.inputs.fields import Count, Measured, Ratio, default_words, measure_of
from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.schema import CaseModel

# Examples for keys whose default is empty or said in words.
EXAMPLES = {
    "title": '"Short block, setpoint raised"',
    "extends": '"short-block"',
    "heater.setpoint": '"210 degC"',
    "feeder.grip": '"60 N"',
    "channels.ring_diameter": '"1.3 mm"',
    "nozzle.lower_bore": '"1.6 mm"',
    "nozzle.lower_bore_length": '"5 mm"',
    "nozzle.taper_length": '"2 mm"',
    "liner.end": '"2 mm"',
    "surroundings.films": '{ "block top" = "15 W/m^2/K" }',
    "surroundings.emissivities": "{ block = 0.1 }",
}


@dataclass(frozen=True)
class Entry:
    """One key: its `table` ('' at the top), `name`, `kind` in words, `default` as TOML or in words, an `example`."""

    table: str
    name: str
    kind: str
    default: str
    description: str
    example: str

    @property
    def key(self) -> str:
        """The dotted key."""
        return f"{self.table}.{self.name}" if self.table else self.name


def tables() -> list[tuple[str, str]]:
    """Names and descriptions of the tables with fixed keys, in the schema's order."""
    fields = CaseModel.model_fields
    return [(name, field.description or "") for name, field in fields.items() if table_model(name)]


def entries(table: str) -> list[Entry]:
    """The documented keys of a table; '' gives the top-level keys that are no tables of fixed keys."""
    model = table_model(table) or CaseModel
    inside = model.model_fields.items()
    return [_entry(table, name, field) for name, field in inside if table or not table_model(name)]


def as_toml(field: FieldInfo, value: Any) -> str:
    """The value of a field as TOML, SI numbers with their usual unit; '' for None and empty mappings."""
    measure = measure_of(field)
    if value is None or value == {}:
        return ""
    if isinstance(value, dict):
        items = ", ".join(f"{written_form(name)} = {measure.write(each)}" for name, each in value.items() if measure)
        return f"{{ {items} }}"
    return measure.write(value) if measure is not None else written_form(value, 200)


def _entry(table: str, name: str, field: FieldInfo) -> Entry:
    key = f"{table}.{name}" if table else name
    written = "" if field.is_required() else as_toml(field, field.default)
    default = "required" if field.is_required() else default_words(field) or written or "none"
    example = EXAMPLES.get(key) or written
    return Entry(table, name, kind_of(field), default, field.description or "", example)


def kind_of(field: FieldInfo) -> str:
    """What may stand there, in words."""
    measure = measure_of(field)
    counts = [item for item in field.metadata if isinstance(item, Count)]
    if counts:
        return counts[0].words
    words = _measure_words(measure) if measure is not None else _annotation_words(field.annotation)
    return f"table of {words}" if get_origin(field.annotation) is dict and measure is not None else words


def _measure_words(measure: Measured | Ratio) -> str:
    if isinstance(measure, Ratio):
        return f"number {measure.limits}"
    noun = measure.kind.name.split(" ", 1)[1]
    return f"{noun} [{measure.kind.shown}]" if measure.limits == "of any size" else f"{noun} {measure.limits}"


def _annotation_words(annotation: Any) -> str:
    arguments = get_args(annotation)
    if get_origin(annotation) is Literal:
        return " or ".join(f'"{word}"' for word in arguments)
    if get_origin(annotation) is tuple:
        return f"list of {_annotation_words(arguments[0])}"
    if get_origin(annotation) is dict:
        return "tables"
    if annotation is bool or bool in arguments:
        return "true or false"
    if any(get_origin(argument) is tuple for argument in arguments):
        return "text or list of text"
    return "text"
