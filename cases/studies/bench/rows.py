"""What a measured file holds: ceilings, forces and weighed series, each with its case and its own values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.files import look_up, nearest_files
from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.reader import CASE_FILE, EXAMPLES
from meltzone.cases.studies.bench.samples import Series


@dataclass(frozen=True)
class CeilingRow:
    """One measured ceiling: the `case` with its `overrides`, `ceiling` and its standard `uncertainty` [m3/s].

    `compared_with` names the row from which the change is counted. `line` is where the row begins, from 1, if known.
    """

    name: str
    case: str
    overrides: Mapping[str, Any]
    ceiling: float
    uncertainty: float
    calibrates: bool
    compared_with: str | None
    note: str
    line: int | None


@dataclass(frozen=True)
class CurveRow:
    """A weighed series as a whole curve: the `case` with its `overrides`, and the `series` of the table `samples`.

    `folder` is that of the table, where the case may lie too, `comments` are its lines that begin with #. `line` is where the
    row begins, from 1, if known.
    """

    name: str
    case: str
    overrides: Mapping[str, Any]
    samples: str
    series: Series
    folder: Path
    comments: tuple[str, ...]
    calibrates: bool
    note: str
    line: int | None


@dataclass(frozen=True)
class ForceRow:
    """A force measured on the filament at a `flow` [m3/s]: the `case` with its `overrides`, `force` and its `uncertainty`.

    Both are in newtons, or, where `relative`, shares of one force that the file does not tell [-]. Rows that calibrate set the
    one factor between measured and predicted. `line` is where the row begins, from 1, if known.
    """

    name: str
    case: str
    overrides: Mapping[str, Any]
    flow: float
    force: float
    relative: bool
    uncertainty: float
    calibrates: bool
    note: str
    line: int | None


Row = CeilingRow | CurveRow | ForceRow
AnyRow = TypeVar("AnyRow", CeilingRow, CurveRow, ForceRow)


@dataclass(frozen=True)
class MeasuredFile:
    """All rows of a measured file: ceilings in `rows`, weighed series in `curves`, and `forces`.

    `free` are the keys to calibrate, if any. `assumes` says what of the arrangement nobody measured, '' where nothing.
    """

    name: str
    file: str
    folder: Path
    title: str
    source: str
    free: tuple[str, ...]
    rows: tuple[CeilingRow, ...]
    curves: tuple[CurveRow, ...] = ()
    assumes: str = ""
    forces: tuple[ForceRow, ...] = ()

    def row(self, name: str) -> CeilingRow:
        """The row of that name."""
        return next(row for row in self.rows if row.name == name)

    def calibrating(self, names: Sequence[str]) -> MeasuredFile:
        """The same with the rows of these names calibrating too; raises CaseError for a name that no row has."""
        known = [row.name for row in self.every]
        for name in names:
            if name not in known:
                hint = f"Rows of {self.file}: {', '.join(known)}."
                raise CaseError("--calibrate", None, None, written_form(name), "the name of a row", hint)
        return replace(
            self,
            rows=_calibrating(self.rows, names),
            curves=_calibrating(self.curves, names),
            forces=_calibrating(self.forces, names),
        )

    @property
    def every(self) -> tuple[Row, ...]:
        """Ceilings, curves and forces."""
        return (*self.rows, *self.curves, *self.forces)


def _calibrating(rows: Sequence[AnyRow], names: Sequence[str]) -> tuple[AnyRow, ...]:
    return tuple(replace(row, calibrates=row.calibrates or row.name in names) for row in rows)


def case_of_row(measured: MeasuredFile, row: Row) -> str:
    """The path to load for `row`: beside the measured file, or its samples, before shipped; raises CaseError."""
    folders = [measured.folder, *([row.folder] if isinstance(row, CurveRow) else [])]
    for folder in folders:
        source = look_up(row.case, EXAMPLES, folder)
        if source is not None:
            return str(source.path)
    hint = nearest_files(row.case, EXAMPLES, measured.folder)
    raise CaseError(measured.file, row.line, "case", written_form(row.case), CASE_FILE, hint)
