"""The files of a transient: transient.json, history.csv and transient.png, all of them or none."""

from __future__ import annotations

from pathlib import Path

from meltzone.cases.outputs.figures import save
from meltzone.cases.outputs.keyed import as_json
from meltzone.cases.outputs.transient_figure import transient_figure
from meltzone.cases.outputs.transient_record import as_csv, transient_record
from meltzone.cases.outputs.writing import staged_folder
from meltzone.cases.studies.run import CaseLike, Overrides
from meltzone.cases.studies.transient import Asked, Timed, transient
from meltzone.fem.progress import Reporter

RECORD, TABLE, PICTURE = "transient.json", "history.csv", "transient.png"
OURS = (RECORD, TABLE, PICTURE)


def transient_into(
    folder: Path, case: CaseLike, asked: Asked, overrides: Overrides | None = None, report: Reporter | None = None
) -> Timed:
    """Follow `case` in time and write the three files; the folder is tried first. Raises CaseError and NoConvergence."""
    with staged_folder(folder, OURS) as temporary:
        timed = transient(case, asked, overrides, report)
        save(transient_figure(timed), temporary / PICTURE)
        (temporary / TABLE).write_text(as_csv(timed), encoding="utf-8")
        (temporary / RECORD).write_text(as_json(transient_record(timed)), encoding="utf-8")
    return timed
