"""The files of a predicted curve: curve.json, curve.csv and curve.png; all or none."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from meltzone.cases.outputs.delivery_figure import delivery_figure
from meltzone.cases.outputs.figures import save
from meltzone.cases.outputs.keyed import as_json, rounded
from meltzone.cases.outputs.record import inputs_of, versions
from meltzone.cases.outputs.writing import staged_folder
from meltzone.cases.studies.delivery import Delivery
from meltzone.cases.studies.results import CUBIC_MM

RECORD, TABLE, PICTURE = "curve.json", "curve.csv", "curve.png"
OURS = (RECORD, TABLE, PICTURE)
FORM = 1  # raised when a key changes its name, its unit or its meaning


def write_delivery(found: Delivery, folder: Path) -> None:
    """Write the files into `folder`; raises CaseError where they cannot be."""
    with staged_folder(folder, OURS) as temporary:
        save(delivery_figure(found), temporary / PICTURE)
        (temporary / TABLE).write_text(table_text(found), encoding="utf-8")
        (temporary / RECORD).write_text(as_json(rounded(record_of(found))), encoding="utf-8")


def record_of(found: Delivery) -> dict[str, Any]:
    """The curve as plain types, flows in mm3/s: ceilings, the slip law, the table, and the measured series beside it."""
    commanded, delivered = found.table
    slip = found.slip
    return {
        "form": FORM,
        "versions": versions(),
        "case": {"name": found.result.case.name, "title": found.result.case.model.title},
        "inputs": inputs_of(found.result.case),
        "answer": found.result.statement,
        "law": found.law,
        "governs": found.result.governs,
        "onset_mm3_per_s": found.onset,
        "plateau_mm3_per_s": found.plateau,
        "slip": None
        if slip is None
        else {"flow_mm3_per_s": CUBIC_MM * slip.flow, "exponent": slip.exponent, "rise": slip.rise},
        "commanded_mm3_per_s": list(map(float, commanded)),
        "delivered_mm3_per_s": list(map(float, delivered)),
        "measured": [
            {
                "series": each.series.name,
                "onset_mm3_per_s": each.onset.value,
                "ceiling_mm3_per_s": each.ceiling.value,
                "ceiling_reached": each.reached,
            }
            for each in (found.measured.series if found.measured else ())
        ],
    }


def table_text(found: Delivery) -> str:
    """The curve as comma-separated values."""
    rows = ["commanded [mm^3/s],delivered [mm^3/s],short by [%]"]
    rows += [f"{asked:.4f},{came:.4f},{100.0 * short:.3f}" for asked, came, short in zip(*_columns(found), strict=True)]
    return "\n".join(rows) + "\n"


def _columns(found: Delivery) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    commanded, delivered = found.table
    return commanded, delivered, 1.0 - delivered / commanded
