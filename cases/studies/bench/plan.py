"""Lays out weighings about the predicted ceiling: which flows, in which order, how long a sample, how long it takes."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.tolerance import Toleranced
from meltzone.cases.studies.bench.balance import Balance
from meltzone.cases.studies.bench.filament import filament_of
from meltzone.cases.studies.bench.samples import CUBIC_MM, MeasuredFilament
from meltzone.cases.studies.completing import with_band
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.run import sought
from meltzone.fem.faults import NoConvergence

# Commanded flows as shares of the predicted ceiling: three for the reference line, four about the onset, which practice puts
# at four fifths of the ceiling (no source), and the knee; three beyond. The two ends reach far enough for a prediction that is
# wrong by a fifth either way.
SHARES = (0.35, 0.5, 0.65, 0.75, 0.85, 0.95, 1.05, 1.15, 1.3, 1.45)
SHORTEST_TIME = 20.0  # of a sample: long against the start of the flow and the cut of the strand [s]
PURGED = 2.0  # contents of the melt zone that go before each sample
STEP = 0.01  # lengths are rounded up to this [m]
WARM_UP = 600.0  # before the first sample [s]


@dataclass(frozen=True)
class Wanted:
    """How to measure: `uncertainty` of each mass [-], `repeats`, `handling` of a sample [s], the `seed` of the order."""

    balance: Balance
    uncertainty: float
    repeats: int
    handling: float
    seed: int
    diameter: Toleranced | None = None
    density: Toleranced | None = None


@dataclass(frozen=True)
class Planned:
    """One sample: `flow` commanded [m3/s] and its `share` of the ceiling, feeder `speed` [m/s], `purge` and `length` [m].

    `time` [s] is that of the sample alone, `mass` [kg] what is expected on the balance.
    """

    order: int
    round: int
    share: float
    flow: float
    speed: float
    purge: float
    length: float
    time: float
    mass: float


@dataclass(frozen=True, eq=False)
class Plan:
    """The samples in the order of the work, with the prediction (`result`) and the `filament` they were laid out for."""

    result: Result
    overrides: Mapping[str, Any]
    filament: MeasuredFilament
    wanted: Wanted
    samples: tuple[Planned, ...]

    @property
    def duration(self) -> float:
        """Warming up, purging, extruding, cutting and weighing [s]."""
        fed = sum((each.purge + each.length) / each.speed for each in self.samples)
        return WARM_UP + fed + self.wanted.handling * len(self.samples)

    @property
    def fed(self) -> float:
        """MeasuredFilament needed [m]."""
        return sum(each.purge + each.length for each in self.samples)


def plan(
    case: str | Case,
    wanted: Wanted,
    overrides: Mapping[str, Any] | None = None,
    report: Callable[[str], None] | None = None,
) -> Plan:
    """Predict the ceiling of `case` and lay out the samples; raises CaseError, NoConvergence without a ceiling."""
    result = with_band(sought(case, overrides, report))
    if result.flow_ceiling is None:
        hint = "See meltzone run for what stands in the way."
        raise NoConvergence(f"{result.case.file} has no flow ceiling to weigh about: {result.statement}. {hint}")
    usual = filament_of(result.problem)
    filament = MeasuredFilament(wanted.density or usual.density, wanted.diameter or usual.diameter)
    flows = _order(wanted)
    content = melt_content(result)
    samples = [
        _planned(number, turn, share, result.flow_ceiling / CUBIC_MM, content, filament, wanted)
        for number, (turn, share) in enumerate(flows, start=1)
    ]
    return Plan(result, overrides or {}, filament, wanted, tuple(samples))


def minutes_about(ceiling: float, filament: MeasuredFilament, wanted: Wanted) -> float:
    """Time [min] that weighings about a `ceiling` [m3/s] take as they are planned, purging left out."""
    fed = [_planned(0, 0, share, ceiling, 0.0, filament, wanted) for share in SHARES]
    return (WARM_UP + wanted.repeats * sum(each.time + wanted.handling for each in fed)) / 60.0


def melt_content(result: Result) -> float:
    """What the melt zone holds [m3]; 0 without one."""
    low, high = result.melt_zone or (0.0, 0.0)
    return result.problem.arrangement.wall.volume(1e-3 * low, 1e-3 * high)


def _order(wanted: Wanted) -> list[tuple[int, float]]:
    """Round and share of every sample: each round takes all flows once, in an order of its own, against drift."""
    rng = np.random.default_rng(wanted.seed)
    return [
        (turn, float(share)) for turn in range(1, wanted.repeats + 1) for share in rng.permutation(np.array(SHARES))
    ]


def _planned(
    order: int, turn: int, share: float, predicted: float, content: float, filament: MeasuredFilament, wanted: Wanted
) -> Planned:
    """A sample long enough for the wanted uncertainty of its mass, with what is thought to be delivered beyond the ceiling."""
    speed = round(share * predicted / filament.area * 6e5) / 6e5  # to a tenth of a millimetre a minute
    flow = speed * filament.area
    line = filament.density.value * filament.area * min(1.0, predicted / flow)  # mass to a length fed [kg/m]
    length = max(wanted.balance.least_mass(wanted.uncertainty) / line, SHORTEST_TIME * speed)
    length = STEP * math.ceil(length / STEP - 1e-9)
    purge = STEP * math.ceil(PURGED * content / filament.area / STEP - 1e-9)
    return Planned(order, turn, share, flow, speed, purge, length, length / speed, line * length)
