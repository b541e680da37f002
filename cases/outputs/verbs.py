"""The verbs on one case with what they write: run, solve, check and new, as the command line and scripts call them."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from meltzone.cases.inputs.starter import starter_text
from meltzone.cases.outputs.axis_figure import axis_figure
from meltzone.cases.outputs.field_figure import field_figure
from meltzone.cases.outputs.files import Files, draw, folder_for
from meltzone.cases.outputs.guard import files_of
from meltzone.cases.outputs.quantities import as_json
from meltzone.cases.outputs.record import record_of
from meltzone.cases.outputs.section_figure import checked_figure
from meltzone.cases.outputs.vtu import write_vtu
from meltzone.cases.outputs.writing import staged_file
from meltzone.cases.studies import run as studies
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.run import CaseLike, Checked, Overrides, Reporter, loaded_case

RESULT, FIELD, AXIS, VTU = "result.json", "field.png", "axis.png", "field.vtu"
OURS = (RESULT, FIELD, AXIS, VTU)
Place = str | os.PathLike[str]


def run(
    case: CaseLike, out: Place | None = None, overrides: Overrides | None = None, report: Reporter | None = None
) -> Result:
    """Find the ceilings of `case`, with the mesh error, and write result.json, pictures and the field to the folder `out`.

    `case` is a path, the name of a shipped example or a loaded Case; without `out` nothing is written. `report` is told
    what is being done. Raises CaseError for a case or a folder that cannot be used, the folder before the solve.
    """
    loaded = loaded_case(case, overrides)
    with folder_for(_path(out), OURS, files_of(loaded)) as put:
        result = studies.run(loaded, report=report)
        put(lambda: result_files(result, report))
    return result


def solve(
    case: CaseLike,
    flow: str,
    out: Place | None = None,
    overrides: Overrides | None = None,
    report: Reporter | None = None,
) -> Result:
    """Solve `case` at a `flow` such as "12 mm^3/s", the sensor at the setpoint; with `out`, write the same files as `run`.

    Raises CaseError, and NoConvergence where the iteration finds no steady state.
    """
    loaded = loaded_case(case, overrides)
    with folder_for(_path(out), OURS, files_of(loaded)) as put:
        result = studies.solve(loaded, flow, report=report)
        put(lambda: result_files(result, report))
    return result


def result_files(result: Result, report: Reporter | None = None) -> Files:
    """The files of `result` by their names; without a field, result.json alone."""
    field, title, verdict = result.field, result.title, result.verdict
    files: dict[str, Any] = {RESULT: as_json(record_of(result))}
    if field is not None:
        if report is not None:
            report("pictures")
        files[FIELD] = field_figure(field, title, verdict)
        files[AXIS] = axis_figure(field, title, verdict)
        files[VTU] = lambda path: write_vtu(field, path)
    return files


def check(case: CaseLike, out: Place | None = None, overrides: Overrides | None = None) -> Checked:
    """Read `case`, build its parts and mesh and solve nothing; with `out`, draw them to that file. Raises CaseError."""
    checked = studies.check(case, overrides)
    if out is not None:
        draw(Path(out), lambda: checked_figure(checked), files_of(checked.case))
    return checked


def new(path: Place, like: str | None = None) -> Path:
    """Write a commented case file to begin with, built on the example `like`; raises CaseError, also if `path` exists."""
    text = starter_text(like)
    with staged_file(Path(path), overwrite=False) as temporary:
        temporary.write_text(text, encoding="utf-8")
    return Path(path)


def _path(out: Place | None) -> Path | None:
    return None if out is None else Path(out)
