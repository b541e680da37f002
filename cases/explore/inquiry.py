"""What the page asks: every key of a case as a field of the form, made from the schema and the registry of numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.fields import about, number_kind
from meltzone.cases.inputs.layers import locate, written_form
from meltzone.cases.inputs.outline import Entry, entries, tables
from meltzone.cases.inputs.parameters import Parameter, parameters, table_model
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.schema import OPTIONAL_TABLES
from meltzone.fem.problem import Problem
from meltzone.materials.library import names
from meltzone.materials.units import in_shown

STEPS = 10  # a slider reaches so many natural steps to either side
FACTOR = 3.0  # or so many times up and down, for what moves in percent
FINE = 10.0  # notches of a slider in a natural step
MATERIAL = "material"


def form(case: Case) -> dict[str, Any]:
    """Tables and keys of the form for `case`, with what stands there now, as plain types; raises CaseError."""
    problem = problem_of(case)
    return {
        "title": case.model.title or case.name,
        "file": case.file,
        "tables": [_table(case, problem, name, meaning) for name, meaning in tables()],
        "materials": {"polymer": _choices(case, "polymer"), "solid": _choices(case, "solid")},
    }


def _table(case: Case, problem: Problem, name: str, meaning: str) -> dict[str, Any]:
    return {
        "name": name,
        "meaning": meaning,
        "optional": name in OPTIONAL_TABLES,
        "present": getattr(case.model, name) is not None,
        "keys": [_key(case, problem, entry) for entry in entries(name)],
    }


def _key(case: Case, problem: Problem, entry: Entry) -> dict[str, Any]:
    model = table_model(entry.table)
    assert model is not None
    field, number = model.model_fields[entry.name], parameters().get(entry.key)
    known = about(field)
    return {
        "key": entry.key,
        "label": entry.name.replace("_", " "),
        "noun": known.noun or f"{entry.name} of the {entry.table}".replace("_", " "),
        "meaning": entry.description,
        "expects": entry.kind,
        "role": known.role,
        "control": _control(entry, field),
        "choices": _words(field),
        "value": _written(case, entry.key),
        "standing": _standing(entry, number, problem),
        "example": entry.example,
        **(_reach(number, problem) if number is not None and not number.is_mapping else {}),
    }


def _control(entry: Entry, field: FieldInfo) -> str:
    """How it is asked for: a material, one of some words, yes or no, a number, or text."""
    if entry.name == MATERIAL:
        return "polymer" if entry.table == "polymer" else "solid"
    if _words(field):
        return "choice"
    if field.annotation is bool or bool in get_args(field.annotation):
        return "switch"
    is_number = number_kind(field) is not None and get_origin(field.annotation) is not dict
    return "number" if is_number else "text"


def _words(field: FieldInfo) -> list[str]:
    return list(get_args(field.annotation)) if get_origin(field.annotation) is Literal else []


def _written(case: Case, key: str) -> str:
    """What stands there as it would be typed; '' where no file says it."""
    place = locate(case.layers, key.split("."))
    if place is None:
        return ""
    return _typed(place.written)


def _typed(value: Any) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{written_form(name)} = {_inside(item)}' for name, item in value.items())} }}"
    return written_form(value, 1000)


def _inside(value: Any) -> str:
    return written_form(value, 1000)


def _standing(entry: Entry, number: Parameter | None, problem: Problem) -> str:
    """What counts while nothing is typed, in words."""
    value = None if number is None or number.is_mapping else number.in_problem(problem)
    if number is not None and isinstance(value, float):
        return number.words(value)
    return entry.default.strip('"')


def _reach(number: Parameter, problem: Problem) -> dict[str, Any]:
    """Unit, natural step and ends of a slider, in the unit that is shown; nothing where there is no value to start from."""
    value = number.in_problem(problem)
    if not isinstance(value, int | float) or not number.step:
        return {}
    low, high = reach(number, value)
    ends = [in_shown(each, number.kind) for each in (value, low, high)]
    step = abs(in_shown(value + number.step_at(value), number.kind) - ends[0]) or abs(ends[0]) / FINE
    notch = _round_down(step / FINE)
    return {
        "unit": number.kind.shown,
        "now": _cut(ends[0]),
        "step": _cut(step),
        "notch": notch,
        "low": _cut(math.ceil(ends[1] / notch - 1e-9) * notch),
        "high": _cut(math.floor(ends[2] / notch + 1e-9) * notch),
    }


def reach(number: Parameter, value: float) -> tuple[float, float]:
    """Least and greatest value [SI] that a slider or a sweep of a `number` at `value` [SI] comes to."""
    step = number.step_at(value)
    if number.step.endswith("%"):
        low, high = value / FACTOR, value * FACTOR
    else:
        low, high = value - STEPS * step, value + STEPS * step
        if not number.is_temperature and low <= 0.0:
            low = min(step / 2.0, value / 2.0)
    return number.clipped(low), number.clipped(high)


def _round_down(value: float) -> float:
    """The greatest of 1, 2, 5 times a power of ten that is no more than `value`."""
    power = 10.0 ** math.floor(math.log10(value) + 1e-9)
    return float(f"{max(n for n in (1.0, 2.0, 5.0) if n * power <= value * (1 + 1e-9)) * power:.6g}")


def _cut(value: float) -> float:
    return float(f"{value:.9g}")


def _choices(case: Case, kind: Literal["polymer", "solid"]) -> list[str]:
    """Cards to choose from, the case's own first."""
    own = [name for name, card in case.model.materials.items() if card.get("kind", kind) == kind]
    return [*own, *(name.replace("_", " ") for name in names(kind))]


def in_form(shown: Mapping[str, Any]) -> Iterator[str]:
    """The keys that a form which was made has."""
    return (key["key"] for table in shown["tables"] for key in table["keys"])
