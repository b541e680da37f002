"""From a sweep file to a checked sweep: every fault is found before anything is solved."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic_core import PydanticCustomError

from meltzone.cases.inputs.build import materials_of, surroundings_of
from meltzone.cases.inputs.errors import CaseError, at_key
from meltzone.cases.inputs.fields import Numeric
from meltzone.cases.inputs.files import Shelf, found, look_up, nearest_files, read_layer
from meltzone.cases.inputs.layers import Layer, dotted, leaves
from meltzone.cases.inputs.parameters import Parameter, UnknownParameter, parameter
from meltzone.cases.inputs.reader import CASE_FILE, EXAMPLES, Case, case_from
from meltzone.cases.inputs.translate import checked
from meltzone.cases.studies.sweep.plan import Axis, Base, Sweep, between, value_at, words
from meltzone.cases.studies.sweep.schema import (
    MOST_KEYS,
    MOST_POINTS,
    MOST_VALUES,
    RangeTable,
    SweepModel,
    field_of,
    is_range,
    unknown_key,
)

SWEEPS = Shelf("sweeps", ".toml", "sweep", "sweeps")


def load_sweep(path: str | Path) -> Sweep:
    """Read the sweep file at `path` with its base case and check every value; raises CaseError, before any solve."""
    source = found(str(path), SWEEPS, "a sweep file, or the name of a shipped one")
    layer = read_layer(source)
    model = checked(SweepModel, layer.data, [layer])
    varied = list(leaves(model.vary, is_range))
    if len(varied) > MOST_KEYS:
        raise at_key(
            [layer], ["vary"], f"at most {MOST_KEYS} keys", "Vary fewer at a time.", value=f"{len(varied)} keys"
        )
    axes = tuple(_axis(layer, path_of, value, model.sample is not None) for path_of, value in varied)
    _check_overlaps(layer, axes)
    count = math.prod(len(axis.values) for axis in axes) if model.sample is None else model.sample.points
    if count > MOST_POINTS:
        hint = "Take fewer values, or draw some of the points: [sample] with points = 1000."
        raise at_key([layer], ["vary"], f"at most {MOST_POINTS} points", hint, value=f"{count} points")
    base = replace(_base(layer, source.path.parent, model.case, axes), banded=model.band)
    _check_values(layer, base, axes)
    return Sweep(source.path.stem, source.label, layer.text, model.title, base, axes, model.sample)


def sweep_names() -> tuple[str, ...]:
    """Names of the shipped sweeps, sorted."""
    return SWEEPS.names


def _axis(layer: Layer, path: tuple[str, ...], value: Any, sampled: bool) -> Axis:
    key, here = ".".join(path), ["vary", *path]
    if field_of(key) is None:
        raise unknown_key(layer, path)
    try:
        found = parameter(key)
    except UnknownParameter:
        found = None
    if isinstance(value, Mapping):
        return _range(layer, found, path, value, sampled)
    if not isinstance(value, list) or not 1 <= len(value) <= MOST_VALUES:
        hint = 'As in { from = "190 degC", to = "260 degC", steps = 8 } or ["brass", "copper"].'
        raise at_key([layer], here, f"a range, or a list of 1 to {MOST_VALUES} values", hint)
    if len({words(item) for item in value}) < len(value):
        raise at_key([layer], here, "a list in which no value stands twice", "Remove one of them.")
    return Axis(key, path, tuple(value), found)


def _range(
    layer: Layer, moved: Parameter | None, path: tuple[str, ...], value: Mapping[str, Any], sampled: bool
) -> Axis:
    here = ["vary", *path]
    if moved is None:
        raise at_key([layer], here, "a list: this key holds no number", 'As in ["brass", "copper"] or [false, true].')
    table = checked(RangeTable, value, [layer], here)
    ends: list[float] = []
    for name, written in (("from", table.start), ("to", table.end)):
        try:
            ends.append(Numeric(moved.kind).check(written))
        except PydanticCustomError as error:
            context = error.context or {}
            raise at_key([layer], [*here, name], context["expected"], context["hint"]) from error
    log = table.scale == "log"
    if ends[0] == ends[1]:
        raise at_key([layer], here, "two ends that differ", "For a single value write a list with it alone.")
    if log and (min(ends) <= 0.0 or moved.is_temperature):
        hint = 'Write scale = "linear".'
        raise at_key([layer], [*here, "scale"], "a linear scale for temperatures and for ranges that touch zero", hint)
    if table.steps is None:
        if not sampled:
            hint = "Add steps = 8, or draw from the whole range with [sample]."
            raise at_key([layer], here, "a number of steps", hint)
        return Axis(moved.key, path, (), moved, (ends[0], ends[1]), log)
    bare = Axis(moved.key, path, (), moved)
    shares = (number / (table.steps - 1) for number in range(table.steps))
    return Axis(
        moved.key, path, tuple(value_at(bare, between(ends[0], ends[1], share, log)) for share in shares), moved
    )


def _check_overlaps(layer: Layer, axes: Sequence[Axis]) -> None:
    """No key is varied twice, be it as part of a whole table."""
    for axis in axes:
        for other in axes:
            if other is not axis and (axis.key == other.key or axis.key.startswith(f"{other.key}.")):
                expected = f"nothing that {other.key} sets as well"
                hint = f"Vary {other.key} over whole tables, or only the keys inside it."
                raise at_key([layer], ["vary", *axis.path], expected, hint)


def _base(layer: Layer, folder: Path, name: str, axes: Sequence[Axis]) -> Base:
    """The base case: beside the sweep file before shipped. It need not hold what is varied."""
    source = look_up(name, EXAMPLES, folder)
    if source is None:
        raise at_key([layer], ["case"], CASE_FILE, nearest_files(name, EXAMPLES, folder))
    first = {axis.key: axis.at(0.0) for axis in axes}
    try:
        case = case_from(source, first)
        _check_names(case)
    except CaseError as error:
        raise _from_sweep(error, layer, axes) from error
    return Base(case.name, case.file, case.layers[len(first) :])


def _check_values(layer: Layer, base: Base, axes: Sequence[Axis]) -> None:
    """Every value of every list by itself, among the first values of the others: its form, and the names in it.

    Dimensions that do not fit are no fault of one value; the points that hold them are recorded as refused.
    """
    first = {axis.key: axis.at(0.0) for axis in axes}
    for axis in axes:
        for value in axis.values:
            try:
                case = base.case({**first, axis.key: value})
                if axis.parameter is None:
                    _check_names(case)
            except CaseError as error:
                raise _from_sweep(error, layer, axes) from error


def _check_names(case: Case) -> None:
    """Raise CaseError unless there are such materials, faces and parts."""
    materials_of(case)
    surroundings_of(case)


def _from_sweep(error: CaseError, layer: Layer, axes: Sequence[Axis]) -> CaseError:
    """The error of a varied value, told from the sweep file: its values have no line in any case file."""
    key = error.key or ""
    for axis in axes:
        if error.file.startswith(f"override {axis.key} = "):
            path = ["vary", *axis.path]
            inside = key[len(axis.key) :] if key.startswith(f"{axis.key}.") else ""
            place = f"{dotted(path)}{inside}"
            return CaseError(layer.label, layer.line(path), place, error.value, error.expected, error.hint)
    return error
