"""What the given velocity of the drawn core leaves out: the least work over profiles in which a stiff core lags behind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar

from generate.evidence.force_study import SERIES, at_flow
from generate.evidence.studies import PRACTICE
from meltzone.cases.studies.bench.rows import case_of_row
from meltzone.cases.studies.validation.measurements import load_measured
from meltzone.fem.slow_flow.feeding import Feeding, feeding
from meltzone.fem.slow_flow.stretching import Drawing

SLOWEST, FASTEST = -0.5, 0.9  # lag tried [-]


@dataclass(frozen=True)
class Lag:
    """The core's `lag` behind the plug at the orifice at which the work is least [-], and pressures of drawing [MPa].

    `plug` is with the velocity given, `least` drawing and the shear between streamlines at the lag, `shear` the latter alone.
    """

    lag: float
    plug: float
    least: float
    shear: float

    def over(self, pushed: Feeding) -> float:
        """The whole pressure with the lag over that with the velocity given [-]."""
        return 1.0 - 1e6 * (self.plug - self.least) / pushed.pressure


def least_work(pushed: Feeding) -> Lag:
    """The velocity over the flow's share s is the plug's times 1 + a x (2 s - 1), x growing with the strain from 0 to 1.

    Flows without inertia take the velocity of least work, where stress is a function of the rate alone; so this is an estimate
    from one family of velocities, not a solution: the stress here remembers. Temperatures stay with their streamlines.
    """

    def work(lag: float) -> tuple[float, float]:
        return _drawing(pushed, lag), _shear(pushed, lag)

    best = float(minimize_scalar(lambda lag: sum(work(lag)), bounds=(SLOWEST, FASTEST), method="bounded").x)
    drawn, sheared = work(best)
    return Lag(best, 1e-6 * _drawing(pushed, 0.0), 1e-6 * (drawn + sheared), 1e-6 * sheared)


def _places(pushed: Feeding) -> np.ndarray:
    """Share of the flow inside every streamline, (m,) [-]."""
    return np.asarray((pushed.radius[0] / pushed.radius[0, -1]) ** 2)


def _profile(pushed: Feeding, lag: float) -> np.ndarray:
    """Velocity over the plug's at the orifice, (m,) [-]: the streamlines fill the section."""
    shape = 1.0 + lag * (2.0 * _places(pushed) - 1.0)
    return np.asarray(shape * (pushed.shares @ (1.0 / shape)))


def _drawing(pushed: Feeding, lag: float) -> float:
    """Pressure of drawing [Pa]: every streamline's strain is longer by the log of its velocity over the plug's."""
    strains, decays = pushed.lines.strains, pushed.drawing.decays
    whole, more = strains.sum(), np.log(_profile(pushed, lag))
    works = [
        float(Drawing(strains * (1.0 + extra / whole), decays[:, [k]], pushed.modulus).work[0])
        for k, extra in enumerate(more)
    ]
    return float(pushed.shares @ np.array(works))


def _shear(pushed: Feeding, lag: float) -> float:
    """Pressure that shear between the streamlines takes [Pa]: du/dr = 4 a x U r / R^2, viscosity by the local temperature."""
    lines, law = pushed.lines, pushed.law
    grown = np.cumsum(lines.strains) / lines.strains.sum()
    wall = pushed.radius[lines.upper, -1][:, None]
    wall = wall * (1.0 - lines.place[:, None]) + pushed.radius[lines.upper - 1, -1][:, None] * lines.place[:, None]
    share = np.sqrt(_places(pushed))
    rate = 4.0 * abs(lag) * grown[:, None] * pushed.flow / (np.pi * wall**3) * share + 1e-12
    rest = law.zero_shear(pushed.temperature[lines.upper])
    viscosity = rest / (1.0 + (rest * rate / law.tau_star) ** (1.0 - law.n))
    return float(np.sum(lines.volumes * ((viscosity * rate**2) @ pushed.shares)) / pushed.flow)


# Rows of the practice's table and the two flows of PLA through 0.4 mm that its steepness is read from
ROWS = ("short block, 210 degC", "short block, 260 degC", "long block", "long nozzle bare")


def lags() -> list[tuple[str, Feeding, Lag]]:
    """Where the core lags, at measured flows, by the row's name."""
    practice, series = load_measured(PRACTICE), load_measured(SERIES[0])
    rows = [(row.name, practice, row, row.ceiling) for row in map(practice.row, ROWS)]
    rows += [(f"PLA, 0.4 mm, {row.name}", series, row, row.flow) for row in (series.forces[2], series.forces[3])]
    found = [(name, feeding(at_flow(case_of_row(read, row), row.overrides, flow))) for name, read, row, flow in rows]
    return [(name, pushed, least_work(pushed)) for name, pushed in found]
