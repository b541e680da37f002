"""The chain of files a case is made of: merging them, and finding which file and line a key comes from."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

KeyPath = Sequence[str | int]  # names of a key, with the number of a row in a list of tables
DROPPED = False  # `sleeve = false` drops an inherited table
_CARD_DEPTH = 3  # materials.NAME.property is replaced as a whole: half of one table of values fits no other

_BARE = r"[A-Za-z0-9_-]+"
_PART = rf"""(?:{_BARE}|"(?:[^"\\\n]|\\.)*"|'[^'\n]*')"""
_DOTTED = rf"{_PART}(?:[ \t]*\.[ \t]*{_PART})*"
_HEADER = re.compile(rf"[ \t]*(\[\[?)[ \t]*({_DOTTED})[ \t]*\]")
_ASSIGNMENT = re.compile(rf"[ \t]*({_DOTTED})[ \t]*=")


@dataclass(frozen=True)
class Layer:
    """One file of the chain: its name as shown to people, its text, its parsed data.

    `rows` are the lines of its rows, in place of a `text`, where it is a table of cells.
    """

    label: str
    text: str
    data: Mapping[str, Any]
    rows: tuple[int, ...] = ()

    def line(self, path: KeyPath) -> int | None:
        """The line of the key `path`, or of the nearest table above it."""
        if self.rows and len(path) > 1 and isinstance(path[1], int):
            return self.rows[path[1]]
        return find_line(self.text, path)


@dataclass(frozen=True)
class Place:
    """Where a key stands; `line` counts from 1 and is None where no line can be given; `written` is the value there."""

    file: str
    line: int | None
    written: Any


def merge(layers: Sequence[Layer]) -> dict[str, Any]:
    """One mapping of all layers, the first layer winning; tables are merged key by key."""
    merged: dict[str, Any] = {}
    for layer in reversed(layers):
        merged = _merged(merged, layer.data, ())
    return merged


def _merged(base: Mapping[str, Any], top: Mapping[str, Any], path: tuple[str, ...]) -> dict[str, Any]:
    result = dict(base)
    for name, value in top.items():
        here = (*path, name)
        under = result.get(name)
        whole = here[0] == "materials" and len(here) >= _CARD_DEPTH
        if isinstance(value, Mapping) and isinstance(under, Mapping) and not whole:
            result[name] = _merged(under, value, here)
        else:
            result[name] = value
    return result


def locate(layers: Sequence[Layer], path: KeyPath) -> Place | None:
    """The place of the key `path` in the nearest layer that holds it, or None where it is written nowhere."""
    for layer in layers:
        found, value = _lookup(layer.data, path)
        if found:
            return Place(layer.label, layer.line(path), value)
        if value is DROPPED:
            return None
    return None


def _lookup(data: Any, path: KeyPath) -> tuple[bool, Any]:
    """Whether `path` is in `data`, and its value; where a table above it is dropped the value is DROPPED."""
    for name in path:
        if isinstance(name, int) and isinstance(data, list) and name < len(data):
            data = data[name]
            continue
        if not isinstance(data, Mapping):
            return False, data if data is DROPPED else None
        if name not in data:
            return False, None
        data = data[name]
    return True, data


def find_line(text: str, path: KeyPath) -> int | None:
    """The line (from 1) that sets the key `path`, or the nearest table above it; None where the text has neither.

    A search for headers and assignments, not a parser: inside inline tables the line of the table is given.
    """
    best, line_of_best = 0, None
    table: tuple[str | int, ...] = ()
    counts: dict[tuple[str | int, ...], int] = {}
    wanted = tuple(path)
    for number, line in enumerate(text.split("\n"), start=1):
        if header := _HEADER.match(line):
            table = full = _numbered(_parts(header.group(2)), counts, header.group(1) == "[[")
        elif assignment := _ASSIGNMENT.match(line):
            full = table + _parts(assignment.group(1))
        else:
            continue
        depth = len(full)
        if depth > best and full == wanted[:depth]:
            best, line_of_best = depth, number
        elif full[: len(wanted)] == wanted and best < len(wanted):
            best, line_of_best = len(wanted), number
    return line_of_best


def _numbered(parts: tuple[str, ...], counts: dict[tuple[str | int, ...], int], begins: bool) -> tuple[str | int, ...]:
    """The path of a header, with the number of each list of tables on the way; `counts` holds the last ones by path."""
    path: tuple[str | int, ...] = ()
    for place, part in enumerate(parts, start=1):
        path = (*path, part)
        if begins and place == len(parts):
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def leaves(
    table: Mapping[str, Any], is_value: Callable[[Mapping[str, Any]], bool] | None = None, above: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every key as written, dotted or as tables within tables, with its value; a table that `is_value`, or empty, is one."""
    for name, item in table.items():
        if isinstance(item, Mapping) and item and not (is_value and is_value(item)):
            yield from leaves(item, is_value, (*above, name))
        else:
            yield (*above, name), item


def typed(text: str) -> Any:
    """The value of a `text` that was typed for a key: as TOML reads it, or the text itself, such as 235 degC."""
    try:
        return tomllib.loads(f"value = {text}")["value"] if "\n" not in text else text
    except (ValueError, RecursionError):
        return text


def _parts(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip("\"'") for part in re.findall(_PART, dotted))


def dotted(path: KeyPath) -> str:
    """`path` as a dotted key, below the last list of tables; quoted where TOML asks for it, but for keys that hold dots."""
    names: list[str] = []
    for part in path:
        names = [] if isinstance(part, int) else [*names, part]
    return ".".join(part if re.fullmatch(rf"{_BARE}(\.{_BARE})*", part) else f'"{_plain(part)}"' for part in names)


def printable(text: str) -> str:
    """`text` with control characters replaced, fit for a terminal."""
    return "".join(character if character.isprintable() else "?" for character in text)


def _plain(text: str, longest: int = 60) -> str:
    shown = printable(text[:longest])
    return shown if len(text) <= longest else shown + "..."


def written_form(value: Any, longest: int = 80) -> str:
    """`value` much as it stands in the file, on one line and cut to `longest` characters."""
    return _plain(_written(value), longest)


def _written(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, Mapping):
        return "a table with " + (", ".join(list(map(str, value))[:6]) or "no keys")
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_written(item) for item in value[:12]) + "]"
    if isinstance(value, int) and abs(value) >= 10**30:
        return "a number of more than 30 digits"
    return str(value)
