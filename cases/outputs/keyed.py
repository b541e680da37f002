"""Records from tables of documented keys: nested as JSON holds them, and as the rows of the page that explains them."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

DIGITS = 8

Source = TypeVar("Source")


@dataclass(frozen=True)
class Key(Generic[Source]):
    """One entry: dotted `path`, `unit` ('' for words and counts), `meaning`, and how it is read off the source."""

    path: str
    unit: str
    meaning: str
    read: Callable[[Source], Any]


def nested(keys: Iterable[Key[Source]], source: Source) -> dict[str, Any]:
    """What the `keys` read off `source`, by their paths: plain types only, numbers to eight digits."""
    record: dict[str, Any] = {}
    for key in keys:
        *tables, name = key.path.split(".")
        place = record
        for table in tables:
            place = place.setdefault(table, {})
        place[name] = rounded(key.read(source))
    return record


def rows_of(keys: Iterable[Key[Any]]) -> str:
    """The `keys` as rows of a table in Markdown."""
    return "".join(f"| `{key.path}` | {key.unit or '-'} | {key.meaning} |\n" for key in keys)


def as_json(value: Any) -> str:
    """`value` as JSON text with a line break at the end; raises ValueError on numbers that JSON does not know."""
    return json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def rounded(value: Any) -> Any:
    """`value` with every number in it cut to the digits that are printed."""
    if isinstance(value, Mapping):
        return {str(name): rounded(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(item) for item in value]
    if isinstance(value, float):
        return float(f"{float(value):.{DIGITS}g}")
    return value
