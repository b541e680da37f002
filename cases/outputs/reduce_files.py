"""The files of a reduction: reduced.json, reduced.csv, reduced.png and ceilings.csv for `meltzone validate`; all or none."""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path
from typing import Any

from meltzone.cases.outputs.figures import save
from meltzone.cases.outputs.keyed import as_json, rounded
from meltzone.cases.outputs.record import versions
from meltzone.cases.outputs.reduce_figure import reduction_figure
from meltzone.cases.outputs.writing import staged_folder
from meltzone.cases.statistics.resample import Estimate
from meltzone.cases.studies.bench.reduce import Compared, Reduced, Reduction, Reporter, reduce
from meltzone.cases.studies.bench.samples import SampleFile

RECORD, TABLE, PICTURE, CEILINGS = "reduced.json", "reduced.csv", "reduced.png", "ceilings.csv"
OURS = (RECORD, TABLE, PICTURE, CEILINGS)
FORM = 1  # raised when a key changes its name, its unit or its meaning
COLUMNS = (
    "series", "line", "commanded [mm^3/s]", "delivered [mm^3/s]", "random uncertainty [mm^3/s]",
    "common uncertainty [mm^3/s]", "fitted [mm^3/s]", "shortfall [%]", "robust z", "outlier",
)  # fmt: skip


def reduce_into(
    folder: Path, samples: SampleFile, tolerance: float, resamples: int, seed: int, report: Reporter | None = None
) -> Reduction:
    """As `reduce`, and write the files into `folder`; raises CaseError for one that cannot be written, before it."""
    with staged_folder(folder, OURS) as temporary:
        found = reduce(samples, tolerance, resamples, seed, report)
        save(reduction_figure(found), temporary / PICTURE)
        (temporary / TABLE).write_text(table_text(found), encoding="utf-8")
        ceilings = ceilings_text(found, folder)
        if ceilings is not None:
            (temporary / CEILINGS).write_text(ceilings, encoding="utf-8")
        (temporary / RECORD).write_text(as_json(rounded(record_of(found))), encoding="utf-8")
    return found


def record_of(found: Reduction) -> dict[str, Any]:
    """The whole reduction as plain types, under the keys of docs/bench.md; flows in mm3/s."""
    return {
        "form": FORM,
        "versions": versions(),
        "samples": found.samples.name,
        "comments": list(found.samples.comments),
        "assumed": list(found.samples.assumed),
        "tolerance_percent": 100.0 * found.tolerance,
        "resamples": found.resamples,
        "seed": found.seed,
        "series": [_series(each) for each in found.series],
        "compared": [_compared(each) for each in found.compared],
    }


def _series(each: Reduced) -> dict[str, Any]:
    filament = each.series.filament
    return {
        "name": each.series.name,
        "case": each.series.case or None,
        "onset_mm3_per_s": _interval(each.onset),
        "plateau_from_mm3_per_s": _interval(each.turn) if each.reached else None,
        "ceiling_mm3_per_s": _interval(each.ceiling),
        "ceiling_reached": each.reached,
        "ceiling_uncertainty_mm3_per_s": each.ceiling_uncertainty,
        "tolerated_mm3_per_s": _interval(each.tolerated),
        "gain": _interval(each.gain),
        "gain_common_uncertainty": each.common_gain,
        "scatter_percent": 100.0 * each.fitted.scatter,
        "weighing_percent": 100.0 * each.delivered.random_share,
        "density_g_per_cm3": [1e-3 * filament.density.value, 1e-3 * filament.density.tolerance],
        "diameter_mm": [1e3 * filament.diameter.value, 1e3 * filament.diameter.tolerance],
        "left_out": [{"line": gone.line, "reason": gone.reason} for gone in each.series.left_out],
        "samples": [dict(zip(_KEYS, row, strict=True)) for row in _rows(each)],
    }


_KEYS = (
    "line", "commanded_mm3_per_s", "delivered_mm3_per_s", "random_uncertainty_mm3_per_s", "common_uncertainty_mm3_per_s",
    "fitted_mm3_per_s", "shortfall_percent", "robust_z", "outlier",
)  # fmt: skip


def _rows(each: Reduced) -> list[tuple[Any, ...]]:
    flows = each.delivered
    columns = (
        flows.commanded, flows.flow, flows.random, flows.common, each.fitted.curve.delivered(flows.commanded),
        100.0 * each.shortfall, each.scores,
    )  # fmt: skip
    numbers = zip(*(map(float, column) for column in columns), strict=True)
    marks = map(bool, each.outliers)
    return [(s.line, *row, mark) for s, row, mark in zip(each.series.samples, numbers, marks, strict=True)]


def _interval(found: Estimate) -> dict[str, float]:
    return {"value": found.value, "low_95": found.low, "high_95": found.high, "uncertainty": found.uncertainty}


def _compared(each: Compared) -> dict[str, Any]:
    return {
        "series": each.name,
        "against": each.base,
        "change_mm3_per_s": each.change,
        "uncertainty_mm3_per_s": each.uncertainty,
        "p_ceiling": each.p_ceiling,
        "p_curve": each.p_curve,
        "adjusted_p_ceiling": each.adjusted_ceiling,
        "adjusted_p_curve": each.adjusted_curve,
        "same_filament": each.shared,
    }


def table_text(found: Reduction) -> str:
    """Every sample with what was reckoned from it, as comma separated text."""
    rows = [
        [each.series.name, line, *(f"{value:.6g}" for value in numbers), "yes" if mark else "no"]
        for each in found.series
        for line, *numbers, mark in _rows(each)
    ]
    return _csv([list(COLUMNS), *rows])


def ceilings_text(found: Reduction, folder: Path) -> str | None:
    """Rows of measured ceilings, for a file in `folder`; None where no series reached its ceiling and names its case."""
    usable = [each for each in found.series if each.reached and each.series.case]
    if not usable:
        return None
    own = list(dict.fromkeys(key for each in usable for key in each.series.overrides))
    rows: list[list[str]] = [["name", "case", "ceiling [mm^3/s]", "uncertainty [mm^3/s]", "calibrates", "note", *own]]
    for each in usable:
        note = f"reduced from {found.samples.name}, {len(each.series.samples)} samples"
        cells = [each.series.name, _case(each.series.case, found.samples, folder)]
        cells += [f"{each.ceiling.value:.5g}", f"{each.ceiling_uncertainty:.3g}", "", note]
        rows.append([*cells, *(each.series.overrides.get(key, "") for key in own)])
    comments = "".join(f"# {comment.replace(',', ';')}\n" for comment in found.samples.comments[:1])
    return comments + _csv(rows)


def _case(written: str, samples: SampleFile, folder: Path) -> str:
    """How `folder` calls the case file that the samples name, beside themselves or where the command runs."""
    for path in (samples.folder / written, Path(written)):
        if path.is_file():
            return os.path.relpath(path.resolve(), folder.resolve())
    return written


def _csv(rows: list[list[Any]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()
