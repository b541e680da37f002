"""A case as a commented file that stands alone: what is set as it is, all else with its default behind a #."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from textwrap import fill
from typing import Any

import tomli_w

from meltzone.cases.inputs.layers import locate
from meltzone.cases.inputs.outline import Entry, entries, tables
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.schema import OPTIONAL_TABLES
from meltzone.cases.inputs.starter import WARNING
from meltzone.cases.outputs.record_head import inputs_of

WIDTH = 100
HEAD = "A case: one hot end, what it melts, and how hot. A # before a key stands for its default."
OWN = ("materials", "uncertainty")  # tables of tables


def commented(case: Case) -> str:
    """The text of the file; reading it gives the same case."""
    held = inputs_of(case)
    lines = [*_comment(HEAD), "#", *_comment(WARNING), "", *_assigned("title", held.get("title", ""))]
    for name, meaning in tables():
        if name in held:
            lines += ["", *_comment(meaning), f"[{name}]"]
            lines += [line for entry in entries(name) for line in _key(case, entry, held[name])]
        elif name in OPTIONAL_TABLES:
            lines += ["", *_comment(meaning), f"# [{name}]"]
    own = {name: held[name] for name in OWN if held.get(name)}
    return "\n".join(lines) + "\n" + (f"\n{tomli_w.dumps(own)}" if own else "")


def _key(case: Case, entry: Entry, held: Mapping[str, Any]) -> Iterator[str]:
    yield from _comment(entry.description)
    value = held.get(entry.name)
    if value is None or value == {}:
        yield f"# {entry.name} = {entry.example}" if entry.example else f"# {entry.name}: {entry.default}"
        return
    mark = "" if locate(case.layers, entry.key.split(".")) is not None else "# "
    yield from (mark + line for line in _assigned(entry.name, value))


def _assigned(name: str, value: Any) -> list[str]:
    """The `value` of the key `name` as TOML; a mapping stands on one line."""
    if isinstance(value, Mapping):
        inside = ", ".join(_assigned(f'"{key}"', item)[0] for key, item in value.items())
        return [f"{name} = {{ {inside} }}"]
    written = tomli_w.dumps({"value": value}).strip().removeprefix("value = ")
    return [f"{name} = {' '.join(written.split())}"] if isinstance(value, list) else [f"{name} = {written}"]


def _comment(text: str) -> list[str]:
    return fill(text, WIDTH, initial_indent="# ", subsequent_indent="# ").splitlines()
