"""The feeding force against published forces, speeds and slip, and against measured ceilings: one grip, nothing else fitted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import minimize_scalar

from generate.evidence.literature_study import of_length
from generate.evidence.studies import ENVELOPE, PRACTICE
from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.studies.bench.rows import MeasuredFile, case_of_row
from meltzone.cases.studies.calibration.row_cases import Overrides
from meltzone.cases.studies.validation.measurements import load_measured
from meltzone.cases.studies.validation.outcome import CUBIC_MM, PredictedForce
from meltzone.cases.studies.validation.validate import validate
from meltzone.fem.ceiling import melt_ceiling
from meltzone.fem.discretise import discretise
from meltzone.fem.faults import NoConvergence
from meltzone.fem.field import Field
from meltzone.fem.progress import Reporter
from meltzone.fem.slow_flow.feeding import Feeding, feeding
from meltzone.fem.slow_flow.force import flow_at_force
from meltzone.fem.slow_flow.usual import USUAL_GRIP
from meltzone.fem.steady import solve_at_flow

MEGA = 1e-6

# Measured files of forces: over flow, over flow and block temperature, of equal force, and the set held back
SERIES = ("pla-forces-narrow", "pla-forces-wide", "abs-forces-narrow", "abs-forces-wide")
EQUAL, SPEEDS = "abs-equal-force", "abs-filament-speeds"
SPEED_LENGTHS = (10.0, 12.5, 15.0, 20.0, 30.0)  # heated lengths tried [mm]
BRACKET = (-20.0, 0.0, 20.0)  # about the published block temperature [K]


@dataclass(frozen=True)
class Pushed:
    """A measured row: at its flow [mm3/s] pressures by part [MPa] and the force [N]; what is predicted, as errors [%].

    `by_grip` has the force alone govern, with the grip that the first row asks for; `by_usual` with the usual one; `melt` is
    the thermal criterion alone, `least` the lesser of melt and usual grip. None where there is none.
    """

    name: str
    flow: float
    bore: float
    cone: float
    land: float
    drawing: float
    force: float
    by_grip: float | None
    by_usual: float | None
    melt: float | None

    @property
    def least(self) -> float | None:
        """The lesser of melt and usual grip, less the measured [%]."""
        known = [error for error in (self.by_usual, self.melt) if error is not None]
        return min(known) if known else None


def pushed_rows(name: str, report: Reporter | None = None) -> list[Pushed]:
    """The rows of the measured file `name`, each at its measured flow."""
    measured = load_measured(name)
    rows, grip = [], 0.0
    for number, row in enumerate(measured.rows):
        if report is not None:
            report(f"by force: {row.name}")
        field = _field(measured, number)
        found = feeding(field)
        grip = grip or found.force
        rows.append(_row(row.name, field, found, grip))
    return rows


def _row(name: str, field: Field, found: Feeding, grip: float) -> Pushed:
    try:
        melt: float | None = 100.0 * (melt_ceiling(field.system).flow / field.flow - 1.0)
    except NoConvergence:
        melt = None
    parts = (found.bore, found.cone, found.land, found.stretching)
    return Pushed(
        name,
        CUBIC_MM * field.flow,
        *(MEGA * part for part in parts),
        found.force,
        by_grip=_missed(field, grip),
        by_usual=_missed(field, USUAL_GRIP),
        melt=melt,
    )


def _missed(field: Field, grip: float) -> float | None:
    """Flow at the force `grip` [N] over that of `field`, less one [%]; None where none meets it."""
    try:
        return 100.0 * (flow_at_force(field, grip).flow / field.flow - 1.0)
    except NoConvergence:
        return None


def _field(measured: MeasuredFile, number: int, changes: Overrides | None = None) -> Field:
    row = measured.rows[number]
    own = {key: value for key, value in (changes or {}).items() if _touches(row.name, key)}
    return at_flow(case_of_row(measured, row), {**row.overrides, **own}, row.ceiling)


def _touches(name: str, key: str) -> bool:
    """Whether a change of `key` belongs to the row called `name`: a jet only where a fan blows."""
    return key != "surroundings.jet_speed" or "fan on" in name


def at_flow(case: str | Path, overrides: Overrides, flow: float) -> Field:
    """The field of `case` at `flow` [m3/s]."""
    return solve_at_flow(discretise(problem_of(load_case(case, overrides))), flow)


@dataclass(frozen=True)
class LongNozzle:
    """What the long nozzle's rows miss by [%] by force alone, the grip set by the short block, with `changes` of the inputs."""

    label: str
    changes: Overrides
    errors: tuple[float | None, ...]


