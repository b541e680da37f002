"""A design file: what is aimed at, the keys that may vary with their bounds, the choices, the limits; checked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic_core import PydanticCustomError

from meltzone.cases.inputs.errors import CaseError, nearest
from meltzone.cases.inputs.fields import Measured
from meltzone.cases.inputs.layers import Layer, find_line, written_form
from meltzone.cases.inputs.parameters import LONGER, Parameter, UnknownParameter, parameter
from meltzone.cases.inputs.reader import Case, Source, example_names, found_source, read_layer
from meltzone.materials.units import FLOW, POWER, VOLUME, Kind, UnitError, parse

ADDED = "nozzle.longer"  # the nozzle longer than in the base, all of it below the block
TABLES = ("title", "base", "aim", "vary", "choose", "limits")
AIMS, LIMITS = ("maximise", "reach"), ("hot_volume", "at_flow", "power")
MOST_KEYS, MOST_COMBINATIONS = 12, 40


@dataclass(frozen=True)
class Varied:
    """A number, `moved`, that may vary under a `key` between `least` and `most` [SI]; `line` is where that stands."""

    key: str
    moved: Parameter
    least: float
    most: float
    line: int | None

    def base(self, case: Case) -> float:
        """From where its values count in a base `case` [SI]: of a longer nozzle only what is added."""
        return case.model.nozzle.exposed if self.moved is LONGER else 0.0

    def words(self, value: float) -> str:
        """A value [SI] for people, to four digits."""
        return self.moved.words(value)


@dataclass(frozen=True)
class Design:
    """A checked design file. `reach` is the ceiling aimed at [m3/s], None to make it as great as can be.

    `hot_volume` [m3] at `at_flow` [m3/s] (None: half of the start's ceiling) and `power` [W] are limits, None where there
    are none. `choices` maps keys to the values to try.
    """

    name: str
    file: str
    title: str
    base: Source
    reach: float | None
    varied: tuple[Varied, ...]
    choices: Mapping[str, tuple[Any, ...]]
    hot_volume: float | None
    at_flow: float | None
    power: float | None
    text: str

    def fault(self, key: str, value: object, expected: str, hint: str) -> CaseError:
        """The error for a key of this file."""
        shown = None if value is None else written_form(value)
        return CaseError(self.file, find_line(self.text, key.split(".")), key, shown, expected, hint)


def load_design(path: str | Path) -> Design:
    """Read the design file at `path`; raises CaseError."""
    source = found_source(str(path), Path(), _missing)
    layer = read_layer(source)
    _check_keys(layer, layer.data, TABLES, "")
    aim, limits = _table(layer, "aim"), _table(layer, "limits")
    _check_keys(layer, aim, AIMS, "aim")
    _check_keys(layer, limits, LIMITS, "limits")
    varied = tuple(_varied(layer, key, value) for key, value in _flat(_table(layer, "vary"), ""))
    choices = {key: _choice(layer, key, value) for key, value in _flat(_table(layer, "choose"), "")}
    _check_counts(layer, varied, choices)
    title = layer.data.get("title", "")
    if not isinstance(title, str) or not title.isprintable():
        raise _fault(layer, "title", title, "one line of text", "Put it in quotes.")
    return Design(
        name=source.path.stem,
        file=source.label,
        title=title or source.path.stem,
        base=_base(layer, source.path.parent),
        reach=_aim(layer, aim),
        varied=varied,
        choices=choices,
        hot_volume=_number(layer, limits, "hot_volume", VOLUME, 1e-12, 1e-5),
        at_flow=_number(layer, limits, "at_flow", FLOW, 1e-11, 1e-6),
        power=_number(layer, limits, "power", POWER, 0.1, 1000.0),
        text=layer.text,
    )


def _missing(name: str, path: Path) -> CaseError:
    hint = "Write one with base, [aim], [vary] and [limits]; see docs/compare-and-design.md."
    return CaseError(written_form(name)[1:-1], None, None, None, "an existing design file", hint)


def _fault(layer: Layer, key: str, value: object, expected: str, hint: str) -> CaseError:
    shown = None if value is None else written_form(value)
    return CaseError(layer.label, find_line(layer.text, key.split(".")), key, shown, expected, hint)


def _check_keys(layer: Layer, table: Mapping[str, Any], known: Sequence[str], name: str) -> None:
    for key in table:
        if key not in known:
            close = nearest(key, known)
            hint = f"Did you mean {close[0]}?" if close else "See docs/compare-and-design.md."
            place = f"[{name}]" if name else "a design file"
            full = f"{name}.{key}" if name else key
            raise _fault(layer, full, None, f"a key of {place}: {', '.join(known)}", hint)


def _table(layer: Layer, name: str) -> Mapping[str, Any]:
    table = layer.data.get(name, {})
    if not isinstance(table, Mapping):
        raise _fault(layer, name, table, "a table", f"Write [{name}] on a line of its own and the keys below it.")
    return table


def _flat(table: Mapping[str, Any], above: str) -> Iterator[tuple[str, Any]]:
    """Dotted keys and values; tables within tables count as dotted keys."""
    for name, value in table.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{above}{name}.")
        else:
            yield f"{above}{name}", value


def _base(layer: Layer, folder: Path) -> Source:
    base = layer.data.get("base")
    if not isinstance(base, str) or not base.strip():
        hint = f'base = "short-block", or another shipped example: {", ".join(example_names())}.'
        raise _fault(layer, "base", base, "a case file beside this one, or a shipped example's name", hint)

    def missing(name: str, _: Path) -> CaseError:
        close = nearest(name, example_names(), 3)
        hint = f"Shipped examples: {', '.join(close or example_names())}."
        return _fault(layer, "base", base, "a case file beside this one, or a shipped example's name", hint)

    return found_source(base, folder, missing)


def _aim(layer: Layer, aim: Mapping[str, Any]) -> float | None:
    if len(aim) != 1:
        hint = 'maximise = "ceiling", or reach = "22 mm^3/s" below [aim].'
        raise _fault(layer, "aim", None, "one aim", hint)
    if "maximise" in aim:
        if aim["maximise"] != "ceiling":
            raise _fault(
                layer, "aim.maximise", aim["maximise"], '"ceiling"', "Nothing else is maximised; limits bound the rest."
            )
        return None
    return _number(layer, aim, "reach", FLOW, 1e-11, 1e-6, "aim")


def _number(
    layer: Layer, table: Mapping[str, Any], name: str, kind: Kind, least: float, most: float, above: str = "limits"
) -> float | None:
    """The SI value of a key, None where it is not there."""
    if name not in table:
        return None
    try:
        return parse(table[name], kind.within(least, most))
    except UnitError as error:
        raise _fault(layer, f"{above}.{name}", table[name], error.expected, error.hint) from error


def _varied(layer: Layer, key: str, value: object) -> Varied:
    full = f"vary.{key}"
    moved = _moved(layer, key)
    expected = 'the least and the greatest value, as in ["5 mm", "8.5 mm"]'
    if not isinstance(value, list) or len(value) != 2:
        raise _fault(layer, full, value, expected, "Two values in brackets; other values stand in the base.")
    ends = []
    for end in value:
        try:
            ends.append(Measured(moved.kind).check(end))
        except PydanticCustomError as error:
            said = error.context or {}
            raise _fault(layer, full, value, f"{expected}; each {said['expected']}", str(said["hint"])) from error
    if not ends[0] < ends[1]:
        raise _fault(layer, full, value, expected, "The first must be the smaller one.")
    return Varied(key, moved, ends[0], ends[1], find_line(layer.text, full.split(".")))


def _moved(layer: Layer, key: str) -> Parameter:
    """The number behind `key`; what one must know rather than build is refused by the search, which knows the levers."""
    if key == ADDED:
        return LONGER
    try:
        return parameter(key)
    except UnknownParameter as error:
        close = error.nearest
        hint = f"Did you mean {' or '.join(close)}?" if close else f"{ADDED} makes the nozzle longer below the block."
        raise _fault(layer, f"vary.{key}", None, "a dotted key of a case that holds one number", hint) from error


def _choice(layer: Layer, key: str, value: object) -> tuple[Any, ...]:
    if not isinstance(value, list) or not value:
        hint = 'sleeve.material = ["brass", "copper"]'
        raise _fault(layer, f"choose.{key}", value, "a list of values for this key", hint)
    if len({written_form(item) for item in value}) != len(value):
        raise _fault(layer, f"choose.{key}", value, "values that differ", "Leave one of them out.")
    return tuple(value)


def _check_counts(layer: Layer, varied: Sequence[Varied], choices: Mapping[str, tuple[Any, ...]]) -> None:
    combinations = 1
    for values in choices.values():
        combinations *= len(values)
    if not varied and not choices:
        raise _fault(layer, "vary", None, "at least one key to vary or to choose", 'sleeve.height = ["2 mm", "8.5 mm"]')
    if len(varied) > MOST_KEYS:
        raise _fault(layer, "vary", None, f"at most {MOST_KEYS} keys", "Fix those that matter least.")
    if combinations > MOST_COMBINATIONS:
        raise _fault(layer, "choose", None, f"at most {MOST_COMBINATIONS} combinations", f"These are {combinations}.")
    for both in {item.key for item in varied} & set(choices):
        raise _fault(layer, f"choose.{both}", None, "a key that is not varied as well", "Keep it in one of the tables.")
