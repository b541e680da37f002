"""The arguments and options that several commands share; nothing slow loads with them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

DEFAULT_OUT = Path("meltzone-out")

CASE_HELP = "A case file, or the name of a shipped example such as short-block."

CaseArgument = Annotated[str, typer.Argument(metavar="CASE", help=CASE_HELP, show_default=False)]
CasesArgument = Annotated[list[str], typer.Argument(metavar="CASE...", help=CASE_HELP, show_default=False)]
SetOption = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="KEY=VALUE",
        help="Put a value in place of the case's own, for this call only, or those of a file such as calibrated.toml; may be "
        "given several times.",
        show_default=False,
    ),
]
FolderOption = Annotated[
    Path | None, typer.Option("--out", metavar="DIR", help="Folder for the results.", show_default=False)
]
LineOption = Annotated[
    list[str] | None,
    typer.Option(
        "--line",
        metavar="LINE",
        help='A printed line, layer height x width, as in "0.2 mm x 0.45 mm", in place of those of the case, for '
        "print speeds. May be given several times.",
        show_default=False,
    ),
]
CiteOption = Annotated[
    Path | None,
    typer.Option(
        "--cite", metavar="FILE", help="Write what the run rests on to this file, as BibTeX.", show_default=False
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the record as JSON instead of the tables.")]
PictureOption = Annotated[
    Path | None,
    typer.Option(
        "--plot",
        "--out",
        metavar="FILE",
        help="Draw it to this file: .png, .svg or .pdf.",
        show_default=False,
    ),
]
