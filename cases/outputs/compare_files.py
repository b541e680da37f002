"""The files of a comparison: compare.json, compare.csv and compare.png, all of them or none."""

from __future__ import annotations

from pathlib import Path

from meltzone.cases.outputs.compare_figure import compare_figure
from meltzone.cases.outputs.compare_record import as_csv, record_of
from meltzone.cases.outputs.figures import save
from meltzone.cases.outputs.keyed import as_json
from meltzone.cases.outputs.writing import staged_file, staged_folder
from meltzone.cases.studies.compare import Comparison

RECORD, TABLE, PICTURE = "compare.json", "compare.csv", "compare.png"
OURS = (RECORD, TABLE, PICTURE)


def write_comparison(comparison: Comparison, folder: Path) -> None:
    """Write the three files into `folder`; raises CaseError where that cannot be done."""
    with staged_folder(folder, OURS) as temporary:
        save(compare_figure(comparison), temporary / PICTURE)
        (temporary / TABLE).write_text(as_csv(comparison), encoding="utf-8")
        (temporary / RECORD).write_text(as_json(record_of(comparison)), encoding="utf-8")


def write_csv(comparison: Comparison, path: Path) -> None:
    """Write the table of `comparison` to `path`; raises CaseError where that cannot be done."""
    with staged_file(path) as temporary:
        temporary.write_text(as_csv(comparison), encoding="utf-8")
