"""The command report; nothing slow loads before it is carried out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from meltzone.cases.commands.console import answering, overrides_of, progress
from meltzone.cases.commands.finish import finish, settle
from meltzone.cases.commands.options import DEFAULT_OUT, CaseArgument, LineOption, SetOption
from meltzone.cases.commands.registry import command

PageOption = Annotated[
    Path | None,
    typer.Option("--to", "--out", metavar="FILE", help="The page to write: a name in .html.", show_default=False),
]


@command(
    "Predict", "meltzone report short-block", 'meltzone report my.toml --to hot.html --set heater.setpoint="235 degC"'
)
def report(case: CaseArgument, out: PageOption = None, line: LineOption = None, override: SetOption = None) -> None:
    """Write all about one case as a single HTML page: inputs with sources, pictures, limits, levers, cautions.

    For a screen, a phone or paper; the page needs nothing besides itself. Without --to it is meltzone-out/NAME.html.
    """
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case
        from meltzone.cases.outputs.report.page import short_page, write_report

        loaded = load_case(case, overrides_of(override, line))
        file = out or DEFAULT_OUT / f"{loaded.name}.html"
        with progress(say):
            explained = write_report(loaded, file, say)
        finish(lambda: short_page(explained), None, f"Written: {file}")
        settle(explained.result)
