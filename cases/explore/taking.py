"""What leaves with a state: the case file, the report, the picture of the field, the record."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from io import BytesIO

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import Case
from meltzone.cases.outputs.case_file import commented
from meltzone.cases.outputs.field_figure import field_figure
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.quantities import as_json
from meltzone.cases.outputs.record import record
from meltzone.cases.outputs.report.page import page
from meltzone.cases.studies.explain import explained_of
from meltzone.cases.studies.run import ceiling, run
from meltzone.fem.progress import Reporter

Taken = tuple[bytes, str, str]  # content, the file's name, its media type


def _case_file(case: Case, report: Reporter) -> Taken:
    return commented(case).encode(), f"{_stem(case)}.toml", "application/toml"


def _report(case: Case, report: Reporter) -> Taken:
    explained = explained_of(run(case, report=report), report=report)
    return page_html(page(explained)).encode(), f"{_stem(case)}.html", "text/html"


def _record(case: Case, report: Reporter) -> Taken:
    return as_json(record(run(case, report=report))).encode(), "result.json", "application/json"


def _picture(case: Case, report: Reporter) -> Taken:
    result = ceiling(case, report=report)
    if result.field is None:
        raise CaseError(case.file, None, None, None, "a case with a flow ceiling", f"{result.statement}.")
    held = BytesIO()
    field_figure(result.field, result.title, result.verdict).savefig(held, format="png", facecolor="white")
    return held.getvalue(), f"{_stem(case)}.png", "image/png"


WAYS: Mapping[str, Callable[[Case, Reporter], Taken]] = {
    "case": _case_file, "report": _report, "record": _record, "picture": _picture,
}  # fmt: skip


def _stem(case: Case) -> str:
    """A file's name of plain letters."""
    return re.sub(r"[^A-Za-z0-9-]+", "-", case.name).strip("-")[:60] or "case"