LONG_NOZZLE: Mapping[str, Overrides] = {
    "default": {},
    "jet of 2 m/s": {"surroundings.jet_speed": "2 m/s"},
    "jet of 2 m/s, thread 30000 W/m²/K": {"surroundings.jet_speed": "2 m/s", "contacts.thread": "30000 W/m^2/K"},
    "bare thread by its envelope": {"surroundings.thread_area": ENVELOPE},
    "the same, jet of 2 m/s": {"surroundings.thread_area": ENVELOPE, "surroundings.jet_speed": "2 m/s"},
    "nozzle of copper": {"nozzle.material": "copper"},
    "copper, thread 30000 W/m²/K, jet of 2 m/s": {
        "nozzle.material": "copper",
        "surroundings.jet_speed": "2 m/s",
        "contacts.thread": "30000 W/m^2/K",
    },
}
BARE = (
    "long block",
    "long nozzle bare",
    "long nozzle bare, fan on",
    "long nozzle wrapped, fan on",
    "long nozzle, brass sleeve",
)


def long_nozzle(label: str) -> LongNozzle:
    """The rows of `BARE` with one of the changes of `LONG_NOZZLE`, which the short block shares."""
    measured, changes = load_measured(PRACTICE), LONG_NOZZLE[label]
    places = {row.name: number for number, row in enumerate(measured.rows)}
    grip = feeding(_field(measured, 0, changes)).force
    return LongNozzle(label, changes, tuple(_missed(_field(measured, places[name], changes), grip) for name in BARE))


@dataclass(frozen=True)
class Relative:
    """Forces at `flows` [mm3/s] over that at the last one: `measured` and `predicted` [-]."""

    flows: tuple[float, ...]
    measured: tuple[float, ...]
    predicted: tuple[float, ...]

    @property
    def steepness(self) -> tuple[float, float]:
        """d ln F/d ln Q between the last two, measured and predicted [-]."""
        run = np.log(self.flows[-1] / self.flows[-2])
        return float(-np.log(self.measured[-2]) / run), float(-np.log(self.predicted[-2]) / run)


def relative(name: str) -> Relative:
    """The forces of the measured file `name` over flow."""
    return _relative(validate(name).forces)


def speeds(length: float) -> Relative:
    """Published speeds of ABS under five forces, for a heated length [mm], which is not quoted."""
    return _relative(validate(SPEEDS, overrides=of_length(length)).forces)


def slope_of(flows: Sequence[float], forces: Sequence[float]) -> float:
    """d ln F/d ln Q through all points [-]."""
    return float(np.polyfit(np.log(flows), np.log(forces), 1)[0])


def _relative(found: Sequence[PredictedForce]) -> Relative:
    last = found[-1]
    return Relative(
        tuple(CUBIC_MM * each.row.flow for each in found),
        tuple(each.row.force / last.row.force for each in found),
        tuple(each.force / last.force for each in found),
    )


@dataclass(frozen=True)
class EqualForce:
    """ABS at half the greatest force, with a melt zone of `length` [mm]: predicted forces [N] at the published temperatures.

    `misses` [K] are the block temperatures at which one grip is met less the published ones, for the grip at which the worst
    is least.
    """

    length: float
    forces: tuple[float, ...]
    misses: tuple[float, ...]

    @property
    def worst(self) -> float:
        """The greatest of them [K]."""
        return max(abs(miss) for miss in self.misses)


def equal_force(length: float) -> EqualForce:
    """The published temperatures of equal force against the model's, for a melt zone of `length` [mm]."""
    measured, rows = load_measured(EQUAL), []
    for row in measured.forces:
        case = case_of_row(measured, row)
        hot = load_case(case, row.overrides).model.heater.setpoint
        own = [{**of_length(length), "heater.setpoint": f"{hot + step} K"} for step in BRACKET]
        rows.append([feeding(at_flow(case, each, row.flow)).force for each in own])
    logs = np.log(rows)

    def misses(log_grip: float) -> np.ndarray:
        return np.array([np.interp(-log_grip, -row, BRACKET) for row in logs])

    best = minimize_scalar(
        lambda log_grip: float(np.abs(misses(log_grip)).max()),
        bounds=(logs[:, 1].min(), logs[:, 1].max()),
        method="bounded",
    )
    return EqualForce(length, tuple(row[1] for row in rows), tuple(map(float, misses(best.x))))


def mean_error(errors: Sequence[float | None]) -> float:
    """Mean of the sizes of those that are there [%]; nan where none is."""
    known = [abs(error) for error in errors if error is not None]
    return float(np.mean(known)) if known else float("nan")
