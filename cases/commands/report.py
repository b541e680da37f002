"""The command that writes a report: its option, and what it prints."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from meltzone.cases.commands.console import answering, progress, settle, show
from meltzone.cases.commands.options import DEFAULT_OUT

PageOption = Annotated[
    Path | None, typer.Option("--out", metavar="FILE", help="The page to write: a name in .html.", show_default=False)
]


def report_and_show(case: str, out: Path | None, overrides: Callable[[], dict[str, Any]]) -> None:
    """Write the report of `case` to `out`, or to a page of its name in meltzone-out, and show the answer."""
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case  # noqa: PLC0415  numbers and solver load after --help has answered
        from meltzone.cases.outputs.report.report_tables import answer  # noqa: PLC0415
        from meltzone.cases.outputs.report.write_files import write_report  # noqa: PLC0415

        loaded = load_case(case, overrides())
        page = out or DEFAULT_OUT / f"{loaded.name}.html"
        with progress(say):
            explained = write_report(loaded, page, say)
        show(answer(explained))
        show(f"Written: {page}")
        settle(explained.result)
