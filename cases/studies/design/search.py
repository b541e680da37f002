"""The search of a design: sequential quadratic programming with adjoint slopes, inside what can be built."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.optimize import minimize

from meltzone.cases.inputs.reader import Case
from meltzone.cases.studies.design.point import Point, Unbuildable, fits, solved_at
from meltzone.cases.studies.design.read import Design
from meltzone.cases.studies.design.walls import Wall, walls_around
from meltzone.fem.trade import SlopedValue

Row = tuple[float, np.ndarray]  # a margin and its slopes, scaled

KEPT = 1e-3  # a limit exceeded by less, as a share of it, counts as kept: less than the mesh error
GAINED = 1e-3  # a round of the search that raises the ceiling by less, as a share, is the last
ENDED = 1e-5  # of SLSQP, in the scaled objective
MOST_STEPS, MOST_ROUNDS = 40, 8


@dataclass(frozen=True, eq=False)
class Step:
    """One solved point of the search: its `choice`, the values with what they trade, and the worst `excess` over a limit."""

    number: int
    choice: Mapping[str, Any]
    point: Point
    excess: float

    @property
    def kept(self) -> bool:
        """Whether all limits are kept."""
        return self.excess <= KEPT


@dataclass(frozen=True, eq=False)
class Room:
    """Where a round of the search may go: `bounds` (2, n) [SI] and `walls`. Scaled values run from 0 to 1 in the bounds."""

    bounds: np.ndarray
    walls: tuple[Wall, ...]

    @property
    def width(self) -> np.ndarray:
        """Width of the bounds (n,) [SI]."""
        return np.maximum(self.bounds[1] - self.bounds[0], 1e-12)

    def scaled(self, values: np.ndarray) -> np.ndarray:
        """`values` (n,) [SI] from 0 to 1."""
        return np.clip((values - self.bounds[0]) / self.width, 0.0, 1.0)

    def values(self, scaled: np.ndarray) -> np.ndarray:
        """Back to values (n,) [SI]."""
        return np.asarray(self.bounds[0] + np.clip(scaled, 0.0, 1.0) * self.width)

    def rows(self, scaled: np.ndarray) -> list[Row]:
        """Margins to the walls, scaled, with their slopes by the scaled values (n,)."""
        here = self.values(scaled)
        return [
            (wall.margin(here) / self.width[wall.index], -wall.slopes * self.width / self.width[wall.index])
            for wall in self.walls
        ]


class _Enough(Exception):
    """The ceiling aimed at is passed; no further step is needed."""


@dataclass(eq=False)
class Search:
    """The search among the varied keys for one `chosen` combination, judged at the working `flow` [m3/s].

    `steps` and `walls` fill as it goes. `seen` is told of every step.
    """

    design: Design
    base: Case
    chosen: Mapping[str, Any]
    flow: float
    seen: Callable[[Step], None]
    steps: list[Step] = field(default_factory=list)
    walls: list[Wall] = field(default_factory=list)
    _known: dict[bytes, Point] = field(default_factory=dict)

    def at(self, values: np.ndarray) -> Point:
        """The point at `values` (n,) [SI], solved once; raises Unbuildable."""
        name = values.round(12).tobytes()
        if name not in self._known:
            point = solved_at(self.design, self.base, self.chosen, values, self.flow)
            self._known[name] = point
            step = Step(len(self.steps) + 1, self.chosen, point, self.excess(point))
            self.steps.append(step)
            self.seen(step)
        return self._known[name]

    def excess(self, point: Point) -> float:
        """By how much the worst limit is exceeded, as a share of it; 0 and less where all are kept."""
        return max((-margin for margin, _ in self._limits(point)), default=0.0)

    def _limits(self, point: Point) -> list[Row]:
        """Margin of every limit as a share of it, and its slopes by the values."""
        found, trade = [], point.trade
        if self.design.hot_volume is not None and trade.hot is not None:
            found.append((1.0 - trade.hot.value / self.design.hot_volume, -trade.hot.slopes / self.design.hot_volume))
        if self.design.power is not None:
            found.append((1.0 - trade.heater.value / self.design.power, -trade.heater.slopes / self.design.power))
        for item in self.design.limits:
            judged = point.judged[item.name]
            found += [
                (sign * (judged.value - bound) / (abs(bound) or 1.0), sign * judged.slopes / (abs(bound) or 1.0))
                for bound, sign in ((item.least, 1.0), (item.most, -1.0))
                if bound is not None
            ]
        return found

    @property
    def best(self) -> Step | None:
        """The step with the highest ceiling among those that keep the limits, None where none does."""
        return max((s for s in self.steps if s.kept), key=lambda s: s.point.ceiling, default=None)

    def raise_ceiling(self, start: np.ndarray, enough: float = np.inf) -> None:
        """Raise the ceiling from `start` (n,) [SI] until nothing is gained, or until it passes `enough` [m3/s]."""
        self._rounds(start, lambda values, room: self._highest(values, room, enough))

    def lower(self, start: np.ndarray, name: str) -> None:
        """Lower what is called `name` among what is judged, from `start` (n,) [SI], whatever the ceiling comes to."""
        self._rounds(start, lambda values, room: self._lowest(values, room, name))

    def come_back(self, start: np.ndarray, home: np.ndarray, target: float) -> Step | None:
        """From `start`, which reaches `target` [m3/s], back towards `home` (n,) as far as it is still reached.

        The least sum of squared changes, each a share of its bounds. Returns the nearest step that reaches it.
        """
        self._rounds(start, lambda values, room: self._nearest(values, room, home, target))
        scale = self._span
        reaching = [s for s in self.steps if s.kept and s.point.ceiling >= target * (1.0 - KEPT)]
        return min(reaching, key=lambda s: float(np.sum(((s.point.values - home) / scale) ** 2)), default=None)

    @property
    def _span(self) -> np.ndarray:
        return np.array([item.most - item.least for item in self.design.varied])

    def _rounds(self, start: np.ndarray, once: Callable[[np.ndarray, Room], np.ndarray]) -> None:
        """Search inside what can be built around the present values, as long as that gains something.

        A point inside it that still cannot be built shrinks it, from the last good point on.
        """
        self.at(start)
        if not self.design.varied:
            return
        here, room = start, self._room(start)
        for _ in range(MOST_ROUNDS):
            before = self.best.point.ceiling if self.best else 0.0
            try:
                found = once(here, room)
            except Unbuildable as fault:
                here = self._last_good(room)
                room = self._shrunk(room, here, fault)
                continue
            except _Enough:
                return
            gained = (self.best.point.ceiling if self.best else 0.0) - before
            if np.all(np.abs(found - here) <= 1e-3 * self._span) or gained < GAINED * before:
                return
            here, room = found, self._room(found)

    def _room(self, values: np.ndarray) -> Room:
        """The bounds, and the walls around `values` (n,) [SI]."""
        bounds = np.array([[item.least for item in self.design.varied], [item.most for item in self.design.varied]])
        walls = walls_around(values, bounds[0], bounds[1], lambda far: fits(self.design, self.base, self.chosen, far))
        self.walls += walls
        return Room(bounds, walls)

    def _last_good(self, room: Room) -> np.ndarray:
        """The values of the last step inside the bounds."""
        low, high = room.bounds
        inside = [s.point.values for s in self.steps if np.all((s.point.values >= low) & (s.point.values <= high))]
        return inside[-1] if inside else self.steps[0].point.values

    def _shrunk(self, room: Room, here: np.ndarray, fault: Unbuildable) -> Room:
        """The room without the point that could not be built, cut along the key at fault or the one that moved most."""
        assert fault.values is not None
        moved = np.abs(fault.values - here) / self._span
        keys = [item.key for item in self.design.varied]
        k = keys.index(fault.key) if fault.key in keys and moved[keys.index(fault.key)] > 0.0 else int(np.argmax(moved))
        bounds = room.bounds.copy()
        bounds[1 if fault.values[k] > here[k] else 0, k] = (here + 0.5 * (fault.values - here))[k]
        return Room(bounds, room.walls)

    def _highest(self, start: np.ndarray, room: Room, enough: float) -> np.ndarray:
        """Greatest t with t below every ceiling and the limits kept: the ceilings' minimum has a kink, this has none."""
        scale = self.at(start).ceiling

        def margins(x: np.ndarray) -> list[Row]:
            point = self._point(x[:-1], room)
            if point.ceiling >= enough and self.excess(point) <= KEPT:
                raise _Enough
            width = room.width
            rows = [(q.value / scale - x[-1], np.append(q.slopes * width / scale, -1.0)) for q in _ceilings(point)]
            limits = [(margin, slopes * width) for margin, slopes in self._limits(point)] + room.rows(x[:-1])
            limits = [(margin, np.append(slopes, 0.0)) for margin, slopes in limits]
            return _ordered(rows, limits)

        unit = np.append(np.zeros(len(start)), 1.0)
        first = np.append(room.scaled(start), 1.0)
        bounds = [*[(0.0, 1.0)] * len(start), (0.0, None)]
        return self._slsqp(first, bounds, lambda x: (-x[-1], -unit), margins, room)

    def _lowest(self, start: np.ndarray, room: Room, name: str) -> np.ndarray:
        scale = abs(self.at(start).value_of(name).value) or 1.0

        def height(x: np.ndarray) -> tuple[float, np.ndarray]:
            sloped = self._point(x, room).value_of(name)
            return sloped.value / scale, sloped.slopes * room.width / scale

        def margins(x: np.ndarray) -> list[Row]:
            point = self._point(x, room)
            limits = [(margin, slopes * room.width) for margin, slopes in self._limits(point)]
            return limits + room.rows(x) or [(1.0, np.zeros(len(x)))]

        return self._slsqp(room.scaled(start), [(0.0, 1.0)] * len(start), height, margins, room)

    def _nearest(self, start: np.ndarray, room: Room, home: np.ndarray, target: float) -> np.ndarray:
        width, span = room.width, self._span

        def change(x: np.ndarray) -> tuple[float, np.ndarray]:
            apart = (room.bounds[0] + x * width - home) / span
            return float(apart @ apart), 2.0 * apart * width / span

        def margins(x: np.ndarray) -> list[Row]:
            point = self._point(x, room)
            rows = [(q.value / target - 1.0, q.slopes * width / target) for q in _ceilings(point)]
            limits = [(margin, slopes * width) for margin, slopes in self._limits(point)]
            return _ordered(rows, limits + room.rows(x))

        return self._slsqp(room.scaled(start), [(0.0, 1.0)] * len(start), change, margins, room)

    def _slsqp(
        self,
        first: np.ndarray,
        bounds: list[tuple[float, float | None]],
        objective: Callable[[np.ndarray], tuple[float, np.ndarray]],
        margins: Callable[[np.ndarray], list[Row]],
        room: Room,
    ) -> np.ndarray:
        constraint = {
            "type": "ineq",
            "fun": lambda x: np.array([row[0] for row in margins(x)]),
            "jac": lambda x: np.array([row[1] for row in margins(x)]),
        }
        done = minimize(
            lambda x: objective(x)[0],
            first,
            jac=lambda x: objective(x)[1],
            bounds=bounds,
            constraints=[constraint],
            method="SLSQP",
            options={"maxiter": MOST_STEPS, "ftol": ENDED},
        )
        return room.values(done.x[: room.width.size])

    def _point(self, x: np.ndarray, room: Room) -> Point:
        values = room.values(x)
        try:
            return self.at(values)
        except Unbuildable as fault:
            fault.values = values
            raise


def _ceilings(point: Point) -> list[SlopedValue]:
    """The melt ceiling and, where the rating is used up, the power ceiling."""
    return [q for q in (point.trade.melt, point.trade.power) if q is not None]


def _ordered(ceilings: list[Row], limits: list[Row]) -> list[Row]:
    """Always as many rows in the same order, though a power ceiling comes and goes: one far away has room to spare."""
    far = (1.0, np.zeros(len(ceilings[0][1])))
    return [ceilings[0], *limits, ceilings[1] if len(ceilings) > 1 else far]
