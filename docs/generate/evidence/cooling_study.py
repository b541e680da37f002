"""Published cooling curves of a block with its heater off while polymer is pushed through: the heat that the flow takes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from generate.evidence.force_study import at_flow
from generate.evidence.literature_study import SLIP, of_length
from meltzone.cases.studies.bench.rows import case_of_row
from meltzone.cases.studies.validation.measurements import load_measured
from meltzone.cases.studies.validation.outcome import CUBIC_MM

# Read et al. 2024, doi 10.1007/s40192-024-00350-w, Fig. 7, digitised within 0.3 s: ABS through 0.8 mm, heater off near
# 288 degC; seconds until the block passes 240 degC, by flow [mm3/s]
SECONDS = {2.0: 37.5, 5.0: 35.7, 10.0: 34.7, 15.0: 31.7, 20.0: 30.0, 25.0: 28.7}
FROM, TO = 288.0, 240.0  # [degC]
REFERENCE = 20.0  # the flow that the others are held against [mm3/s]


@dataclass(frozen=True)
class Cooling:
    """Heat that the flow takes more than 2 mm3/s do, over that at 20, by flow [mm3/s]: measured and predicted.

    `length` is that of the melt zone [mm], `capacity` is the block's heat capacity by which both agree at 20 mm3/s [J/K].
    """

    length: float
    measured: dict[float, float]
    predicted: dict[float, float]
    capacity: float

    @property
    def worst(self) -> float:
        """The greatest difference [-]."""
        return max(abs(self.predicted[flow] - part) for flow, part in self.measured.items())


def cooling(length: float) -> Cooling:
    """The published curves against the steady heat balance at three block temperatures on the way, their mean.

    With a heat capacity C, C dT/dt = -P(T, Q): so 1/t less 1/t at 2 mm3/s goes with the heat that the flow takes more, whatever
    C and the idle losses. That the polymer keeps up with the block is assumed; its heat is a few per cent of the block's.
    """
    case = case_of_row(load_measured(SLIP), load_measured(SLIP).rows[0])
    hot = np.linspace(TO, FROM, 7)[1::2]
    powers = {}
    for flow in SECONDS:
        own = [{**of_length(length), "heater.setpoint": f"{t} degC"} for t in hot]
        powers[flow] = float(np.mean([at_flow(case, each, flow / CUBIC_MM).power for each in own]))
    least = min(SECONDS)
    rates = {flow: 1.0 / time - 1.0 / SECONDS[least] for flow, time in SECONDS.items()}
    heat = {flow: power - powers[least] for flow, power in powers.items()}
    others = [flow for flow in SECONDS if flow != least]
    return Cooling(
        length,
        {flow: rates[flow] / rates[REFERENCE] for flow in others},
        {flow: heat[flow] / heat[REFERENCE] for flow in others},
        heat[REFERENCE] / rates[REFERENCE] / (FROM - TO),
    )
