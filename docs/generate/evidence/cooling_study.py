"""Published cooling curves of a block with its heater off while polymer is pushed through: the heat that the flow takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from generate.evidence.force_study import EQUAL, at_flow
from generate.evidence.literature_study import of_length
from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.studies.bench.rows import case_of_row
from meltzone.cases.studies.validation.measurements import load_measured
from meltzone.cases.studies.validation.outcome import CUBIC_MM
from meltzone.fem.discretise import discretise
from meltzone.fem.faults import NoConvergence
from meltzone.fem.in_time.transient import Pace
from meltzone.fem.in_time.unsteady import cool_down
from meltzone.materials.units import ZERO_CELSIUS

# Read et al. 2024, doi 10.1007/s40192-024-00350-w, Fig. 7, digitised within 0.3 s: ABS through 0.8 mm, heater off near
# 288 degC; seconds until the block passes 240 degC, by flow [mm3/s]
SECONDS = {2.0: 37.5, 5.0: 35.7, 10.0: 34.7, 15.0: 31.7, 20.0: 30.0, 25.0: 28.7}
FROM, TO = 288.0, 240.0  # [degC]
REFERENCE = 20.0  # the flow that the others are held against [mm3/s]
LONGEST = 300.0  # [s]
LEVEL = 0.5  # the times move by less than 0.3 s from there to level 1
PACE = Pace(0.1)
START = (2.0, 45.0)  # factor on the block's heat capacity, film on its faces [W/m2/K]: where the fit begins
MOVED = 0.1  # of the logarithms, for the derivatives of the fit
CORRECTIONS = 2


def ratios(seconds: Mapping[float, float]) -> dict[float, float]:
    """{1/t - 1/t at the least flow} over that at `REFERENCE`, by flow: free of the block's heat capacity [-]."""
    least = min(seconds)
    rates = {flow: 1.0 / time - 1.0 / seconds[least] for flow, time in seconds.items() if flow != least}
    return {flow: rate / rates[REFERENCE] for flow, rate in rates.items()}


@dataclass(frozen=True)
class Cooling:
    """Runs in time with the heater off, for a melt zone of `length` [mm]: `seconds` by flow [mm3/s], and their ratios.

    `capacity` is the factor on the block's heat capacity by its card, `film` the film coefficient on its faces [W/m2/K], both
    fitted to the six times. `steady` are the ratios by steady heat balances on the way.
    """

    length: float
    seconds: dict[float, float]
    capacity: float
    film: float
    steady: dict[float, float]

    @property
    def predicted(self) -> dict[float, float]:
        """The ratios of the runs [-]."""
        return ratios(self.seconds)

    @property
    def worst(self) -> float:
        """The greatest difference from the measured ratios [-]."""
        measured = ratios(SECONDS)
        return max(abs(part - measured[flow]) for flow, part in self.predicted.items())


def cooling(length: float) -> Cooling:
    """The published curves against runs in time, block's heat capacity and idle loss fitted: two numbers, six curves."""
    measured = np.log(list(SECONDS.values()))
    at = np.log(START)
    base = np.log(_times(length, at))
    columns = [(np.log(_times(length, at + move)) - base) / MOVED for move in MOVED * np.eye(2)]
    found = base
    for _ in range(CORRECTIONS):  # with the first derivatives: the times bend little
        at = at + np.linalg.lstsq(np.stack(columns, axis=1), measured - found, rcond=None)[0]
        found = np.log(_times(length, at))
    seconds = dict(zip(SECONDS, map(float, np.exp(found)), strict=True))
    return Cooling(length, seconds, *map(float, np.exp(at)), steady_ratios(length))


def _times(length: float, logs: np.ndarray) -> np.ndarray:
    return np.array(list(times(length, *map(float, np.exp(logs))).values()))


def times(
    length: float, capacity: float, film: float, flows: Iterable[float] = SECONDS, level: float = LEVEL
) -> dict[float, float]:
    """Seconds until the block passes `TO` with the heater off, by flow [mm3/s]; `capacity` and `film` as in Cooling."""
    own = {
        **of_length(length),
        "mesh.level": level,
        "heater.setpoint": f"{FROM} degC",
        "surroundings.films": {"block": f"{film} W/m^2/K"},
    }
    problem = problem_of(load_case(_case(), own))
    block = problem.materials.block
    block = replace(block, heat_capacity=block.heat_capacity.scaled(capacity))
    system = discretise(replace(problem, materials=replace(problem.materials, block=block)))
    found = {}
    for flow in flows:
        lasts = cool_down(system, flow / CUBIC_MM, TO + ZERO_CELSIUS, LONGEST, PACE).lasts
        if lasts is None:
            raise NoConvergence(f"the block does not cool to {TO:g} degC in {LONGEST:g} s")
        found[flow] = lasts
    return found


def steady_ratios(length: float) -> dict[float, float]:
    """The ratios by the steady heat balance at three block temperatures on the way, their mean.

    With a heat capacity C, C dT/dt = -P(T, Q): so 1/t less 1/t at the least flow goes with the heat that the flow takes more.
    That the polymer keeps up with the block is assumed.
    """
    hot = np.linspace(TO, FROM, 7)[1::2]
    powers = {}
    for flow in SECONDS:
        own = [{**of_length(length), "heater.setpoint": f"{t} degC"} for t in hot]
        powers[flow] = float(np.mean([at_flow(_case(), each, flow / CUBIC_MM).power for each in own]))
    return ratios({flow: 1.0 / power for flow, power in powers.items()})


def _case() -> str:
    measured = load_measured(EQUAL)
    return case_of_row(measured, measured.forces[0])
