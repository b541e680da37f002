"""The command materials; nothing slow loads before it is carried out."""

from __future__ import annotations

from typing import Annotated

import typer

from meltzone.cases.commands.console import answering
from meltzone.cases.commands.finish import finish
from meltzone.cases.commands.options import PictureOption
from meltzone.cases.commands.registry import command

NameArgument = Annotated[str | None, typer.Argument(metavar="NAME", help="One card in full.", show_default=False)]


@command("Describe", "meltzone materials", "meltzone materials pla --out pla.png")
def materials(name: NameArgument = None, out: PictureOption = None) -> None:
    """List the materials that come with the program, or show one card: numbers, curves, sources, limits."""
    with answering():
        from meltzone.cases.inputs.errors import CaseError
        from meltzone.cases.outputs import materials as shown

        if name is None:
            if out is not None:
                expected = "the name of one material before it"
                raise CaseError("--out", None, None, str(out), expected, "meltzone materials pla --out pla.png")
            finish(shown.list_page)
            return
        material = shown.card(name)
        if out is not None:
            from meltzone.cases.outputs.files import draw

            draw(out, lambda: shown.curves_figure(material))
        finish(lambda: shown.card_page(material))
