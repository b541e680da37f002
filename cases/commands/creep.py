"""The command creep with its options; nothing slow loads before it is carried out."""

from __future__ import annotations

from typing import Annotated

import typer

from meltzone.cases.commands.console import answering, overrides_of
from meltzone.cases.commands.finish import carry_out
from meltzone.cases.commands.options import CaseArgument, FolderOption, JsonOption, LineOption, SetOption
from meltzone.cases.commands.registry import command

FlowOption = Annotated[
    str | None,
    typer.Option(
        "--flow",
        metavar="FLOW",
        help="Flow before the pause, or a print speed of the case's line; else the flow to use.",
        show_default=False,
    ),
]
LimitOption = Annotated[
    str | None,
    typer.Option(
        "--limit",
        metavar="HEIGHT",
        help='Height above the block at which softened filament jams, as in "4 mm"; else a filament diameter above the neck.',
        show_default=False,
    ),
]


@command(
    "Predict",
    "meltzone creep short-block",
    'meltzone creep my.toml --flow "8 mm^3/s" --set surroundings.cold_temperature="60 degC" --out creep',
)
def creep(
    case: CaseArgument,
    flow: FlowOption = None,
    limit: LimitOption = None,
    out: FolderOption = None,
    as_json: JsonOption = False,
    line: LineOption = None,
    override: SetOption = None,
) -> None:
    """How high does the filament soften above the block, at small flows, at rest and in pauses, and does it jam there?

    With --out, creep.json, creep.png and report.html go to that folder.
    """
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case
        from meltzone.cases.outputs import creep as shown
        from meltzone.cases.outputs.guard import files_of
        from meltzone.cases.studies.creep import creep as crept

        loaded = load_case(case, overrides_of(override, line))
        carry_out(say, lambda: crept(loaded, flow, limit, report=say), shown, out, files_of(loaded), as_json)
