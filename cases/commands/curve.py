"""The command curve with its options; nothing slow loads before it is carried out."""

from __future__ import annotations

from typing import Annotated

import typer

from meltzone.cases.commands.console import answering, overrides_of, progress, settle, show, tell_files
from meltzone.cases.commands.options import CaseArgument, FolderOption, SetOption

MeasuredOption = Annotated[
    str | None,
    typer.Option(
        "--measured",
        metavar="SAMPLES",
        help="A table of weighed samples, .csv, as for meltzone reduce, or the name of a shipped demonstration.",
        show_default=False,
    ),
]


def curve(
    case: CaseArgument, measured: MeasuredOption = None, out: FolderOption = None, override: SetOption = None
) -> None:
    """Predict what is delivered over what is commanded: all of it, then slip at the feeder's grip, then the plateau.

    Weighed samples are laid beside it with --measured. With --out, curve.json, curve.csv and curve.png are written.
    """
    with answering() as say:
        from meltzone.cases.outputs.delivery_files import write_delivery  # noqa: PLC0415
        from meltzone.cases.outputs.delivery_tables import summary  # noqa: PLC0415
        from meltzone.cases.studies.delivery import delivery  # noqa: PLC0415  see the first line

        with progress(say):
            found = delivery(case, measured, overrides_of(override), say)
            if out is not None:
                write_delivery(found, out)
        show(summary(found))
        if out is not None:
            tell_files(out)
        settle(found.result)
