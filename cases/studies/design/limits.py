"""Limits of a design on whatever a case holds or gives: inputs, outputs, a part's temperature, a price class."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from meltzone.cases.inputs.parameters import UnknownParameter, parameter
from meltzone.cases.inputs.reader import Case
from meltzone.cases.studies.cautions import hottest_points, materials_by_part
from meltzone.cases.studies.quantities import Quantity
from meltzone.cases.studies.result_quantities import RESULT
from meltzone.cases.studies.results import Result
from meltzone.fem.faults import NoConvergence
from meltzone.fem.residence import residence_of
from meltzone.fem.steady import solve_at_flow
from meltzone.fem.system import System
from meltzone.fem.trade import SlopedValue, hot_volume
from meltzone.materials.errors import nearest
from meltzone.materials.units import (
    FLOW,
    FORCE,
    LENGTH,
    MASS,
    PLAIN,
    POWER,
    SPEED,
    STRESS,
    TEMPERATURE,
    TIME,
    VOLUME,
    ZERO_CELSIUS,
    Kind,
    in_shown,
    parse,
    spelled,
)

APART = 0.01  # of the bounds of a key: for slopes by differences
# The unit of a record and what is written for it
KINDS: dict[str, Kind] = {
    "mm3/s": FLOW, "W": POWER, "N": FORCE, "MPa": replace(STRESS, shown="MPa"), "degC": TEMPERATURE, "mm": LENGTH, "g": MASS,
    "s": TIME, "mm/s": replace(SPEED, shown="mm/s"),
}  # fmt: skip
FORCE_NAME, PRICE_NAME, HOTTEST = "feeding_force", "price_class", "hottest."
TIMES = {"hot_time": "mean time above the flow temperature", "zone_time": "mean time in the melt zone"}


class UnknownLimit(LookupError):
    """Nothing that can be limited is called so; `nearest` are the names most alike."""

    def __init__(self, name: str, close: list[str]) -> None:
        super().__init__(name)
        self.nearest = close


class NoValue(LookupError):
    """A case has nothing of this `name`; `hint` says what may be missing."""

    hint = "A part, a grip or a property of the material may be missing, or the number is no output of this case."

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.name = name


@dataclass(frozen=True)
class Judged:
    """What a limit is read from: a `case` on a `system`, its `result` once solved, the working `flow` [m3/s], price classes."""

    case: Case
    system: System
    result: Result | None
    flow: float
    prices: Mapping[str, float]


@dataclass(frozen=True)
class Limited:
    """A number that may be limited: its `name`, its `kind`, how it is read off, in the shown unit; None before a solve."""

    name: str
    words: str
    kind: Kind
    read: Callable[[Judged], float | None]
    least: float | None = None
    most: float | None = None

    @property
    def unit(self) -> str:
        """The unit for people."""
        return spelled(self.kind.shown)

    def told(self, value: float) -> str:
        """A `value` [shown unit] with its unit, to four digits."""
        return f"{value:.4g} {self.unit}".rstrip()

    def excesses(self, value: float) -> list[float]:
        """By how much each bound is exceeded, as a share of it, below zero where it is kept."""
        pairs = [(self.least, -1.0), (self.most, 1.0)]
        return [sign * (value - bound) / (abs(bound) or 1.0) for bound, sign in pairs if bound is not None]


def limited(name: str) -> Limited:
    """What is called `name`: a key of a case, an output, `hottest.PART`, a residence time; raises UnknownLimit."""
    if name == PRICE_NAME:
        return Limited(name, "price class", PLAIN, _price)
    if name == "hot_volume":
        return Limited(name, "hot volume", VOLUME, _hot)
    if name == "power":
        name = "heater_power"
    if name == FORCE_NAME:
        return Limited(name, "feeding force", FORCE, _force)
    if name in TIMES:
        return Limited(name, TIMES[name], TIME, lambda judged: _time(judged, name))
    if name.startswith(HOTTEST):
        part = name.removeprefix(HOTTEST).replace("_", " ")
        return Limited(name, f"hottest point of the {part}", TEMPERATURE, lambda judged: _hottest(judged, part))
    if name in (known := _outputs()):
        quantity = known[name]
        return Limited(name, quantity.heading, KINDS[quantity.unit], lambda judged: _output(judged, quantity))
    try:
        moved = parameter(name)
    except UnknownParameter as error:
        close = nearest(name, [*known, *TIMES, FORCE_NAME, PRICE_NAME], 3) or error.nearest
        raise UnknownLimit(name, close) from error
    return Limited(name, moved.noun or name, moved.kind, lambda judged: _input(judged, name))


def parsed(item: Limited, value: object) -> float:
    """A bound as written, in the shown unit of `item`; raises UnitError."""
    return in_shown(parse(value, item.kind), item.kind)


def sloped(
    items: Sequence[Limited],
    here: Judged,
    values: np.ndarray,
    widths: np.ndarray,
    aside: Callable[[np.ndarray, bool], Judged | None],
) -> dict[str, SlopedValue]:
    """Every item at `values` (n,) [SI] with its slopes by them, by differences a hundredth of the `widths` (n,) apart.

    `aside` makes the case at other values, solved where asked for, or None where that cannot be. What needs no solve is
    read off the parts alone. Raises NoValue for what the case has not.
    """
    bare = replace(here, result=None)
    own: dict[str, float] = {}
    solves = False
    for item in items:
        value = item.read(bare)
        solves = solves or value is None
        value = item.read(here) if value is None else value
        if value is None:
            raise NoValue(item.name)
        own[item.name] = value
    slopes = {item.name: np.zeros(len(values)) for item in items}
    for k, width in enumerate(widths):
        for step in (APART * width, -APART * width):
            moved = values.copy()
            moved[k] += step
            there = aside(moved, solves)
            if there is None:
                continue
            for item in items:
                value = item.read(there)
                slopes[item.name][k] = 0.0 if value is None else (value - own[item.name]) / step
            break
    return {item.name: SlopedValue(own[item.name], slopes[item.name]) for item in items}


def _outputs() -> dict[str, Quantity[Result]]:
    """The numbers of a result that may be limited, by the name of their column without its unit."""
    found = {}
    for each in RESULT:
        if each.heading and each.unit in KINDS:
            found[each.name.removesuffix(f"_{each.unit.replace('/', '_per_')}")] = each
    return found


def _output(judged: Judged, quantity: Quantity[Result]) -> float | None:
    bare = Result(judged.case, judged.system, None, None)
    value = quantity.read(bare)
    if value is None and judged.result is not None:
        value = quantity.read(judged.result)
    return None if value is None else float(value)


def _input(judged: Judged, name: str) -> float | None:
    moved = parameter(name)
    value = moved.in_problem(judged.system.problem)
    value = moved.in_model(judged.case.model) if value is None else value
    return None if value is None else in_shown(float(value), moved.kind)


def _hottest(judged: Judged, part: str) -> float | None:
    if judged.result is None or judged.result.field is None:
        return None
    found = hottest_points(judged.system.problem, judged.result.field).get(part)
    return None if found is None else found - ZERO_CELSIUS


def _time(judged: Judged, name: str) -> float | None:
    if judged.result is None or judged.result.field is None:
        return None
    found: float = getattr(residence_of(solve_at_flow(judged.system, judged.flow, judged.result.field.state)), name)
    return found


def _hot(judged: Judged) -> float | None:
    if judged.result is None or judged.result.field is None:
        return None
    at_flow = solve_at_flow(judged.system, judged.flow, judged.result.field.state)
    return in_shown(hot_volume(at_flow), VOLUME)


def _force(judged: Judged) -> float | None:
    if judged.result is None or judged.result.field is None:
        return None
    from meltzone.fem.slow_flow.feeding import feeding, missing_for_force  # loaded only where a force is limited

    if missing_for_force(judged.system.problem):
        return None
    try:
        return feeding(judged.result.field).force
    except NoConvergence:
        return None


def _price(judged: Judged) -> float:
    """The greatest class among the materials of the parts; what has none given counts as 0."""
    keys = {material.key for material in materials_by_part(judged.system.problem).values()}
    return max((judged.prices.get(key, 0.0) for key in keys), default=0.0)
