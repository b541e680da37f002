"""The commands materials and material; nothing slow loads before they are carried out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from meltzone.cases.commands.console import answering, show
from meltzone.cases.commands.finish import carry_out, finish
from meltzone.cases.commands.options import DEFAULT_OUT, FolderOption
from meltzone.cases.commands.registry import command

NAME_HELP = "One card in full, or a file whose own cards are listed, or FILE:NAME for one of them."
NameArgument = Annotated[str | None, typer.Argument(metavar="NAME", help=NAME_HELP, show_default=False)]
PageOption = Annotated[
    Path | None,
    typer.Option(
        "--to",
        "--out",
        metavar="FILE",
        help="Draw its curves to this file, .png, .svg or .pdf, or write all about it as a page, .html.",
        show_default=False,
    ),
]
MEASURED_HELP = (
    "A file of measurements, .toml: label, like (a shipped polymer for what was not measured), and tables of numbers or of "
    'instruments\' files, as in dsc = { file = "dsc.csv", heating_rate = "10 K/min" }, viscosity, moduli, pvt, melt_flow, '
    "density, conductivity."
)


@command("Describe", "meltzone material measured.toml", "meltzone material measured.toml --out my-pla")
def material(
    measured: Annotated[Path, typer.Argument(metavar="MEASURED", help=MEASURED_HELP, show_default=False)],
    out: FolderOption = None,
) -> None:
    """Make a polymer's card from measurements: calorimetry, viscosity, moduli, melt flow rate, density, conductivity.

    Writes card.toml, which other cases take in by extends, material.json, pictures and report.html. Without --out they go to
    meltzone-out/material-NAME. What was not measured is taken from a class of polymers or a shipped card, and said.

    A file of measurements holds like = "pla", "amorphous" or "semi-crystalline" for what is not measured, and tables: dsc,
    viscosity, moduli and pvt with file = "table.csv"; lists of tables melt_flow with temperature, load and rate, density and
    conductivity with temperature and value; flow_temperature and degradation_temperature where known.
    """
    with answering() as say:
        from meltzone.cases.outputs import material as shown
        from meltzone.cases.outputs.calibrated_text import taken_in
        from meltzone.cases.studies.material.make import material as made
        from meltzone.cases.studies.material.read import load_measurements

        read = load_measurements(measured)
        folder = out or DEFAULT_OUT / f"material-{read.name}"
        carry_out(say, lambda: made(read), shown, folder, read.reads)
        show(taken_in((folder / shown.CARD).as_posix()))


@command(
    "Describe",
    "meltzone materials",
    "meltzone materials pla --to pla.png",
    "meltzone materials pla --to pla.html",
    "meltzone materials my.toml",
)
def materials(name: NameArgument = None, out: PageOption = None) -> None:
    """List the materials that come with the program or stand in a file, or show one card: numbers, curves, sources, limits."""
    with answering():
        from meltzone.cases.inputs.errors import CaseError
        from meltzone.cases.outputs import materials as shown

        if name is None:
            if out is not None:
                expected = "the name of one material before it"
                raise CaseError("--to", None, None, str(out), expected, "meltzone materials pla --to pla.png")
            finish(shown.list_page)
            return
        cards = shown.cards(name)
        if len(cards) > 1:
            finish(lambda: shown.list_of(cards))
            return
        if out is not None and out.suffix.lower() == ".html":
            from meltzone.cases.outputs.files import write_text
            from meltzone.cases.outputs.html import page_html

            write_text(out, page_html(shown.card_page(cards[0])))
        elif out is not None:
            from meltzone.cases.outputs.files import draw

            draw(out, lambda: shown.curves_figure(cards[0]))
        finish(lambda: shown.card_page(cards[0]))
