"""The one error that reading a case raises, and the translation of every other error into it."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from textwrap import fill
from typing import Any

from pydantic import BaseModel, ValidationError

from meltzone.cases.inputs.fields import BAD_VALUE, measure_of
from meltzone.cases.inputs.layers import Layer, dotted, locate, printable, written_form
from meltzone.cases.inputs.schema import OPTIONAL_TABLES, CaseModel
from meltzone.cases.inputs.sizes import expected_and_hint
from meltzone.geometry.errors import GeometryError
from meltzone.materials.errors import CardError, UnknownMaterial

# Where the case file calls a dimension by another name than the part does.
CASE_KEYS = {
    "block.heater_radius": "heater.ring_radius",
    "block.heater_width": "heater.ring_width",
    "block.sensor_radius": "heater.sensor_radius",
    "block.sensor_height": "heater.sensor_height",
}
_ABSENT = object()
_LAYOUT: dict[str, Any] = {
    "width": 110,
    "initial_indent": "  ",
    "subsequent_indent": " " * 12,
    "break_long_words": False,
    "break_on_hyphens": False,
}


class CaseError(Exception):
    """A case that cannot be used: str() is the whole message for the person who wrote it.

    `file` as shown, `line` (from 1) or None, dotted `key` or None, `value` as written or None, what was `expected`,
    and a `hint` what to do.
    """

    def __init__(
        self, file: str, line: int | None, key: str | None, value: str | None, expected: str, hint: str
    ) -> None:
        self.file, self.line, self.key, self.value = file, line, key, value
        self.expected, self.hint = expected, hint
        super().__init__(str(self))

    def __str__(self) -> str:
        rows = {"key": self.key, "value": self.value, "expected": self.expected, "hint": self.hint}
        where = self.file if self.line is None else f"{self.file}, line {self.line}"
        lines = [fill(f"{name + ':':<10}{printable(text)}", **_LAYOUT) for name, text in rows.items() if text]
        return "\n".join([printable(where), *lines])


def nearest(name: str, known: Sequence[str], count: int = 1) -> list[str]:
    """The `count` names of `known` that look most like `name`; empty where none comes close."""
    by_lower = {candidate.lower(): candidate for candidate in known}
    return [by_lower[match] for match in difflib.get_close_matches(name.lower()[:80], by_lower, count, 0.55)]


def at_key(layers: Sequence[Layer], path: Sequence[str], expected: str, hint: str, default: Any = _ABSENT) -> CaseError:
    """The error for the key `path`, with file, line and value as written; `default` [SI] is shown where it is not."""
    key = dotted(path)
    place = locate(layers, path)
    if place is not None:
        return CaseError(place.file, place.line, key, written_form(place.written), expected, hint)
    files = [layer for layer in layers if layer.text] or list(layers)  # an override has set something else
    above = [found for depth in range(len(path) - 1, 0, -1) if (found := locate(files, path[:depth])) is not None]
    file, line = (above[0].file, above[0].line) if above else (files[0].label, None)
    value = None if default is _ABSENT else f"{_default_form(path, default)} (the default, not written in the case)"
    return CaseError(file, line, key, value, expected, hint)


def from_validation(error: ValidationError, layers: Sequence[Layer]) -> CaseError:
    """The first of pydantic's complaints, in terms of the case file."""
    first = error.errors(include_url=False)[0]
    path = [part for part in first["loc"] if isinstance(part, str)]
    kind, context = first["type"], first.get("ctx", {})
    if kind == "extra_forbidden":
        return _unknown_key(path, layers)
    if kind == BAD_VALUE:
        expected, hint = context["expected"], context["hint"]
    elif kind == "missing":
        measure = _measure_at(path)
        expected = "a value; this key has no default"
        hint = f"Add {path[-1]} = {measure.write(483.15)} below [{path[0]}]." if measure else "Add it."
    else:
        expected, hint = _plain_words(first, path, context)
    return at_key(layers, path, expected, hint)


