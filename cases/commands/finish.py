"""How every command ends: the record as JSON or the page on the terminal, what was written, the exit code."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from meltzone.cases.commands.console import NO_ANSWER, put, show, tell_files

if TYPE_CHECKING:
    from meltzone.cases.outputs.page import Page
    from meltzone.cases.studies.results import Result


def finish(page: Callable[[], Page], folder: Path | None = None, *said: str) -> None:
    """Show the page, the files of `folder` where one was written, and the lines `said` last."""
    from meltzone.cases.outputs.terminal import rendered  # noqa: PLC0415  tables load after --help has answered

    show(rendered(page()))
    if folder is not None:
        tell_files(folder)
    for line in said:
        show(line)


def settle(*results: Result) -> None:
    """Leave with the exit code for no answer where one of the `results`, all shown by now, is none."""
    if not all(result.answered for result in results):
        raise typer.Exit(NO_ANSWER)


def finish_as_json(record: Any) -> None:
    """Print the record, or a list of records, as JSON and nothing else."""
    from meltzone.cases.outputs.quantities import as_json  # noqa: PLC0415

    put(as_json(record))
