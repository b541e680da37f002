"""The command explain with its options; nothing slow loads before it is carried out."""

from __future__ import annotations

from typing import Annotated

import typer

from meltzone.cases.commands.console import answering, overrides_of
from meltzone.cases.commands.finish import carry_out, settle
from meltzone.cases.commands.options import CaseArgument, FolderOption, JsonOption, LineOption, SetOption
from meltzone.cases.commands.registry import command

SamplesOption = Annotated[
    int,
    typer.Option(
        "--samples",
        metavar="N",
        help="Besides the linear interval, solve N samples of the inputs that carry a tolerance.",
        show_default=False,
    ),
]


@command(
    "Decide",
    "meltzone explain short-block",
    "meltzone explain my.toml --out why --samples 64",
    'meltzone explain short-block --set "heater.setpoint=210 +/- 3 degC" --json',
)
def explain(
    case: CaseArgument,
    out: FolderOption = None,
    samples: SamplesOption = 0,
    as_json: JsonOption = False,
    line: LineOption = None,
    override: SetOption = None,
) -> None:
    """Say what limits a case and what each change would buy: budget, temperature drops, levers, interval.

    With --out, explain.json, explain.png and report.html go to that folder. Tolerances in the case, as in "210 +/- 3 degC",
    give the ceiling an interval.
    """
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case
        from meltzone.cases.outputs import explain as shown
        from meltzone.cases.outputs.guard import files_of
        from meltzone.cases.studies.explain import explain as explained  # see the first line

        loaded = load_case(case, overrides_of(override, line))
        find = lambda: explained(loaded, samples=samples, report=say)  # noqa: E731
        settle(carry_out(say, find, shown, out, files_of(loaded), as_json).result)
