"""The command compare with its options; nothing slow loads before it is carried out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from meltzone.cases.commands.console import answering, overrides_of
from meltzone.cases.commands.finish import carry_out, settle
from meltzone.cases.commands.options import CasesArgument, FolderOption, JsonOption, LineOption, SetOption
from meltzone.cases.commands.registry import command

if TYPE_CHECKING:
    from meltzone.cases.studies.compare import Comparison

WorkingFlowOption = Annotated[
    str | None,
    typer.Option(
        "--flow",
        metavar="FLOW",
        help="Working flow for hot volume and residence time, or a print speed of the first case's line; else the smallest "
        "flow to use.",
        show_default=False,
    ),
]
VolumeOption = Annotated[
    str | None,
    typer.Option(
        "--volume",
        metavar="VOLUME",
        help='Show the time to extrude this volume of plastic, as in "100 cm^3", at the flow to use, and what is saved.',
        show_default=False,
    ),
]
NumbersOption = Annotated[
    Path | None, typer.Option("--csv", metavar="FILE", help="Write the numbers to this file.", show_default=False)
]


@command(
    "Decide",
    "meltzone compare short-block long-nozzle-bare long-nozzle-brass-sleeve",
    'meltzone compare short-block my.toml --flow "8 mm^3/s" --out variants',
    'meltzone compare short-block long-nozzle-bare --line "0.3 mm x 0.6 mm" --volume "100 cm^3"',
)
def compare(
    cases: CasesArgument,
    flow: WorkingFlowOption = None,
    out: FolderOption = None,
    as_json: JsonOption = False,
    csv: NumbersOption = None,
    line: LineOption = None,
    volume: VolumeOption = None,
    override: SetOption = None,
) -> None:
    """Lay variants side by side: ceilings, gains, temperatures, fan penalty, hot polymer and its time, heater stuck on.

    With --out, compare.json, compare.csv, compare.png and report.html are written.
    """
    with answering() as say:
        from meltzone.cases.outputs import compare as shown  # see the first line
        from meltzone.cases.outputs.files import check_table
        from meltzone.cases.outputs.guard import files_of
        from meltzone.cases.studies.compare import compare as compared
        from meltzone.cases.studies.run import loaded_case

        overrides = overrides_of(override, line)
        loaded = [loaded_case(case, overrides) for case in cases]
        reads = files_of(*loaded)
        if csv is not None:
            check_table(csv, reads)

        def find() -> Comparison:
            found = compared(loaded, flow, report=say, volume=volume)
            if csv is not None:
                shown.write_csv(found, csv, reads)
            return found

        settle(*(each.result for each in carry_out(say, find, shown, out, reads, as_json).variants))
