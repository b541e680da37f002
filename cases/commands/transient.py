"""The command transient with its options; nothing slow loads before it is carried out."""

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
        "--flow", metavar="FLOW", help="Steady flow at the start; nothing flows if left out.", show_default=False
    ),
]
StepOption = Annotated[
    list[str] | None,
    typer.Option(
        "--step",
        metavar="FLOW",
        help='Change the flow, at 0 s or at a time of its own: "15 mm^3/s", "0 mm^3/s at 20 s". May be given several times.',
        show_default=False,
    ),
]
FanOption = Annotated[
    list[str] | None,
    typer.Option(
        "--fan",
        metavar="ON|OFF",
        help='Turn the part-cooling jet "on" or "off", at 0 s or at a time of its own: "on at 20 s".',
        show_default=False,
    ),
]
BurstOption = Annotated[
    str | None,
    typer.Option(
        "--burst",
        metavar="FLOW",
        help="How long may this flow last, out of the steady state at --flow?",
        show_default=False,
    ),
]
FieldsOption = Annotated[
    bool,
    typer.Option("--fields", help="With --out, write fields.pvd too: up to 24 fields over time, for general viewers."),
]
DurationOption = Annotated[
    str | None,
    typer.Option(
        "--duration",
        metavar="TIME",
        help='How long to follow it, as in "90 s"; 60 s after steps and in bursts, half as long again as it takes to warm up.',
        show_default=False,
    ),
]


@command(
    "Predict",
    "meltzone transient short-block",
    'meltzone transient short-block --flow "5 mm^3/s" --step "15 mm^3/s" --duration "30 s" --out faster',
    'meltzone transient my.toml --flow "8 mm^3/s" --burst "20 mm^3/s"',
)
def transient(
    case: CaseArgument,
    flow: FlowOption = None,
    step: StepOption = None,
    fan: FanOption = None,
    burst: BurstOption = None,
    duration: DurationOption = None,
    out: FolderOption = None,
    fields: FieldsOption = False,
    as_json: JsonOption = False,
    line: LineOption = None,
    override: SetOption = None,
) -> None:
    """Follow a case in time: warm it up from cold, or see it answer to steps in flow and fan, or to a burst.

    With --out, transient.json, history.csv, transient.png and report.html go to that folder.
    """
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case

        if fields:
            from meltzone.cases.outputs import transient_fields as shown
        else:
            from meltzone.cases.outputs import transient as shown  # type: ignore[no-redef]
        from meltzone.cases.outputs.guard import files_of
        from meltzone.cases.studies.transient import Asked
        from meltzone.cases.studies.transient import transient as followed

        asked, loaded = (
            Asked(flow, step or (), fan or (), burst, duration),
            load_case(case, overrides_of(override, line)),
        )
        find = lambda: followed(loaded, asked, report=say)  # noqa: E731
        carry_out(say, find, shown, out, files_of(loaded), as_json)
