"""What can be found out about a case, as plain functions: run, ceiling, solve, check."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.printed_line import speed_of
from meltzone.cases.inputs.reader import Case, load_case
from meltzone.cases.studies.cautions import cautions_of, hottest_points, materials_by_part
from meltzone.cases.studies.completing import (
    pushed_at,
    result_of,
    stuck_on_in,
    with_band,
    with_push,
    with_stuck_on,
    with_usual,
)
from meltzone.cases.studies.printing import flow_at, lines_of
from meltzone.cases.studies.results import Result
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.discretise import discretise
from meltzone.fem.problem import Problem
from meltzone.fem.progress import Reporter
from meltzone.fem.steady import solve_at_flow
from meltzone.geometry.mesh import SectionMesh, build_section
from meltzone.geometry.printed_line import PrintedLine
from meltzone.materials.limits import Finding
from meltzone.materials.units import FLOW, UnitError, parse

CaseLike = str | os.PathLike[str] | Case
Overrides = Mapping[str, Any]

HIGHEST_FLOW = 1e-6  # a thousand mm3/s: beyond any hot end, and a sign of a slipped unit [m3/s]


def run(case: CaseLike, overrides: Overrides | None = None, report: Reporter | None = None) -> Result:
    """Find the ceilings of `case`, with the mesh error and the band.

    `case` is a path, the name of a shipped example or a loaded Case. `report` is told what is being done. Raises CaseError
    for a case that cannot be used.
    """
    loaded = loaded_case(case, overrides)
    found = find_ceilings(problem_of(loaded), mesh_error=True, report=report)
    return with_stuck_on(with_band(with_usual(with_push(result_of(loaded, found)))))


def ceiling(case: CaseLike, overrides: Overrides | None = None, report: Reporter | None = None) -> Result:
    """The ceilings of `case` with their band and no more: no mesh error, usual feeder or heater stuck on. Raises CaseError."""
    return with_band(with_push(sought(case, overrides, report)))


def sought(case: CaseLike, overrides: Overrides | None = None, report: Reporter | None = None) -> Result:
    """The ceilings of `case` alone, without the push at the governing one. Raises CaseError."""
    loaded = loaded_case(case, overrides)
    return result_of(loaded, find_ceilings(problem_of(loaded), report=report))


def solve(case: CaseLike, flow: str, overrides: Overrides | None = None, report: Reporter | None = None) -> Result:
    """Solve `case` at a `flow` such as "12 mm^3/s", the sensor at the setpoint; or at a print speed of its one printed line.

    Raises CaseError, and NoConvergence where the iteration finds no steady state.
    """
    loaded = loaded_case(case, overrides)
    rate = flow_of(flow, lines_of(loaded))
    problem = problem_of(loaded)
    if report is not None:
        report("field")
    system = discretise(problem)
    field = solve_at_flow(system, rate)
    return Result(loaded, system, field, None, pushed_at(field), stuck_on_in(system))


@dataclass(frozen=True, eq=False)
class Checked:
    """A case that can be solved: its parts and mesh, and the cautions with every part at the setpoint."""

    case: Case
    problem: Problem
    section: SectionMesh
    cautions: tuple[Finding, ...]

    @property
    def title(self) -> str:
        """The case's title, else its name."""
        return self.case.model.title or self.case.name

    @property
    def materials(self) -> dict[str, str]:
        """What every part is made of."""
        return {part: material.label for part, material in materials_by_part(self.problem).items()} | {"gap": "air"}


def check(case: CaseLike, overrides: Overrides | None = None) -> Checked:
    """Read `case`, build its parts and mesh and solve nothing. Raises CaseError."""
    loaded = loaded_case(case, overrides)
    problem = problem_of(loaded)
    section = build_section(problem.arrangement, problem.level, problem.subdivision)
    return Checked(loaded, problem, section, cautions_of(problem, hottest_points(problem, None)))


def flow_of(written: str, lines: Sequence[PrintedLine] = ()) -> float:
    """The flow [m3/s] of a text such as "12 mm^3/s", or of a print speed, "60 mm/s", with one of `lines`; raises CaseError."""
    speed = speed_of(written)
    try:
        rate = parse(written, FLOW) if speed is None else flow_at(speed, written, lines)
    except UnitError as error:
        raise CaseError("flow", None, None, repr(written), error.expected, error.hint) from error
    if not 0.0 < rate <= HIGHEST_FLOW:
        expected = "a volume flow above 0 and up to 1000 mm^3/s"
        raise CaseError("flow", None, None, repr(written), expected, "Check the number and its unit.")
    return rate


def loaded_case(case: CaseLike, overrides: Overrides | None) -> Case:
    """`case` as a Case, loaded where it is a path or a name, with `overrides` on top. Raises CaseError."""
    if not isinstance(case, Case):
        return load_case(case, overrides)
    return case.changed(overrides) if overrides else case
