"""How every command ends: the record as JSON or the page on the terminal, then what was written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from meltzone.cases.commands.console import put, show, tell_files

if TYPE_CHECKING:
    from meltzone.cases.outputs.page import Page


def finish(page: Callable[[], Page], folder: Path | None = None, *said: str) -> None:
    """Show the page, the files of `folder` where one was written, and the lines `said` last."""
    from meltzone.cases.outputs.terminal import rendered  # noqa: PLC0415  tables load after --help has answered

    show(rendered(page()))
    if folder is not None:
        tell_files(folder)
    for line in said:
        show(line)


def finish_as_json(record: Any) -> None:
    """Print the record, or a list of records, as JSON and nothing else."""
    from meltzone.cases.outputs.quantities import as_json  # noqa: PLC0415

    put(as_json(record))
