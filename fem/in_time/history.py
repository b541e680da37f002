"""What a march leaves behind: temperatures, power and flow at every step, and where all heat has gone since the start."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields

import numpy as np

from meltzone.fem.field import Field
from meltzone.fem.in_time.course import Phase
from meltzone.fem.in_time.timestep import WEIGHTS, Instant, TimeStep
from meltzone.fem.progress import TimeReporter


@dataclass(frozen=True)
class Heats:
    """Heat since the start [J]: `heater` + `viscous` = `stored` + `melt` + `losses` + `cold_end` + `inlet` + `imbalance`."""

    heater: float = 0.0
    viscous: float = 0.0
    stored: float = 0.0
    melt: float = 0.0
    losses: float = 0.0
    cold_end: float = 0.0
    inlet: float = 0.0

    @property
    def imbalance(self) -> float:
        """Heater and viscous heat less all that is accounted for [J]."""
        out = self.stored + self.melt + self.losses + self.cold_end + self.inlet
        return self.heater + self.viscous - out

    def plus(self, step: TimeStep) -> Heats:
        """With the heat of one more step, by the weights that the step itself takes its stages with."""
        inlet = step.stages[0].here.system.inlet
        gained = step.end.heat - step.start.heat
        # what the nodes held at the filament's temperature take up comes through the inlet
        total = {"stored": float(gained.sum()), "inlet": -float(gained[inlet].sum())}
        for weight, stage in zip(WEIGHTS, step.stages, strict=True):
            balance, span = stage.balance, weight * step.length
            for name in ("heater", "viscous", "melt", "losses", "cold_end", "inlet"):
                total[name] = total.get(name, 0.0) + span * getattr(balance, name)
        return Heats(**{name: getattr(self, name) + value for name, value in total.items()})


@dataclass(frozen=True)
class Moment:
    """One line of a history: `time` [s], `flow` [m3/s], heater `power` [W], mean over the step that led here, and temperatures.

    Temperatures [K] are those of `meltzone.fem.field.Field`. `heats` count from the start.
    """

    time: float
    flow: float
    power: float
    sensor: float
    tip: float
    wall: float
    mean: float
    inner: float
    core: float
    judged: float
    heats: Heats


@dataclass(frozen=True, eq=False)
class History:
    """The moments of a march in order, the first being its start; `last` is the state at its end, in `phase`.

    `states` are those of all moments, each in its phase.
    """

    moments: tuple[Moment, ...]
    last: Instant
    phase: Phase
    states: tuple[tuple[Phase, Instant], ...] = ()

    def of(self, name: str) -> np.ndarray:
        """One quantity over all moments, such as "core", shape (n,)."""
        return np.array([getattr(moment, name) for moment in self.moments])

    @property
    def field(self) -> Field:
        """The state at the end."""
        return _field(self.phase, self.last)

    @property
    def heats(self) -> Heats:
        """Where all heat has gone by the end."""
        return self.moments[-1].heats

    def first_time(self, name: str, level: float, falling: bool = False) -> float | None:
        """When a quantity first passes `level`, linear between moments [s]; None where it never does."""
        values = self.of(name) - level
        values = -values if falling else values
        times = self.of("time")
        reached = np.flatnonzero(values >= 0.0)
        if reached.size == 0:
            return None
        k = int(reached[0])
        if k == 0:
            return float(times[0])
        share = values[k - 1] / (values[k - 1] - values[k])
        return float(times[k - 1] + share * (times[k] - times[k - 1]))

    def then(self, other: History) -> History:
        """This history with `other`, which begins where this one ends, after it."""
        base = self.heats
        later = []
        for moment in other.moments[1:]:
            heats = {f.name: getattr(base, f.name) + getattr(moment.heats, f.name) for f in fields(Heats)}
            later.append(Moment(**{**vars(moment), "heats": Heats(**heats)}))
        return History((*self.moments, *later), other.last, other.phase, (*self.states, *other.states[1:]))

    def fields(self, most: int) -> list[tuple[float, Field]]:
        """Time [s] and field of at most so many moments, evenly over them, the first and the last among them."""
        chosen = np.unique(np.linspace(0, len(self.states) - 1, min(most, len(self.states))).round().astype(int))
        return [(self.states[k][1].time, _field(*self.states[k])) for k in chosen]


def history_of(
    phase: Phase, start: Instant, steps: Iterable[tuple[Phase, TimeStep]], report: TimeReporter | None = None
) -> History:
    """Carry out the `steps` of a march from `start` in `phase`; `report` is told the time of every step [s]."""
    heats, last, here = Heats(), start, phase
    moments, states = [_moment(phase, start, start.power, heats)], [(phase, start)]
    for here, step in steps:
        heats, last = heats.plus(step), step.end
        moments.append(_moment(here, last, step.power, heats))
        states.append((here, last))
        if report:
            report(last.time)
    return History(tuple(moments), last, here, tuple(states))


def _field(phase: Phase, point: Instant) -> Field:
    system = phase.at(point.time, point.temperature)
    return Field(system, phase.flow, point.power, point.temperature, 0)


def _moment(phase: Phase, point: Instant, power: float, heats: Heats) -> Moment:
    field = _field(phase, point)
    names = ("sensor", "tip", "wall", "mean", "inner", "core", "judged")
    return Moment(
        time=point.time, flow=phase.flow, power=power, heats=heats, **{name: getattr(field, name) for name in names}
    )
