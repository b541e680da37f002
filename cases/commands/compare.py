"""The options of the commands compare and design, and what they do with them; nothing slow loads before that."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from meltzone.cases.commands.console import answering, overrides_of, progress, show, tell_files
from meltzone.cases.commands.finish import finish, finish_as_json
from meltzone.cases.commands.options import CasesArgument, FolderOption, JsonOption, SetOption

WorkingFlowOption = Annotated[
    str | None,
    typer.Option(
        "--flow",
        metavar="FLOW",
        help="Working flow for hot volume and residence time; half of the smallest ceiling if left out.",
        show_default=False,
    ),
]
NumbersOption = Annotated[
    Path | None, typer.Option("--csv", metavar="FILE", help="Write the numbers to this file.", show_default=False)
]
DesignArgument = Annotated[
    Path, typer.Argument(metavar="DESIGN", help="A design file: base, aim, keys to vary, limits.", show_default=False)
]


def compare(
    cases: CasesArgument,
    flow: WorkingFlowOption = None,
    out: FolderOption = None,
    as_json: JsonOption = False,
    csv: NumbersOption = None,
    override: SetOption = None,
) -> None:
    """Lay variants side by side: ceilings, gains, temperatures, fan penalty, hot polymer and its time, heater stuck on.

    With --out, compare.json, compare.csv, compare.png and report.html are written.
    """
    with answering() as say:
        from meltzone.cases.outputs import compare as shown  # noqa: PLC0415  see the first line
        from meltzone.cases.outputs.files import folder_for  # noqa: PLC0415
        from meltzone.cases.outputs.guard import files_of, guard  # noqa: PLC0415
        from meltzone.cases.studies.compare import compare as compared  # noqa: PLC0415
        from meltzone.cases.studies.run import loaded_case  # noqa: PLC0415

        overrides = overrides_of(override)
        loaded = [loaded_case(case, overrides) for case in cases]
        reads = files_of(*loaded)
        if csv is not None:
            guard(csv, reads)
        with progress(say), folder_for(out, shown.OURS, reads) as fill:
            found = compared(loaded, flow, report=say)
            if csv is not None:
                shown.write_csv(found, csv, reads)
            fill(lambda: shown.files(found, out or Path()))
        if as_json:
            finish_as_json(shown.record(found))
        else:
            finish(lambda: shown.page(found), out)


def design_and_show(file: Path, folder: Path) -> None:
    """Carry out the design `file`, write its files into `folder` and print the tables."""
    with answering() as say:
        from meltzone.cases.outputs.design_files import write_design  # noqa: PLC0415
        from meltzone.cases.outputs.design_tables import design_tables  # noqa: PLC0415
        from meltzone.cases.studies.design.run import design  # noqa: PLC0415  see the first line

        with progress(say):
            found = design(file, say)
            write_design(found, folder)
        show(design_tables(found))
        tell_files(folder)
