"""Forces predicted at the flows of measured ones, and the one factor that lies between."""

from __future__ import annotations

import math
from dataclasses import replace

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.studies.bench.rows import ForceRow
from meltzone.cases.studies.calibration.row_cases import RowCases, Values, in_row
from meltzone.cases.studies.cautions import cautions_of, hottest_points
from meltzone.cases.studies.validation.outcome import PredictedForce
from meltzone.fem.discretise import discretise
from meltzone.fem.progress import Reporter
from meltzone.fem.slow_flow.feeding import feeding, missing_for_force
from meltzone.fem.steady import solve_at_flow


def predicted_forces(cases: RowCases, values: Values | None, report: Reporter) -> tuple[PredictedForce, ...]:
    """Every force row of `cases` with the free numbers at `values`, or as its case has them.

    Raises CaseError where a case's polymer has no force, NoConvergence where a solve fails.
    """
    rows, found = cases.measured.forces, []
    for number, row in enumerate(rows, start=1):
        report(f"predicting force {number} of {len(rows)}: {row.name}")
        try:
            found.append(_predicted(cases, row, values))
        except CaseError as error:
            raise in_row(error, cases.measured, row) from error
    logs = [math.log(each.force / each.row.force) for each in found if each.row.calibrates]
    whole = math.exp(sum(logs) / len(logs)) if logs else 1.0
    return tuple(replace(each, whole=whole) for each in found)


def _predicted(cases: RowCases, row: ForceRow, values: Values | None) -> PredictedForce:
    case = cases.case(row, values)
    problem = problem_of(case)
    missing = missing_for_force(problem)
    if missing:
        expected, hint = "a polymer whose force is known", f"{missing[:1].upper()}{missing[1:]}."
        raise CaseError(case.file, None, "polymer.material", case.model.polymer.material, expected, hint)
    field = solve_at_flow(discretise(problem), row.flow)
    return PredictedForce(row, feeding(field).force, 1.0, cautions_of(problem, hottest_points(problem, field)))
