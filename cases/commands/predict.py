"""The commands run, ceiling, solve and report; nothing slow loads before they are carried out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from meltzone.cases.commands.console import answering, overrides_of, progress
from meltzone.cases.commands.finish import carry_out, finish, finish_as_json, settle
from meltzone.cases.commands.options import (
    DEFAULT_OUT,
    CaseArgument,
    CasesArgument,
    FolderOption,
    JsonOption,
    PictureOption,
    SetOption,
)


def run(case: CaseArgument, out: FolderOption = None, override: SetOption = None) -> None:
    """Find the flow ceilings of a case, with everything around them, and write result.json, pictures and the field.

    Without --out the results go to meltzone-out/NAME. A folder that exists keeps its other files.
    """
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case  # see the first line
        from meltzone.cases.outputs import result as shown
        from meltzone.cases.outputs.guard import files_of
        from meltzone.cases.studies.run import run as found

        loaded = load_case(case, overrides_of(override))
        folder = out or DEFAULT_OUT / loaded.name
        settle(carry_out(say, lambda: found(loaded, report=say), shown, folder, files_of(loaded)))


def solve(
    case: CaseArgument,
    flow: Annotated[str, typer.Option("--flow", metavar="FLOW", help='The flow with its unit, as in "12 mm^3/s".')],
    out: FolderOption = None,
    override: SetOption = None,
) -> None:
    """Solve a case at one flow: does it melt through, and what must the heater give? Files are written with --out only."""
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case
        from meltzone.cases.outputs import result as shown
        from meltzone.cases.outputs.guard import files_of
        from meltzone.cases.studies.run import solve as solved

        loaded = load_case(case, overrides_of(override))
        carry_out(say, lambda: solved(loaded, flow, report=say), shown, out, files_of(loaded))


def ceiling(
    cases: CasesArgument, as_json: JsonOption = False, out: PictureOption = None, override: SetOption = None
) -> None:
    """Find the flow ceilings of one or more cases and show them side by side; gains count from the first."""
    with answering() as say:
        from meltzone.cases.outputs.result import page_of_all
        from meltzone.cases.studies.run import ceiling as ceiling_of

        overrides = overrides_of(override)
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


PageOption = Annotated[
    Path | None, typer.Option("--out", metavar="FILE", help="The page to write: a name in .html.", show_default=False)
]


def report(case: CaseArgument, out: PageOption = None, override: SetOption = None) -> None:
    """Write all about one case as a single HTML page: inputs with sources, pictures, limits, levers, cautions.

    For a screen, a phone or paper; the page needs nothing besides itself. Without --out it is meltzone-out/NAME.html.
    """
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case
        from meltzone.cases.outputs.report.page import short_page, write_report

        loaded = load_case(case, overrides_of(override))
        file = out or DEFAULT_OUT / f"{loaded.name}.html"
        with progress(say):
            explained = write_report(loaded, file, say)
        finish(lambda: short_page(explained), None, f"Written: {file}")
        settle(explained.result)
