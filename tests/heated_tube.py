"""A hot end in closed form, a plug in a heated tube behind a film: what the statistics of a calibration are tested on."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j0, j1

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.fem.problem import Problem
from meltzone.fem.slow_flow.feeding_curve import FeedingCurve

CONDUCTIVITY, DIFFUSIVITY = 0.25, 2e-7  # W/m/K, m2/s: invented
FORCE = 3.0  # N at 1 mm3/s, invented; it rises with the power 0.8 of the flow


def melt_ceiling(problem: Problem) -> float | None:
    """Flow at which the axis leaves the tube at the flow temperature [m3/s], None where the wall is no hotter than that.

    First mode of a cylinder with surface exchange, x J1(x) = Bi J0(x): theta = C exp(-x^2 Fo), Fo = pi alpha L / Q
    (Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed.).
    """
    a, operation = problem.arrangement, problem.operation
    left = operation.setpoint - problem.materials.polymer.flow_temperature
    if left <= 0.0:
        return None
    biot = problem.contacts.bore_melt * a.nozzle.bore / 2.0 / CONDUCTIVITY
    root = brentq(lambda x: x * j1(x) - biot * j0(x), 1e-9, 2.404825557695773)
    amplitude = 2.0 * biot / ((root**2 + biot**2) * j0(root))
    theta = left / (operation.setpoint - operation.inlet_temperature)
    return math.pi * DIFFUSIVITY * (a.block_top - a.nozzle.land) * root**2 / math.log(amplitude / theta)


def flow_of(case: str, *given: tuple[str, str]) -> float:
    """That ceiling of `case` with overrides [mm3/s]."""
    flow = melt_ceiling(problem_of(load_case(case, dict(given))))
    assert flow is not None
    return 1e9 * flow


def find_ceilings(problem: Problem, **_: object) -> SimpleNamespace:
    """The ceilings of the tube, in the place of those of the solver."""
    flow = melt_ceiling(problem)
    melt = None if flow is None else SimpleNamespace(flow=flow, problem=problem, state=None)
    governs = "none" if melt is None else "melt"
    return SimpleNamespace(flow=flow or 0.0, governs=governs, melt=melt, power=None, force=None, field=None)


def feeding_curve(_: object) -> FeedingCurve:
    """The force on the filament, whatever the temperatures."""
    flows = np.geomspace(5.0, 20.0, 5)
    return FeedingCurve(1e-9 * flows, FORCE * flows**0.8)


def stand_in(patch: pytest.MonkeyPatch) -> None:
    """Have calibrations ask the tube where they would ask the solver."""
    calibration = "meltzone.cases.studies.calibration"
    for place in ("models.find_ceilings", "row_cases.find_ceilings"):
        patch.setattr(f"{calibration}.{place}", find_ceilings)
    patch.setattr(f"{calibration}.models.feeding_curve", feeding_curve)
