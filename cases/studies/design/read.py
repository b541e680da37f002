"""A design file: what is aimed at, the keys that may vary with their bounds, the choices, the limits; checked."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import model_validator
from pydantic_core import PydanticCustomError

from meltzone.cases.inputs.errors import CaseError, at_key
from meltzone.cases.inputs.fields import Exact, Line, Numeric, Table, Text, bad_value, key
from meltzone.cases.inputs.files import Source, found, look_up, nearest_files, read_layer
from meltzone.cases.inputs.layers import Layer, find_line, leaves, written_form
from meltzone.cases.inputs.parameters import LONGER, Parameter, UnknownParameter, parameter
from meltzone.cases.inputs.reader import CASE_FILE, EXAMPLES, Case
from meltzone.cases.inputs.translate import checked
from meltzone.cases.studies.design.limits import Limited, UnknownLimit, limited, parsed
from meltzone.cases.studies.printing import WORKING_WORDS
from meltzone.materials.units import FLOW, POWER, VOLUME, UnitError

ADDED = "nozzle.longer"  # the nozzle longer than in the base, all of it below the block
MOST_KEYS, MOST_COMBINATIONS = 12, 40


class DesignTable(Table):
    """A table of a design file."""

    called = "a design file"
    page = "meltzone design --help"


class AimTable(DesignTable):
    """What is aimed at: the greatest ceiling, or one to be reached."""

    maximise: Literal["ceiling"] | None = key(None, "What is made as great as can be; limits bound the rest.")
    reach: Annotated[float, Exact(FLOW.within(1e-11, 1e-6))] | None = key(None, "The ceiling to be reached.")
    against: list[str] = key([], "One or two names of [limits] to hold low: the front of the ceiling against them.")

    @model_validator(mode="after")
    def _one(self) -> AimTable:
        if (self.maximise is None) == (self.reach is None):
            raise bad_value("one aim", 'maximise = "ceiling", or reach = "22 mm^3/s" below [aim].')
        if self.against and (self.reach is not None or len(self.against) > 2):
            raise bad_value("one or two names beside maximise", 'against = ["mass"], with maximise = "ceiling".')
        return self


class LimitsTable(DesignTable):
    """What must not be exceeded, of what has slopes by adjoints; everything else may be limited by its name."""

    hot_volume: Annotated[float, Exact(VOLUME.within(1e-12, 1e-5))] | None = key(
        None, "Polymer above its flow temperature, at a flow."
    )
    at_flow: Annotated[float, Exact(FLOW.within(1e-11, 1e-6))] | None = key(
        None, "The flow at which hot volume and times count.", f"{WORKING_WORDS} of the start"
    )
    power: Annotated[float, Exact(POWER.within(0.1, 1000.0))] | None = key(None, "Heater power at the ceiling.")


class DesignModel(DesignTable):
    """A design: one case, what is aimed at, what may vary or be chosen, what must not be exceeded."""

    title: Line = key("", "One line that says what the design asks.")
    case: Text = key(..., "The case to begin with.", example='"short-block"')
    aim: AimTable = key(..., AimTable.__doc__ or "")
    vary: dict[str, Any] = key({}, "Dotted keys of a case with their least and greatest value.")
    choose: dict[str, Any] = key({}, "Dotted keys of a case with a list of values.")
    limits: dict[str, Any] = key({}, "Names with what must not be exceeded, or { least = ..., most = ... }.")
    price_class: dict[str, float] = key({}, "Materials with their price class, any numbers; the greatest counts.")

    @model_validator(mode="before")
    @classmethod
    def _aim_is_asked_for(cls, data: Any) -> Any:
        """Without [aim] the missing aim is told, not the table; `base` is what `case` was called."""
        if not isinstance(data, dict):
            return data
        named = {"case": data["base"]} if "base" in data and "case" not in data else {}
        return {"aim": {}} | {name: value for name, value in data.items() if name != "base" or not named} | named


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

    `hot_volume` [m3] at `at_flow` [m3/s] (None: the flow to use with the start) and `power` [W] are limits, None where there
    are none. `choices` maps keys to the values to try. `limits` are all other limits, `against` what the front is drawn
    against, `prices` the price classes of materials by name.
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
    limits: tuple[Limited, ...] = ()
    against: tuple[Limited, ...] = ()
    prices: Mapping[str, float] = field(default_factory=dict)

    @property
    def judged(self) -> tuple[Limited, ...]:
        """All that is looked at besides ceiling, hot volume and power, each once."""
        names = {each.name: each for each in (*self.against, *self.limits)}
        return tuple(names.values())

    def fault(self, key: str, value: object, expected: str, hint: str) -> CaseError:
        """The error for a key of this file."""
        shown = None if value is None else written_form(value)
        return CaseError(self.file, find_line(self.text, key.split(".")), key, shown, expected, hint)


def load_design(path: str | Path) -> Design:
    """Read the design file at `path`; raises CaseError."""
    hint = "Write one with case, [aim], [vary] and [limits]; meltzone design --help shows one."
    source = found(str(path), None, "an existing design file", hint)
    layer = read_layer(source)
    model = checked(DesignModel, layer.data, [layer])
    varied = tuple(_varied(layer, ("vary", *path), value) for path, value in leaves(model.vary, _is_range))
    choices = {".".join(path): _choice(layer, ("choose", *path), value) for path, value in leaves(model.choose)}
    _check_counts(layer, varied, choices)
    base = look_up(model.case, EXAMPLES, source.path.parent)
    if base is None:
        named = "case" if "case" in layer.data else "base"
        raise at_key([layer], [named], CASE_FILE, nearest_files(model.case, EXAMPLES, source.path.parent))
    kept, further = _split_limits(layer, model.limits)
    return Design(
        name=source.path.stem,
        file=source.label,
        title=model.title or source.path.stem,
        base=base,
        reach=model.aim.reach,
        varied=varied,
        choices=choices,
        hot_volume=kept.hot_volume,
        at_flow=kept.at_flow,
        power=kept.power,
        text=layer.text,
        limits=further,
        against=tuple(_limited(layer, ("aim", "against"), name) for name in model.aim.against),
        prices=model.price_class,
    )


def _split_limits(layer: Layer, table: Mapping[str, Any]) -> tuple[LimitsTable, tuple[Limited, ...]]:
    """Those with slopes by adjoints, and all others by their names."""
    own = {name: value for name, value in table.items() if name in LimitsTable.model_fields}
    others = {name: value for name, value in table.items() if name not in own}
    kept = checked(LimitsTable, own, [layer], ("limits",))
    return kept, tuple(_limit(layer, ("limits", *path), value) for path, value in leaves(others, _is_limit))


def _is_limit(table: Mapping[str, Any]) -> bool:
    return bool({"least", "most"} & set(table))


def _limit(layer: Layer, path: tuple[str, ...], value: object) -> Limited:
    item = _limited(layer, path, ".".join(path[1:]))
    ends = dict(value) if isinstance(value, Mapping) else {"most": value}
    if not ends or set(ends) - {"least", "most"}:
        raise at_key([layer], path, "a greatest value, or { least = ..., most = ... }", 'mass = "40 g"')
    try:
        bounds = {end: parsed(item, bound) for end, bound in ends.items()}
        return replace(item, least=bounds.get("least"), most=bounds.get("most"))
    except UnitError as error:
        raise at_key([layer], path, error.expected, error.hint) from error


def _limited(layer: Layer, path: tuple[str, ...], name: str) -> Limited:
    try:
        return limited(name)
    except UnknownLimit as error:
        hint = f"Did you mean {' or '.join(error.nearest)}?" if error.nearest else "As mass, temperature_tip, hot_time."
        hint += " Its ends are called least and most." if path[-1].startswith(("at_", "max", "min")) else ""
        expected = "hot_volume, at_flow, power, an output, a key of a case, hottest.PART or price_class"
        raise at_key([layer], path, expected, hint) from error


def _is_range(table: Mapping[str, Any]) -> bool:
    return bool({"from", "to"} & set(table))


def _varied(layer: Layer, path: tuple[str, ...], value: object) -> Varied:
    name = ".".join(path[1:])
    moved = _moved(layer, path, name)
    expected = 'the least and the greatest value, as in { from = "5 mm", to = "8.5 mm" }'
    value = list(value.values()) if isinstance(value, Mapping) and list(value) == ["from", "to"] else value
    if not isinstance(value, list) or len(value) != 2:
        raise at_key([layer], path, expected, "Values to choose from stand below [choose].")
    try:
        least, most = (Numeric(moved.kind).check(end) for end in value)
    except PydanticCustomError as error:
        said = error.context or {}
        raise at_key([layer], path, f"{expected}; each {said['expected']}", str(said["hint"])) from error
    if not least < most:
        raise at_key([layer], path, expected, "The first must be the smaller one.")
    return Varied(name, moved, least, most, layer.line(path))


def _moved(layer: Layer, path: tuple[str, ...], name: str) -> Parameter:
    """The number behind a key; what one must know rather than build is refused by the search, which knows the levers."""
    if name == ADDED:
        return LONGER
    try:
        return parameter(name)
    except UnknownParameter as error:
        close = error.nearest
        hint = f"Did you mean {' or '.join(close)}?" if close else f"{ADDED} makes the nozzle longer below the block."
        raise at_key([layer], path, "a dotted key of a case that holds one number", hint) from error


def _choice(layer: Layer, path: tuple[str, ...], value: object) -> tuple[Any, ...]:
    if not isinstance(value, list) or not value:
        raise at_key([layer], path, "a list of values for this key", 'sleeve.material = ["brass", "copper"]')
    if len({written_form(item) for item in value}) != len(value):
        raise at_key([layer], path, "values that differ", "Leave one of them out.")
    return tuple(value)


def _check_counts(layer: Layer, varied: Sequence[Varied], choices: Mapping[str, tuple[Any, ...]]) -> None:
    combinations = math.prod(map(len, choices.values()))
    if not varied and not choices:
        hint = 'sleeve.height = ["2 mm", "8.5 mm"]'
        raise at_key([layer], ["vary"], "at least one key to vary or to choose", hint)
    if len(varied) > MOST_KEYS:
        raise at_key([layer], ["vary"], f"at most {MOST_KEYS} keys", "Fix those that matter least.")
    if combinations > MOST_COMBINATIONS:
        expected = f"at most {MOST_COMBINATIONS} combinations"
        raise at_key([layer], ["choose"], expected, f"These are {combinations}.")
    for both in {item.key for item in varied} & set(choices):
        expected = "a key that is not varied as well"
        raise at_key([layer], ["choose", *both.split(".")], expected, "Keep it in one of the tables.")
