"""The schema as a flat list of documented keys: what the reference page and the starter case are written from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from meltzone.cases.inputs.fields import Count, about, in_case_file, number_kind
from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.parameters import table_model
from meltzone.cases.inputs.schema import CaseModel


@dataclass(frozen=True)
class Entry:
    """One key: its `table` ('' at the top), `name`, `kind` in words, `default` as TOML or in words, an `example`.

    `plausible` is how far the number may be off where nobody says better, '' for what is known as it stands.
    """

    table: str
    name: str
    kind: str
    default: str
    description: str
    example: str
    plausible: str = ""

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
    kind = number_kind(field)
    if value is None or value == {}:
        return ""
    if kind is None:
        return written_form(value, 200)
    if isinstance(value, dict):
        return (
            f"{{ {', '.join(f'{written_form(name)} = {in_case_file(each, kind)}' for name, each in value.items())} }}"
        )
    return in_case_file(value, kind)


def _entry(table: str, name: str, field: FieldInfo) -> Entry:
    known, written = about(field), "" if field.is_required() else as_toml(field, field.default)
    default = "required" if field.is_required() else known.default_words or written or "none"
    example, kind = known.example or written, kind_of(field)
    return Entry(table, name, kind, default, field.description or "", example, range_words(known.plausible))


def range_words(plausible: str) -> str:
    """A declared range as tables show it."""
    if plausible.startswith("factor "):
        return f"times or over {plausible.removeprefix('factor ')}"
    return {"": "", "card": "the card's"}.get(plausible, f"± {plausible}")


def kind_of(field: FieldInfo) -> str:
    """What may stand there, in words."""
    kind = number_kind(field)
    counts = [item for item in (*field.metadata, *_inner(field.annotation)) if isinstance(item, Count)]
    if counts:
        return counts[0].words
    if kind is None:
        return _annotation_words(field.annotation)
    words = f"{kind.noun} [{kind.shown}]" if kind.limits == "of any size" else f"{kind.noun} {kind.limits}"
    words = words if kind.unit else f"number {kind.limits}"
    return f"table of {words}" if get_origin(field.annotation) is dict else words


def _inner(annotation: Any) -> list[Any]:
    """What is said of the type that may be left out."""
    return [item for inner in get_args(annotation) for item in getattr(inner, "__metadata__", ())]


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
