"""From a case to the report's file: everything found anew, then one page, whole or not there."""

from __future__ import annotations

from pathlib import Path

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import Case
from meltzone.cases.outputs.report.report_page import report_page
from meltzone.cases.outputs.writing import staged_file
from meltzone.cases.studies.explain import Explained, explained_of
from meltzone.cases.studies.run import run
from meltzone.fem.progress import Reporter

ENDINGS = (".html", ".htm")


def write_report(case: Case, path: Path, report: Reporter | None = None) -> Explained:
    """Find ceilings, mesh error and levers of `case` and write them to `path` as one HTML page.

    The name and the place of `path` are tried before anything is solved; `report` is told what is being done. Raises
    CaseError.
    """
    if path.suffix.lower() not in ENDINGS:
        hint = f"{path.with_suffix('.html').name} will do." if path.name else "my-case.html will do."
        raise CaseError(f"output {path}", None, None, None, "a page's name ending in .html", hint)
    with staged_file(path) as temporary:
        explained = explained_of(run(case, report=report), report=report)
        if report is not None:
            report("page")
        temporary.write_text(report_page(explained), encoding="utf-8")
    return explained
