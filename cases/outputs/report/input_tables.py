"""The inputs that were written, each with where it was written, and the whole case as a file to repeat it with."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import tomli_w

from meltzone.cases.inputs.layers import locate
from meltzone.cases.inputs.outline import Entry, entries, tables
from meltzone.cases.inputs.reader import Case
from meltzone.cases.outputs.grid import Cell, Grid, Row, words
from meltzone.cases.outputs.record_head import inputs_of

# contacts of parts that need not be there
JOINTS = {"sleeve": "sleeve_thread", "wrap": "wrap", "liner": "liner", "second_block": "block_face"}
IN_A_TABLE = ("extends", "materials", "uncertainty")


def written_inputs(case: Case) -> Grid:
    """Every key that a file or an override sets, with its value, its default and its place."""
    rows = [row for table in ("", *(name for name, _ in tables())) for row in _rows(case, table)]
    caption = "Inputs that were written; all others are at the program's defaults"
    return Grid(caption, words("key", "value", "default", "written in"), (*rows, *_tolerances(case)), True, True)


def _rows(case: Case, table: str) -> Iterator[Row]:
    held: Any = inputs_of(case)
    held = held.get(table, {}) if table else held
    for entry in entries(table):
        path = entry.key.split(".")
        if entry.key not in IN_A_TABLE and entry.name in held and locate(case.layers, path) is not None:
            yield _row(case, entry, held[entry.name])


def _row(case: Case, entry: Entry, value: Any) -> Row:
    default = plain(re.sub(r'["\[\]]', "", entry.default))
    same = plain(value).lower() == default.lower()
    return (
        Cell(entry.key, note=entry.description, code=True),
        plain(value),
        "same" if same else default or "empty",
        written_at(case, entry.key) or "",
    )


def _tolerances(case: Case) -> Iterator[Row]:
    for part, properties in case.model.uncertainty.items():
        for name, deviation in properties.items():
            key = f"uncertainty.{part}.{name}"
            note = "One standard deviation of this property."
            yield Cell(key, note=note, code=True), deviation, "exact", written_at(case, key) or ""


def default_contacts(case: Case) -> Grid | None:
    """The contact conductances that no file sets: the program's own, on which the answer hangs; None where all are set."""
    held = inputs_of(case)["contacts"]
    absent = {joint for part, joint in JOINTS.items() if getattr(case.model, part) is None}
    rows = tuple(
        (Cell(entry.key, note=entry.description, code=True), plain(held[entry.name]), _default_source(entry.name))
        for entry in entries("contacts")
        if written_at(case, entry.key) is None and entry.name not in absent
    )
    caption = "Contact conductances left at the program's defaults"
    return Grid(caption, words("key", "value", "source"), rows, stacked=True) if rows else None


def _default_source(name: str) -> Cell:
    calibrated = "what a measured ceiling of 13 mm³/s with PLA at 210 degC in a short block asks for"
    return Cell(calibrated if name == "bore_melt" else "common practice", badge="no source")


def written_at(case: Case, key: str) -> str | None:
    """File and line that set the dotted `key`, or the override; None where it is left at its default."""
    place = locate(case.layers, key.split("."))
    if place is None:
        return None
    return place.file if place.line is None else f"{place.file}, line {place.line}"


def plain(value: Any) -> str:
    """A value as people write it outside a file."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return ", ".join(f"{name}: {plain(item)}" for name, item in value.items())
    if isinstance(value, list | tuple):
        return ", ".join(map(plain, value))
    if isinstance(value, float):
        return f"{value:g}"
    return str(value).replace("^2", "²").replace("^3", "³")


def case_text(case: Case) -> str:
    """The case with every input, defaults too, as one file that extends nothing."""
    whole = {name: _without_empty(value) for name, value in inputs_of(case).items()}
    return tomli_w.dumps(_without_empty(whole))


def _without_empty(value: Any) -> Any:
    return {name: item for name, item in value.items() if item != {}} if isinstance(value, dict) else value
