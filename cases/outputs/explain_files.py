"""The verb that explains a case, with its files: explain.json and explain.png, both or neither."""

from __future__ import annotations

import os
from contextlib import nullcontext
from pathlib import Path

from meltzone.cases.outputs.explain_record import explained_record
from meltzone.cases.outputs.keyed import as_json
from meltzone.cases.outputs.writing import staged_folder
from meltzone.cases.studies import explain as study
from meltzone.cases.studies.explain import Explained
from meltzone.cases.studies.run import CaseLike, Overrides, Reporter

EXPLAIN, PICTURE = "explain.json", "explain.png"


def explain(
    case: CaseLike,
    out: str | os.PathLike[str] | None = None,
    overrides: Overrides | None = None,
    samples: int = 0,
    report: Reporter | None = None,
) -> Explained:
    """Explain the governing ceiling of `case`; with `out`, write explain.json and explain.png to that folder.

    Where inputs carry tolerances the linear interval is found by the way; `samples` asks for that many whole solves besides.
    Raises CaseError, for a folder that cannot be written before anything is solved.
    """
    study.require_samples(samples)
    with nullcontext(None) if out is None else staged_folder(Path(out), (EXPLAIN, PICTURE)) as folder:
        explained = study.explain(case, overrides, samples, report)
        if folder is not None:
            _write(explained, folder)
    return explained


def _write(explained: Explained, folder: Path) -> None:
    if explained.explanation is not None:
        from meltzone.cases.outputs.explain_figure import explain_figure  # noqa: PLC0415  only pictures need it
        from meltzone.cases.outputs.figures import save  # noqa: PLC0415

        save(explain_figure(explained), folder / PICTURE)
    (folder / EXPLAIN).write_text(as_json(explained_record(explained)), encoding="utf-8")
