"""The command design; nothing slow loads before it is carried out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from meltzone.cases.commands.console import NO_ANSWER, answering
from meltzone.cases.commands.finish import carry_out
from meltzone.cases.commands.options import DEFAULT_OUT, FolderOption, JsonOption
from meltzone.cases.commands.registry import command

DesignArgument = Annotated[
    Path, typer.Argument(metavar="DESIGN", help="A design file: case, aim, keys to vary, limits.", show_default=False)
]


@command("Decide", "meltzone design trade.toml", "meltzone design trade.toml --out longer")
def design(file: DesignArgument, out: FolderOption = None, as_json: JsonOption = False) -> None:
    """Search within bounds for the variant that melts most, or that reaches a ceiling with the least change.

    A design file holds case = "short-block" and tables: aim with maximise = "ceiling" or reach = "22 mm^3/s"; vary with dotted
    keys of a case and their bounds, as in nozzle.bore = { from = "1.9 mm", to = "2.1 mm" }; choose with keys and lists of
    values; limits with hot_volume, at_flow or power, or with the name of any output or key, as in mass = "17 g". In aim,
    against = ["mass"] asks for the front of the ceiling against one or two of them.

    Writes answer.toml, a case file that extends the base, design.json with every step, pictures and report.html. Without
    --out they go to meltzone-out/design-NAME.
    """
    with answering() as say:
        from meltzone.cases.outputs import design as shown
        from meltzone.cases.studies.design.read import load_design
        from meltzone.cases.studies.design.run import design as designed  # see the first line

        read = load_design(file)
        folder = out or DEFAULT_OUT / f"design-{file.stem}"
        if carry_out(say, lambda: designed(read, say), shown, folder, [file, read.base.path], as_json).answer is None:
            raise typer.Exit(NO_ANSWER)
