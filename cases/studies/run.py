"""What can be done with a case, as plain functions: run, ceiling, solve, check, new."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import Case, load_case
from meltzone.cases.outputs.writing import AXIS, FIELD, RESULT, VTU, staged_file, staged_folder
from meltzone.cases.studies.cautions import cautions_of, hottest_points, materials_by_part
from meltzone.cases.studies.completing import pushed_at, result_of, stuck_on_in, with_push, with_stuck_on
from meltzone.cases.studies.results import Result
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.discretise import discretise
from meltzone.fem.heater import powered_blocks
from meltzone.fem.problem import Problem
from meltzone.fem.steady import solve_at_flow
from meltzone.geometry.mesh import SectionMesh, build_section
from meltzone.materials.limits import Finding
from meltzone.materials.units import FLOW, UnitError, parse

CaseLike = str | os.PathLike[str] | Case
Overrides = Mapping[str, Any]
Reporter = Callable[[str], None]

HIGHEST_FLOW = 1e-6  # a thousand mm3/s: beyond any hot end, and a sign of a slipped unit [m3/s]


def run(
    case: CaseLike,
    out: str | os.PathLike[str] | None = None,
    overrides: Overrides | None = None,
    report: Reporter | None = None,
) -> Result:
    """Find the ceilings of `case`, with the mesh error, and write result.json, pictures and the field to the folder `out`.

    `case` is a path, the name of a shipped example or a loaded Case; without `out` nothing is written. `report` is told
    what is being done. Raises CaseError for a case or a folder that cannot be used, the folder before the solve.
    """
    loaded = loaded_case(case, overrides)
    problem = problem_of(loaded)
    with _folder(out) as folder:
        found = find_ceilings(problem, mesh_error=True, report=report)
        result = with_stuck_on(with_push(result_of(loaded, found)))
        if folder is not None:
            write_files(result, folder, report)
    return result


def ceiling(case: CaseLike, overrides: Overrides | None = None, report: Reporter | None = None) -> Result:
    """Find the ceilings of `case` and no more: no mesh error, no heater stuck on, no files. Raises CaseError."""
    return with_push(sought(case, overrides, report))


def sought(case: CaseLike, overrides: Overrides | None = None, report: Reporter | None = None) -> Result:
    """The ceilings of `case` alone, without the push at the governing one. Raises CaseError."""
    loaded = loaded_case(case, overrides)
    return result_of(loaded, find_ceilings(problem_of(loaded), report=report))


def solve(
    case: CaseLike,
    flow: str,
    out: str | os.PathLike[str] | None = None,
    overrides: Overrides | None = None,
    report: Reporter | None = None,
) -> Result:
    """Solve `case` at a `flow` such as "12 mm^3/s", the sensor at the setpoint; with `out`, write the same files as `run`.

    Raises CaseError, and NoConvergence where the iteration finds no steady state.
    """
    rate = flow_of(flow)
    loaded = loaded_case(case, overrides)
    problem = problem_of(loaded)
    with _folder(out) as folder:
        _say(report, "field")
        system = discretise(problem)
        field = solve_at_flow(system, rate)
        result = Result(loaded, system, field, None, pushed_at(field), stuck_on_in(system))
        if folder is not None:
            write_files(result, folder, report)
    return result


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


def check(case: CaseLike, out: str | os.PathLike[str] | None = None, overrides: Overrides | None = None) -> Checked:
    """Read `case`, build its parts and mesh and solve nothing; with `out`, draw them to that file. Raises CaseError."""
    loaded = loaded_case(case, overrides)
    problem = problem_of(loaded)
    section = build_section(problem.arrangement, problem.level, problem.division)
    checked = Checked(loaded, problem, section, cautions_of(problem, hottest_points(problem, None)))
    if out is not None:
        from meltzone.cases.outputs.section_figure import section_figure  # noqa: PLC0415  only pictures need it

        draw(Path(out), lambda: section_figure(section, checked.title, checked.materials, powered_blocks(problem)))
    return checked


def new(path: str | os.PathLike[str], like: str | None = None) -> Path:
    """Write a commented case file to begin with, built on the example `like`; raises CaseError, also if `path` exists."""
    from meltzone.cases.inputs.starter import starter_text  # noqa: PLC0415  one command needs it

    text = starter_text(like)
    with staged_file(Path(path), overwrite=False) as temporary:
        temporary.write_text(text, encoding="utf-8")
    return Path(path)


def flow_of(written: str) -> float:
    """The flow [m3/s] of a text such as "12 mm^3/s"; raises CaseError."""
    try:
        rate = parse(written, FLOW)
    except UnitError as error:
        raise CaseError("flow", None, None, repr(written), error.expected, error.hint) from error
    if not 0.0 < rate <= HIGHEST_FLOW:
        expected = "a volume flow above 0 and up to 1000 mm^3/s"
        raise CaseError("flow", None, None, repr(written), expected, "Check the number and its unit.")
    return rate


def write_files(result: Result, folder: Path, report: Reporter | None = None) -> None:
    """Write the files of `result` into the existing `folder`; without a field, result.json alone."""
    from meltzone.cases.outputs.keyed import as_json  # noqa: PLC0415  see `ceiling`: it must start fast
    from meltzone.cases.outputs.record import record_of  # noqa: PLC0415  see `ceiling`: it must start fast

    if result.field is not None:
        from meltzone.cases.outputs.axis_figure import axis_figure  # noqa: PLC0415
        from meltzone.cases.outputs.field_figure import field_figure  # noqa: PLC0415
        from meltzone.cases.outputs.figures import save  # noqa: PLC0415
        from meltzone.cases.outputs.vtu import write_vtu  # noqa: PLC0415

        _say(report, "pictures")
        save(field_figure(result.field, result.title, result.verdict), folder / FIELD)
        save(axis_figure(result.field, result.title, result.verdict), folder / AXIS)
        _say(report, "field file")
        write_vtu(result.field, folder / VTU)
    (folder / RESULT).write_text(as_json(record_of(result)), encoding="utf-8")


def draw(path: Path, make: Callable[[], Any]) -> None:
    """Write the figure that `make` gives to `path`; raises CaseError for an unknown ending or a place not to be written."""
    from meltzone.cases.outputs.figures import FORMATS, save  # noqa: PLC0415

    if path.suffix.lower() not in FORMATS:
        expected = f"a picture's name ending in {', '.join(FORMATS)}"
        raise CaseError(f"output {path}", None, None, None, expected, f"{path.stem}.png will do.")
    with staged_file(path) as temporary:
        save(make(), temporary)


def loaded_case(case: CaseLike, overrides: Overrides | None) -> Case:
    """`case` as a Case, loaded where it is a path or a name. Raises CaseError, TypeError for overrides to a loaded one."""
    if not isinstance(case, Case):
        return load_case(case, overrides)
    if overrides:
        raise TypeError("overrides go with a path or an example's name: a loaded case has had its own")
    return case


def _folder(out: str | os.PathLike[str] | None) -> Any:
    return nullcontext(None) if out is None else staged_folder(Path(out))


def _say(report: Reporter | None, what: str) -> None:
    if report is not None:
        report(what)
