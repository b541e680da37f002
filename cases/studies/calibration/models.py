"""Rows as the calibration sees them: what is delivered, at any values of the free numbers, each hot end solved once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.interpolate import KroghInterpolator

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.parameters import Parameter
from meltzone.cases.studies.bench.rows import CeilingRow, CurveRow
from meltzone.cases.studies.calibration.row_cases import RowCases, Values
from meltzone.fem.ceiling import Ceilings, find_ceilings
from meltzone.fem.faults import NoConvergence
from meltzone.fem.field import Field
from meltzone.fem.problem import Problem
from meltzone.fem.search_mesh import for_search
from meltzone.fem.slow_flow.feeding import missing_for_force
from meltzone.fem.slow_flow.feeding_curve import FeedingCurve, feeding_curve
from meltzone.fem.slow_flow.slip import SlipLaw, slip_law

STEP_LOG, STEP_KELVIN = 0.02, 0.5  # of derivatives by differences
FEEDER = ("feeder.grip", "feeder.slip_rise", "feeder.slip_at_grip")  # they move no temperature
DIGITS = 10  # of a value that counts as the same
GRID_LOG, GRID_KELVIN = 0.25, 4.0  # spacing of the values solved where one warm number is free


@dataclass(frozen=True, eq=False)
class HotEnd:
    """What a hot end can do: flows of its `melt` and `power` ceiling [m3/s], None without, and its `feeding` force."""

    melt: float | None
    power: float | None
    feeding: FeedingCurve | None

    @property
    def plateau(self) -> float:
        """The lesser of both ceilings [m3/s], 0 where nothing flows."""
        return min((flow for flow in (self.melt, self.power) if flow is not None), default=0.0)


@dataclass(frozen=True, eq=False)
class RowModel:
    """A row at given values: its `plateau` [m3/s], and the feeder's `slip` where it has a grip."""

    plateau: float
    slip: SlipLaw | None

    @property
    def ceiling(self) -> float:
        """The flow ceiling [m3/s]."""
        return self.plateau if self.slip is None else min(self.plateau, self.slip.flow)

    def delivered(self, commanded: np.ndarray) -> np.ndarray:
        """Delivered flow [m3/s] at `commanded` flows [m3/s], of the same shape."""
        slipped = commanded if self.slip is None else self.slip.delivered(commanded)
        return np.minimum(slipped, self.plateau)


ModelOfRow = Callable[[CeilingRow | CurveRow, Values], RowModel]


def by_full_search(cases: RowCases) -> ModelOfRow:
    """What gives the model of a row by the search of all its ceilings, for rows of ceilings."""
    return lambda row, values: RowModel(cases.searched(row, values), None)