def from_geometry(error: GeometryError, layers: Sequence[Layer]) -> CaseError:
    """A dimension that the parts refuse, at the line where it was written."""
    key = CASE_KEYS.get(error.key, error.key)
    return at_key(layers, key.split("."), *expected_and_hint(error), default=error.value)


def from_unknown_material(
    error: UnknownMaterial, path: Sequence[str], layers: Sequence[Layer], default: str
) -> CaseError:
    """A material that has no card, asked for at the key `path`."""
    close = list(error.nearest)
    hint = f"Nearest: {', '.join(close)}." if close else f"Known: {', '.join(error.known)}."
    own = "Or write a card of your own in [materials.NAME]."
    return at_key(layers, path, f"the name of a {error.kind}", f"{hint} {own}", default=default)


def from_card(error: CardError, name: str, layers: Sequence[Layer]) -> CaseError:
    """A card in [materials.NAME] that cannot be used."""
    inner = [part for part in str(error.key).split(".") if part]
    if inner[:2] == ["materials", name]:
        inner = inner[2:]
    return at_key(layers, ["materials", name, *inner], error.expected, error.hint)


def _unknown_key(path: Sequence[str], layers: Sequence[Layer]) -> CaseError:
    *table, name = path
    known = list(_model_at(table).model_fields)
    place = f"[{dotted(table)}]" if table else "a case"
    return at_key(layers, path, f"a key of {place}: {', '.join(known)}", _hint_for_unknown(table, name, known))


def _hint_for_unknown(table: Sequence[str], name: str, known: Sequence[str]) -> str:
    if close := nearest(name, known):
        return f"Did you mean {close[0]}?"
    top = CaseModel.model_fields
    if table and name in top:
        return f"{name} belongs to the top of the file, above the first [table], or is a table of its own, [{name}]."
    homes = [word for word in top if (model := table_model(word)) and name in model.model_fields]
    if homes:
        return f"{name} is a key of {' and '.join(f'[{home}]' for home in homes)}."
    return "Remove it, or see the reference of case files."


def _plain_words(first: Mapping[str, Any], path: Sequence[str], context: Mapping[str, Any]) -> tuple[str, str]:
    """Expectation and hint for pydantic's own types of complaint."""
    kind = first["type"]
    if kind == "literal_error":
        choices = context["expected"].replace("'", '"')
        close = nearest(str(first["input"]), [word.strip('" ') for word in choices.replace(" or ", ",").split(",")])
        return choices, f'Did you mean "{close[0]}"?' if close else "Choose one of them."
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        optional = path[0] in OPTIONAL_TABLES and len(path) == 1
        hint = f"Write [{dotted(path)}] on a line of its own and the keys below it."
        return ("a table, or false to drop an inherited one" if optional else "a table"), hint
    words = {
        "bool_type": ("true or false", "Write it without quotes."),
        "string_type": ("text", "Put it in quotes."),
        "string_too_short": ("text of at least one character", "Write a name between the quotes."),
        "string_too_long": (f"text of at most {context.get('max_length')} characters", "Shorten it."),
        "tuple_type": ("a list", 'Write it in brackets, as in ["nozzle", "block bottom"].'),
    }
    return words.get(kind, (first["msg"], "See the reference of case files."))


def table_model(name: str) -> type[BaseModel] | None:
    """The model of the table `name` of a case; None where the key is no table of fixed keys."""
    field = CaseModel.model_fields.get(name)
    candidates = [field.annotation, *getattr(field.annotation, "__args__", ())] if field is not None else []
    models = [item for item in candidates if isinstance(item, type) and issubclass(item, BaseModel)]
    return models[0] if models else None


def _model_at(table: Sequence[str]) -> type[BaseModel]:
    return (table_model(table[0]) if table else None) or CaseModel


def _measure_at(path: Sequence[str]) -> Any:
    field = _model_at(path[:-1]).model_fields.get(path[-1])
    return measure_of(field) if field is not None else None


def _default_form(path: Sequence[str], value: Any) -> str:
    measure = _measure_at(path)
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return measure.write(value) if measure is not None and is_number else written_form(value)
