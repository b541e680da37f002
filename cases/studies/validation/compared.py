"""Where a material was ever compared with a measurement: the rows of the shipped measured files whose cases use it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from meltzone.cases.inputs.reader import load_case
from meltzone.cases.studies.bench.rows import CeilingRow, case_of_row
from meltzone.cases.studies.results import CUBIC_MM
from meltzone.cases.studies.validation.measurements import load_measured, measured_names
from meltzone.materials.library import card_key


@dataclass(frozen=True)
class Compared:
    """A row of a measured file: the file's name `measured` and its `source`, the `row`, the measured `ceiling` [mm3/s] or None
    for a curve, and the `part` of the hot end that is of the material.
    """

    measured: str
    source: str
    row: str
    part: str
    ceiling: float | None
    calibrates: bool


def compared(key: str) -> list[Compared]:
    """All rows whose case has a part of the shipped card `key`, in the order of the files."""
    return [found for name, found in _every() if name == key]


@cache
def _every() -> tuple[tuple[str, Compared], ...]:
    """Every row with every card that its case uses."""
    found = []
    for name in measured_names():
        read = load_measured(name)
        for row in read.every:
            model = load_case(case_of_row(read, row), row.overrides).model
            ceiling = CUBIC_MM * row.ceiling if isinstance(row, CeilingRow) else None
            for table in type(model).model_fields:
                material = getattr(getattr(model, table), "material", None)
                if isinstance(material, str) and material not in model.materials:
                    part = "filament" if table == "polymer" else table.replace("_", " ")
                    found.append(
                        (card_key(material), Compared(name, read.source, row.name, part, ceiling, row.calibrates))
                    )
    return tuple(found)
