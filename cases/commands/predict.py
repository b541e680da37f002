"""The commands run, ceiling and solve; nothing slow loads before they are carried out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from meltzone.cases.commands.console import answering, overrides_of, progress, show
from meltzone.cases.commands.finish import carry_out, finish, finish_as_json, settle
from meltzone.cases.commands.options import (
    DEFAULT_OUT,
    CaseArgument,
    CasesArgument,
    CiteOption,
    FolderOption,
    JsonOption,
    LineOption,
    PictureOption,
    SetOption,
)
from meltzone.cases.commands.registry import command

if TYPE_CHECKING:
    from meltzone.cases.studies.results import Result


@command("Predict", "meltzone run short-block", 'meltzone run my.toml --out hot --set heater.setpoint="235 degC"')
def run(
    case: CaseArgument,
    out: FolderOption = None,
    as_json: JsonOption = False,
    line: LineOption = None,
    cite: CiteOption = None,
    override: SetOption = None,
) -> None:
    """Find the flow ceilings of a case, with everything around them, and write result.json, pictures and the field.

    Without --out the results go to meltzone-out/NAME. A folder that exists keeps its other files.
    """
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case  # see the first line
        from meltzone.cases.outputs import result as shown
        from meltzone.cases.outputs.guard import files_of
        from meltzone.cases.studies.run import run as found

        loaded = load_case(case, overrides_of(override, line))
        folder = out or DEFAULT_OUT / loaded.name
        result = carry_out(say, lambda: found(loaded, report=say), shown, folder, files_of(loaded), as_json)
        _cited(result, cite, as_json)
        settle(result)


@command(
    "Predict",
    "meltzone ceiling short-block long-block long-nozzle-brass-sleeve",
    'meltzone ceiling short-block --json --set nozzle.material="copper"',
    'meltzone ceiling short-block long-nozzle-bare --line "0.3 mm x 0.6 mm"',
)
def ceiling(
    cases: CasesArgument,
    as_json: JsonOption = False,
    out: PictureOption = None,
    line: LineOption = None,
    override: SetOption = None,
) -> None:
    """Find the flow ceilings of one or more cases and show them side by side; gains count from the first."""
    with answering() as say:
        from meltzone.cases.outputs.ceilings import page_of_all
        from meltzone.cases.studies.run import ceiling as ceiling_of

        overrides = overrides_of(override, line)
        with progress(say):
            results = [ceiling_of(case, overrides, say.about(case)) for case in cases]
            if as_json:  # a full record tells of the heater stuck on
                from meltzone.cases.studies.completing import with_stuck_on

                results = [with_stuck_on(result) for result in results]
        if out is not None:
            from meltzone.cases.outputs.bars_figure import ceilings_figure
            from meltzone.cases.outputs.files import draw
            from meltzone.cases.outputs.guard import files_of

            draw(out, lambda: ceilings_figure(results), files_of(*(result.case for result in results)))
        if as_json:
            from meltzone.cases.outputs.record import record

            finish_as_json([record(result) for result in results])
        else:
            finish(lambda: page_of_all(results))
        settle(*results)


@command(
    "Predict", 'meltzone solve short-block --flow "12 mm^3/s"', 'meltzone solve my.toml --flow "8 mm^3/s" --out at-8'
)
def solve(
    case: CaseArgument,
    flow: Annotated[
        str,
        typer.Option(
            "--flow",
            metavar="FLOW",
            help='The flow with its unit, as in "12 mm^3/s", or the print speed of a line, "60 mm/s".',
        ),
    ],
    out: FolderOption = None,
    as_json: JsonOption = False,
    line: LineOption = None,
    cite: CiteOption = None,
    override: SetOption = None,
) -> None:
    """Solve a case at one flow: does it melt through, and what must the heater give? Files are written with --out only."""
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case
        from meltzone.cases.outputs import result as shown
        from meltzone.cases.outputs.guard import files_of
        from meltzone.cases.studies.run import solve as solved

        loaded = load_case(case, overrides_of(override, line))
        result = carry_out(say, lambda: solved(loaded, flow, report=say), shown, out, files_of(loaded), as_json)
        _cited(result, cite, as_json)


def _cited(result: Result, file: Path | None, quiet: bool) -> None:
    """Write what the `result` rests on to a `file`, where one was asked for."""
    if file is not None:
        from meltzone.cases.outputs.citing import bibliography
        from meltzone.cases.outputs.files import write_text

        write_text(file, bibliography(result))
        if not quiet:
            show(f"Written: {file}")
