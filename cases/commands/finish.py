"""How verbs are carried out and end: files, the record as JSON or the page on the terminal, what was written, exit code."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import typer

from meltzone.cases.commands.console import NO_ANSWER, Speaker, progress, put, show, tell_files

if TYPE_CHECKING:
    from meltzone.cases.outputs.files import Shown
    from meltzone.cases.outputs.page import Page
    from meltzone.cases.studies.results import Result

Found = TypeVar("Found")


def carry_out(
    say: Speaker,
    find: Callable[[], Found],
    shown: Shown,
    folder: Path | None,
    reads: Iterable[Path] = (),
    as_json: bool = False,
) -> Found:
    """What `find` finds, its files in `folder`, which is tried before it, and its page or its record on stdout.

    Nothing of `reads` is written over. Raises CaseError.
    """
    from meltzone.cases.outputs.files import carried_out  # slow to load, and few calls come so far

    with progress(say):
        found = carried_out(find, shown, folder, reads, say)
    if as_json:
        finish_as_json(shown.record(found))
    else:
        finish(lambda: shown.page(found), folder)
    return found


def finish(page: Callable[[], Page], folder: Path | None = None, *said: str) -> None:
    """Show the page, the files of `folder` where one was written, and the lines `said` last."""
    from meltzone.cases.outputs.terminal import rendered  # tables load after --help has answered

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
    from meltzone.cases.outputs.quantities import as_json

    put(as_json(record))
