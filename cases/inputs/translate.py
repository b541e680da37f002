"""Every other error of reading translated into the one error: those of pydantic, of the parts, of materials' cards."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar, get_origin

from pydantic import ValidationError

from meltzone.cases.inputs.errors import CaseError, at_key
from meltzone.cases.inputs.fields import BAD_VALUE, Table, about, submodel
from meltzone.cases.inputs.layers import KeyPath, Layer, dotted
from meltzone.cases.inputs.parameters import key_at, table_model
from meltzone.cases.inputs.schema import OPTIONAL_TABLES, CaseModel
from meltzone.cases.inputs.sizes import expected_and_hint
from meltzone.geometry.errors import GeometryError
from meltzone.materials.errors import CardError, UnknownMaterial, nearest

Model = TypeVar("Model", bound=Table)


def checked(model: type[Model], data: Any, layers: Sequence[Layer], path: KeyPath = ()) -> Model:
    """`data`, which stands at the key `path` of the files of `layers`, as a `model`; raises CaseError for the first complaint.

    A key that is not known comes first: it may be what is missed elsewhere, misspelt.
    """
    try:
        return model.model_validate(data)
    except ValidationError as error:
        complaints = error.errors(include_url=False)
    first = next((each for each in complaints if each["type"] == "extra_forbidden"), complaints[0])
    inside = [part for part in first["loc"] if isinstance(part, str)]
    expected, hint = _in_words(model, inside, first, first.get("ctx", {}), path)
    raise at_key(layers, [*path, *inside], expected, hint)


def _in_words(
    model: type[Table], inside: Sequence[str], first: Mapping[str, Any], context: Mapping[str, Any], path: KeyPath
) -> tuple[str, str]:
    """Expectation and hint for a complaint about the key `inside` of a `model` that stands at `path`."""
    kind = first["type"]
    if kind == BAD_VALUE:
        return context["expected"], context["hint"]
    if kind == "extra_forbidden":
        return _unknown_key(model, inside)
    if kind == "missing":
        return "a value; this key has no default", _how_to_add(model, inside)
    if kind == "literal_error":
        choices = context["expected"].replace("'", '"')
        close = nearest(str(first["input"]), [word.strip('" ') for word in choices.replace(" or ", ",").split(",")])
        return choices, f'Did you mean "{close[0]}"?' if close else "Choose one of them."
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        optional = model is CaseModel and len(inside) == 1 and inside[0] in OPTIONAL_TABLES
        hint = f"Write [{dotted([*path, *inside])}] on a line of its own and the keys below it."
        return ("a table, or false to drop an inherited one" if optional else "a table"), hint
    words = {
        "bool_type": ("true or false", "Write it without quotes."),
        "string_type": ("text", "Put it in quotes."),
        "string_too_short": ("text of at least one character", "Write a name between the quotes."),
        "string_too_long": (f"text of at most {context.get('max_length')} characters", "Shorten it."),
        "tuple_type": ("a list", 'Write it in brackets, as in ["nozzle", "block bottom"].'),
        "list_type": ("a list of tables", f"Begin each with [[{dotted(inside)}]]."),
    }
    return words.get(kind, (first["msg"], f"See {model.page}."))


def _model_at(model: type[Table], path: Sequence[str]) -> type[Table]:
    for name in path:
        model = submodel(model, name) or model
    return model


def _how_to_add(model: type[Table], path: Sequence[str]) -> str:
    *above, name = path
    fields = _model_at(model, above).model_fields
    field = fields.get(name) or next(each for each in fields.values() if each.alias == name)
    example, below = about(field).example, f" below [{dotted(above)}]" if above else ""
    if get_origin(field.annotation) is dict or submodel(model, name):
        return f"Add [{name}]{f', as in {example}' if example else ''}."
    return f"Add {name} = {example}{below}." if example else f"Add {name}{below}."


def _unknown_key(model: type[Table], path: Sequence[str]) -> tuple[str, str]:
    *above, name = path
    known = [field.alias or word for word, field in _model_at(model, above).model_fields.items()]
    place = f"[{dotted(above)}]" if above else model.called
    return f"a key of {place}: {', '.join(known)}", _hint_for_unknown(model, above, name, known)


def _hint_for_unknown(model: type[Table], above: Sequence[str], name: str, known: Sequence[str]) -> str:
    head = name.partition(".")[0]
    if model.strays and not above and (head in CaseModel.model_fields or "." in name):
        return model.strays
    if close := nearest(name, known):
        return f"Did you mean {close[0]}?"
    if model is not CaseModel:
        return f"Remove it, or see {model.page}."
    top = CaseModel.model_fields
    if above and name in top:
        return f"{name} belongs to the top of the file, above the first [table], or is a table of its own, [{name}]."
    homes = [word for word in top if (inner := table_model(word)) and name in inner.model_fields]
    if homes:
        return f"{name} is a key of {' and '.join(f'[{home}]' for home in homes)}."
    return f"Remove it, or see {model.page}."


def from_geometry(error: GeometryError, layers: Sequence[Layer]) -> CaseError:
    """A dimension that the parts refuse, at the line where it was written."""
    key = key_at(f"arrangement.{error.key}")
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
