"""The options of the commands compare and design, and what they do with them; nothing slow loads before that."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from meltzone.cases.commands.console import NO_ANSWER, answering, progress, settle, show, tell_files

WorkingFlowOption = Annotated[
    str | None,
    typer.Option(
        "--flow",
        metavar="FLOW",
        help="Working flow for hot volume and residence time; half of the smallest ceiling if left out.",
        show_default=False,
    ),
]
RecordOption = Annotated[bool, typer.Option("--json", help="Print one JSON record instead of the tables.")]
NumbersOption = Annotated[
    Path | None, typer.Option("--csv", metavar="FILE", help="Write the numbers to this file.", show_default=False)
]
DesignArgument = Annotated[
    Path, typer.Argument(metavar="DESIGN", help="A design file: base, aim, keys to vary, limits.", show_default=False)
]


def compare_and_show(
    cases: Sequence[str],
    flow: str | None,
    files: tuple[Path | None, Path | None],
    as_json: bool,
    overrides: Callable[[], Mapping[str, Any]],
) -> None:
    """Compare, write the folder and the CSV of `files` where they are given, and print tables or the record."""
    with answering() as say:
        from meltzone.cases.outputs.compare_files import write_comparison, write_csv  # noqa: PLC0415
        from meltzone.cases.outputs.compare_record import record_of  # noqa: PLC0415
        from meltzone.cases.outputs.compare_tables import comparison_tables  # noqa: PLC0415
        from meltzone.cases.outputs.keyed import as_json as json_text  # noqa: PLC0415
        from meltzone.cases.studies.compare import compare  # noqa: PLC0415  see the first line

        folder, numbers = files
        with progress(say):
            found = compare(cases, flow, overrides(), report=say)
            if numbers is not None:
                write_csv(found, numbers)
            if folder is not None:
                write_comparison(found, folder)
        if as_json:
            sys.stdout.write(json_text(record_of(found)))
        else:
            show(comparison_tables(found))
            if folder is not None:
                tell_files(folder)
        settle(*(variant.result for variant in found.variants))


def design_and_show(file: Path, folder: Path) -> None:
    """Carry out the design `file`, write its files into `folder` and print the tables."""
    with answering() as say:
        from meltzone.cases.outputs.design_files import write_design  # noqa: PLC0415
        from meltzone.cases.outputs.design_tables import design_tables  # noqa: PLC0415
        from meltzone.cases.studies.design.run import design  # noqa: PLC0415  see the first line

        with progress(say):
            found = design(file, say)
            write_design(found, folder)
        show(design_tables(found))
        tell_files(folder)
        if found.answer is None:
            raise typer.Exit(NO_ANSWER)
