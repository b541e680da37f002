"""The feeding force at measured ceilings and at published slip: whether it is the same in every row, as a limit would be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from generate.evidence.literature_study import LENGTHS, SLIP, of_length
from generate.evidence.studies import PRACTICE
from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.studies.bench.rows import MeasuredFile, case_of_row
from meltzone.cases.studies.calibration.row_cases import Overrides
from meltzone.cases.studies.validation.measurements import load_measured
from meltzone.cases.studies.validation.outcome import CUBIC_MM
from meltzone.fem.discretise import discretise
from meltzone.fem.faults import NoConvergence
from meltzone.fem.field import Field
from meltzone.fem.progress import Reporter
from meltzone.fem.slow_flow.feeding import feeding
from meltzone.fem.slow_flow.force import flow_at_force
from meltzone.fem.slow_flow.stokes import melt_flow_of
from meltzone.fem.steady import solve_at_flow

MEGA = 1e-6
AGREE = 10.0  # estimate over solved force less one [%]: beyond this no flow is predicted by the estimate


@dataclass(frozen=True)
class Pushed:
    """A row at its measured flow [mm3/s]: pressures by part [MPa], estimated and solved, and forces [N].

    `shear` is the cone's by lubrication alone, `estimate` the cone's with stretching, `cone` that of the melt's slow flow.
    """

    name: str
    flow: float
    bore: float
    land: float
    cone: float
    shear: float
    estimate: float
    force: float
    estimated_force: float

    @property
    def added(self) -> float:
        """What the convergence of the core adds to the shear in the cone [MPa]."""
        return self.cone - self.shear

    @property
    def apart(self) -> float:
        """The estimated force over the solved one, less one [%]."""
        return 100.0 * (self.estimated_force / self.force - 1.0)


def pushed(name: str, field: Field) -> Pushed:
    """What it takes to push the melt of a solved field."""
    rough, solved = feeding(field), melt_flow_of(field)
    return Pushed(
        name,
        CUBIC_MM * field.flow,
        bore=MEGA * solved.bore,
        land=MEGA * solved.land,
        cone=MEGA * solved.cone,
        shear=MEGA * rough.cone,
        estimate=MEGA * (rough.cone + rough.stretching),
        force=solved.force,
        estimated_force=rough.force,
    )


def practice_forces(overrides: Overrides | None = None) -> list[Pushed]:
    """The measured rows of everyday hot ends, each at its measured flow."""
    measured = load_measured(PRACTICE)
    return [pushed(row.name, _field(measured, number, overrides)) for number, row in enumerate(measured.rows)]


def _field(measured: MeasuredFile, number: int, overrides: Overrides | None) -> Field:
    row = measured.rows[number]
    case = load_case(case_of_row(measured, row), {**row.overrides, **(overrides or {})})
    return solve_at_flow(discretise(problem_of(case)), row.ceiling)


@dataclass(frozen=True)
class SlipForces:
    """The slip test with a melt zone of `length` [mm]: forces at slip [N], and flows by the middle row's force less one [%].

    `errors` leave the middle row out; they are empty where the quick estimate that finds the flows is not to be trusted.
    """

    length: float
    forces: tuple[float, ...]
    errors: tuple[float, ...]

    @property
    def spread(self) -> float:
        """Standard deviation over mean of the forces [%]."""
        return 100.0 * float(np.std(self.forces, ddof=1) / np.mean(self.forces))

    @property
    def worst(self) -> float:
        """The largest of the errors that there are, in size [%]."""
        return max((abs(error) for error in self.errors if not np.isnan(error)), default=0.0)


def slip_forces(
    lengths: Sequence[float] = LENGTHS, overrides: Overrides | None = None, report: Reporter | None = None
) -> list[SlipForces]:
    """The slip test judged by the feeding force, over several lengths of the melt zone [mm]."""
    found = []
    for length in lengths:
        if report is not None:
            report(f"slip test by force, melt zone {length:g} mm")
        found.append(_slip_forces(length, overrides))
    return found


def _slip_forces(length: float, overrides: Overrides | None) -> SlipForces:
    measured = load_measured(SLIP)
    changed = {**of_length(length), **(overrides or {})}
    fields = [_field(measured, number, changed) for number in range(len(measured.rows))]
    rows = [pushed(row.name, field) for row, field in zip(measured.rows, fields, strict=True)]
    forces = tuple(row.force for row in rows)
    if any(abs(row.apart) > AGREE for row in rows):
        return SlipForces(length, forces, ())
    middle = next(number for number, row in enumerate(measured.rows) if row.calibrates)
    errors = [
        _error(field, forces[middle] * row.estimated_force / row.force)
        for number, (field, row) in enumerate(zip(fields, rows, strict=True))
        if number != middle
    ]
    return SlipForces(length, forces, tuple(errors))


def _error(field: Field, grip: float) -> float:
    """Flow at the estimated force `grip` [N] over that of `field`, less one [%]; nan where there is none."""
    try:
        return 100.0 * (flow_at_force(field, grip).flow / field.flow - 1.0)
    except NoConvergence:
        return float("nan")
