"""Published slip data against the model: what the missing length of the melt zone leaves open, under three criteria."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.studies.bench.rows import MeasuredFile, case_of_row
from meltzone.cases.studies.calibration.row_cases import Overrides
from meltzone.cases.studies.run import ceiling
from meltzone.cases.studies.validation.measurements import load_measured
from meltzone.cases.studies.validation.outcome import CUBIC_MM
from meltzone.fem.discretise import discretise
from meltzone.fem.faults import NoConvergence
from meltzone.fem.limits import melt_ceiling
from meltzone.fem.problem import Problem
from meltzone.fem.progress import Reporter
from meltzone.fem.steady import solve_at_flow
from meltzone.materials.units import ZERO_CELSIUS

Criterion = Literal["core", "inner", "mean"]
CRITERIA: tuple[Criterion, ...] = get_args(Criterion)
SLIP, PLA_LENGTHS = "abs-slip-test", "pla-lengths"
LENGTHS = (10.0, 12.5, 16.0, 20.0, 25.0, 30.0, 40.0)  # melt zones tried [mm]
EXPOSED, LAND = 5.0, 0.6  # of the base case [mm]
IN_BLOCK = 0.65  # share of the block's height that the nozzle's thread takes
ABOVE_NOZZLE = 4.0  # block above the nozzle's end in the everyday pattern [mm]


@dataclass(frozen=True)
class Slip:
    """Temperatures at the end of the melt zone at the moment of slip [degC], by criterion, one for each row of the test."""

    length: float
    flows: tuple[float, ...]
    temperatures: Mapping[str, tuple[float, ...]]
    softening: float
    calibrates: int
    ceilings: Mapping[str, tuple[float, ...]]

    def spread(self, criterion: str) -> float:
        """Standard deviation over the rows [K]."""
        return float(np.std(self.temperatures[criterion], ddof=1))

    @property
    def predicted(self) -> tuple[float, ...]:
        """The flows of the rows that do not calibrate [mm3/s]."""
        return tuple(flow for number, flow in enumerate(self.flows) if number != self.calibrates)

    def errors(self, criterion: str) -> tuple[float, ...]:
        """Predicted over measured flow less one, for the rows that do not calibrate [%]; -100 where nothing melts."""
        pairs = zip(self.ceilings[criterion], self.flows, strict=True)
        return tuple(
            100.0 * (found / flow - 1.0) for number, (found, flow) in enumerate(pairs) if number != self.calibrates
        )

    def possible(self, criterion: str) -> bool:
        """Whether the flow temperature that the criterion asks for lies above the softening temperature."""
        return self.temperatures[criterion][self.calibrates] > self.softening


def of_length(length: float, land: float = LAND) -> Overrides:
    """A block and nozzle whose melt zone, from the block's upper face to the capillary, is `length` [mm]."""
    height = length + land - EXPOSED
    return {"block.height": f"{height:g} mm", "nozzle.length": f"{EXPOSED + IN_BLOCK * height:.4g} mm"}


def slip_at(length: float) -> Slip:
    """The slip test with a melt zone of `length` [mm]: temperatures at slip, and flows predicted from one of the rows."""
    measured = load_measured(SLIP)
    problems = [_problem(measured, number, length) for number in range(len(measured.rows))]
    fields = [
        solve_at_flow(discretise(problem), row.ceiling) for problem, row in zip(problems, measured.rows, strict=True)
    ]
    calibrates = next(number for number, row in enumerate(measured.rows) if row.calibrates)
    kelvin = {name: [getattr(field, name) for field in fields] for name in CRITERIA}
    return Slip(
        length=length,
        flows=tuple(CUBIC_MM * row.ceiling for row in measured.rows),
        temperatures={name: tuple(value - ZERO_CELSIUS for value in values) for name, values in kelvin.items()},
        softening=problems[0].materials.polymer.softening_temperature - ZERO_CELSIUS,
        calibrates=calibrates,
        ceilings={
            name: tuple(_melting_flow(problem, name, values[calibrates]) for problem in problems)
            for name, values in kelvin.items()
        },
    )


def _problem(measured: MeasuredFile, number: int, length: float) -> Problem:
    row = measured.rows[number]
    return problem_of(load_case(case_of_row(measured, row), {**row.overrides, **of_length(length)}))


def _melting_flow(problem: Problem, criterion: Criterion, threshold: float) -> float:
    """The melt ceiling [mm3/s] with the flow temperature at `threshold` [K]; 0 where nothing melts."""
    polymer = replace(problem.materials.polymer, flow_temperature=threshold)
    changed = replace(
        problem,
        materials=replace(problem.materials, polymer=polymer),
        operation=replace(problem.operation, criterion=criterion),
    )
    try:
        return CUBIC_MM * melt_ceiling(discretise(changed)).flow
    except NoConvergence:
        return 0.0


def slips(lengths: Sequence[float] = LENGTHS, report: Reporter | None = None) -> list[Slip]:
    """The slip test over several lengths of the melt zone [mm]."""
    found = []
    for length in lengths:
        if report is not None:
            report(f"slip test, melt zone {length:g} mm")
        found.append(slip_at(length))
    return found


@dataclass(frozen=True)
class LengthRow:
    """A row of the second-hand table: measured [mm3/s], and predicted by criterion, for both readings of its length."""

    name: str
    measured: float
    as_melt_zone: Mapping[Criterion, float]
    as_nozzle: Mapping[Criterion, float]

    def miss(self, criterion: Criterion, nozzle: bool = False) -> float:
        """Predicted over measured less one [%], with the length as that of the melt zone or of the nozzle."""
        return 100.0 * ((self.as_nozzle if nozzle else self.as_melt_zone)[criterion] / self.measured - 1.0)


def length_rows() -> list[LengthRow]:
    """PLA at 220 degC: the length read as that of the melt zone, and as that of the nozzle in the everyday block."""
    measured = load_measured(PLA_LENGTHS)
    rows = []
    for row in measured.rows:
        path = case_of_row(measured, row)
        table = load_case(path, row.overrides).model
        length = 1e3 * (table.nozzle.exposed + table.block.height - table.nozzle.land)
        other = {
            "nozzle.length": f"{length:.5g} mm",
            "block.height": f"{length - EXPOSED + ABOVE_NOZZLE:.5g} mm",
        }
        found = [
            {
                name: ceiling(path, {**row.overrides, **extra, "polymer.criterion": name}).flow_ceiling or 0.0
                for name in CRITERIA
            }
            for extra in ({}, other)
        ]
        rows.append(LengthRow(row.name, CUBIC_MM * row.ceiling, *found))
    return rows