class RowModels:
    """The models of rows; hot ends are solved once for every set of values that moves a temperature.

    They are solved on the mesh of searches; their ceilings are scaled to what the case's own mesh gives at the first values.
    Forces are worked out at a few places for every row; `anchor` has what lies between meet the full search at one set of
    values, as `meltzone curve` carries it out.
    """

    def __init__(self, cases: RowCases) -> None:
        self.cases = cases
        self._hot: dict[tuple[str, tuple[float, ...]], HotEnd] = {}
        self.pushes = False  # whether any force was reckoned
        self._anchors: dict[str, tuple[float, float]] = {}
        self._melts: dict[str, Field] = {}
        self._feeders: dict[str, tuple[float | None, float, float]] = {}
        self._meshes: dict[str, float] = {}

    def anchor(self, rows: Iterable[CeilingRow | CurveRow], values: Values) -> None:
        """Search force ceiling and slip law of `rows` in full at `values` [SI], and have what is interpolated meet them."""
        for row in rows:
            problem = problem_of(self.cases.case(row, values))
            found = find_ceilings(problem)
            if found.force is None:
                continue
            try:
                full = slip_law(found.force)
            except NoConvergence:
                continue
            name = _hot_end_of(row)
            self._anchors.pop(name, None)
            near = self.at(row, values).slip
            if near is not None:
                self._anchors[name] = full.flow / near.flow, full.exponent / near.exponent

    def at(self, row: CeilingRow | CurveRow, values: Values) -> RowModel:
        """The model of `row` with the free numbers at `values` [SI]; raises CaseError where it cannot have them."""
        free = self.cases.free
        feeder = {each.key: value for each, value in zip(free, values, strict=True) if each.key in FEEDER}
        name = _hot_end_of(row)
        if name not in self._feeders:
            table = self.cases.case(row).model.feeder
            self._feeders[name] = table.grip, table.slip_rise, table.slip_at_grip
        own = self._feeders[name]
        grip = feeder.get(FEEDER[0], own[0])
        rise, soft = (feeder.get(name, value) for name, value in zip(FEEDER[1:], own[1:], strict=True))
        warm = [place for place, each in enumerate(free) if each.key not in FEEDER]
        between = self._between(row, values, warm[0], grip is not None) if len(warm) == 1 else None
        found = between or self._exact(row, values, grip is not None)
        slip = None
        if found.feeding is not None and grip is not None:
            near, (flow, exponent) = found.feeding.slip_law(grip, rise, soft), self._anchors.get(name, (1.0, 1.0))
            slip = SlipLaw(flow * near.flow, exponent * near.exponent, rise, soft)
        return RowModel(found.plateau, slip)

    def _between(self, row: CeilingRow | CurveRow, values: Values, place: int, pushed: bool) -> HotEnd | None:
        """The hot end between four on a grid of its one warm number, by a cubic; None where they are not all alike.

        A search tries many values close together; hot ends change so smoothly that the cubic is as good as a solve.
        """
        free = self.cases.free[place]
        width = GRID_KELVIN if free.is_temperature else GRID_LOG
        at = free.coordinate(values[place]) / width
        nodes = np.floor(at) + np.arange(-1.0, 3.0)
        sides = [free.value(float(node) * width) for node in nodes]
        if sides[0] <= free.kind.least or sides[-1] >= free.kind.most:
            return None
        try:
            ends = [
                self._exact(row, tuple(side if n == place else value for n, value in enumerate(values)), pushed)
                for side in sides
            ]
        except CaseError:
            return None
        return _blended(ends, nodes, at)

    def _exact(self, row: CeilingRow | CurveRow, values: Values, pushed: bool) -> HotEnd:
        """The hot end solved, once for values that agree to DIGITS digits."""
        free = self.cases.free
        warm = tuple(
            float(f"{value:.{DIGITS}g}") for each, value in zip(free, values, strict=True) if each.key not in FEEDER
        )
        key = (_hot_end_of(row), warm)
        if key not in self._hot:
            solved = lambda: _as_plain(self._solved(row, values, pushed))  # noqa: E731
            self._hot[key] = _from_plain(self.cases.journal.once(("hot end", *key, pushed), solved))
            self.pushes |= self._hot[key].feeding is not None
        return self._hot[key]

    def _solved(self, row: CeilingRow | CurveRow, values: Values, pushed: bool) -> HotEnd:
        problem = problem_of(self.cases.case(row, values))
        problem = replace(problem, operation=replace(problem.operation, grip=None))
        name = _hot_end_of(row)
        found = self._ceilings(name, for_search(problem))
        if found.governs == "none" or found.melt is None:
            return HotEnd(None, None, None)
        if name not in self._meshes:
            ratio = lambda: find_ceilings(problem).flow / found.flow or 1.0  # noqa: E731
            self._meshes[name] = self.cases.journal.once(("mesh", name), ratio)
        melt = self._meshes[name] * found.melt.flow
        power = self._meshes[name] * found.power.flow if found.power else None
        if not pushed or missing_for_force(problem):
            return HotEnd(melt, power, None)
        try:
            feeding = feeding_curve(found.melt)
        except NoConvergence:
            return HotEnd(melt, power, None)
        return HotEnd(melt, power, feeding)

    def _ceilings(self, name: str, problem: Problem) -> Ceilings:
        """Melt and power ceiling, sought from where those of the row were before, on the same mesh."""
        before, start = self._melts.get(name), None
        if before and (before.problem.arrangement, before.problem.level) == (problem.arrangement, problem.level):
            start = before.state
        found = find_ceilings(problem, start=start)
        if found.melt is not None:
            self._melts[name] = found.melt
        return found

    def borrow(self, row: CeilingRow | CurveRow, like: CeilingRow | CurveRow) -> None:
        """Let `row`, a variant of the row `like`, use its anchor."""
        name, other = _hot_end_of(row), _hot_end_of(like)
        if other in self._anchors:
            self._anchors.setdefault(name, self._anchors[other])


def _blended(ends: list[HotEnd], nodes: np.ndarray, at: float) -> HotEnd | None:
    """The hot end `at` a place between the `nodes` of `ends`, shape (n,), by the polynomial through their logarithms.

    None where one lacks what another has.
    """
    there = [tuple(part is not None for part in (end.melt, end.power, end.feeding)) for end in ends]
    if len(set(there)) > 1:
        return None

    def between(found: Sequence[Any]) -> Any:
        return None if found[0] is None else np.exp(KroghInterpolator(nodes, np.log(found))(at))

    feeding = None
    if curves := [end.feeding for end in ends if end.feeding is not None]:
        flows, forces = (between([getattr(curve, name) for curve in curves]) for name in ("flows", "forces"))
        feeding = FeedingCurve(flows, forces)
    return HotEnd(between([end.melt for end in ends]), between([end.power for end in ends]), feeding)


def _as_plain(found: HotEnd) -> list[Any]:
    """A hot end as a journal keeps it."""
    feeding = found.feeding and [list(map(float, found.feeding.flows)), list(map(float, found.feeding.forces))]
    return [found.melt, found.power, feeding]


def _from_plain(kept: list[Any]) -> HotEnd:
    melt, power, feeding = kept
    return HotEnd(melt, power, feeding and FeedingCurve(*map(np.array, feeding)))


def _hot_end_of(row: CeilingRow | CurveRow) -> str:
    """What tells hot ends apart: rows of one case and the same own values share theirs."""
    return f"{row.case} {sorted(map(str, row.overrides.items()))}"


def values_of(cases: RowCases, coordinates: np.ndarray | Sequence[float]) -> Values:
    """The SI values of the free numbers at `coordinates`, shape (k,), logarithms or kelvin."""
    return tuple(free.value(float(at)) for free, at in zip(cases.free, coordinates, strict=True))


def step_of(free: Parameter) -> float:
    """What the coordinate is moved by for derivatives."""
    return STEP_KELVIN if free.is_temperature else STEP_LOG


def derivatives(
    of: Callable[[Values], np.ndarray], cases: RowCases, coordinates: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """What `of` makes of the free numbers, shape (m,), and its derivatives by their `coordinates`, shape (k,): (m, k)."""
    centre = of(values_of(cases, coordinates))
    columns = []
    for number, free in enumerate(cases.free):
        moved, step = coordinates.copy(), step_of(free)
        if free.value(moved[number] + step) >= free.kind.most:
            step = -step
        moved[number] += step
        columns.append((of(values_of(cases, moved)) - centre) / step)
    return centre, np.stack(columns, axis=1)
