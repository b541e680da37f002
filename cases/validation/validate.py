"""Measured ceilings against predicted ones: calibrate one number on the rows marked so, predict every row."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from meltzone.cases.build import problem_of
from meltzone.cases.cautions import cautions_of, hottest_points
from meltzone.cases.errors import CaseError
from meltzone.cases.reader import Case, load_case
from meltzone.cases.validation.chi_square import Fit, Side, fit
from meltzone.cases.validation.free_number import DEFAULT_FREE, FreeNumber, free_number, value_in
from meltzone.cases.validation.measurements import Measured, Row, case_of_row, load_measured
from meltzone.fem.ceiling import find_ceilings
from meltzone.materials.limits import Finding

Reporter = Callable[[str], None]
Overrides = Mapping[str, Any]

CUBIC_MM = 1e9  # in a cubic metre
STEP_LOG, TOLERANCE_LOG = 0.7, 1e-3  # first step of the search and its end, in the logarithm: factors of 2 and 1.001
STEP_KELVIN, TOLERANCE_KELVIN = 10.0, 0.02
REACHED = 1e-3  # a ceiling this close to the measured one, as a share, counts as reached


@dataclass(frozen=True)
class Calibration:
    """The calibrated `value` [SI] of `free` with its 95 % interval; `low` or `high` is None where there is no bound.

    `limits` are the least and greatest value tried, `edge` the one at which chi-square is least, if it is not inside.
    `unreached` says, in sentences, which measured ceilings no value reaches. `rows` counts the calibrating rows.
    """

    free: FreeNumber
    value: float
    low: float | None
    high: float | None
    chi_square: float
    rows: int
    limits: tuple[float, float]
    edge: Side | None
    unreached: tuple[str, ...]

    @property
    def ends(self) -> tuple[float, float]:
        """The interval's ends [SI], the limit of the search where it has no bound."""
        return (
            self.limits[0] if self.low is None else self.low,
            self.limits[1] if self.high is None else self.high,
        )


@dataclass(frozen=True)
class Predicted:
    """A row with its predicted ceiling and the interval that the calibrated number leaves it [mm3/s].

    The ceiling is 0 where nothing flows; `governs` says which limit it is. Without calibration the interval is a point.
    `cautions` are what the temperatures at the ceiling mean for the materials.
    """

    row: Row
    ceiling: float
    low: float
    high: float
    governs: str
    cautions: tuple[Finding, ...] = ()

    @property
    def measured(self) -> float:
        """The measured ceiling [mm3/s]."""
        return CUBIC_MM * self.row.ceiling

    @property
    def uncertainty(self) -> float:
        """Its standard uncertainty [mm3/s]."""
        return CUBIC_MM * self.row.uncertainty

    @property
    def error(self) -> float:
        """Predicted over measured less one [%]."""
        return 100.0 * (self.ceiling / self.measured - 1.0)


@dataclass(frozen=True)
class Change:
    """The ceiling of `row` over that of `base`, less one, measured and predicted."""

    row: Predicted
    base: Predicted

    @property
    def measured(self) -> float:
        """Measured change [%]."""
        return 100.0 * (self.row.measured / self.base.measured - 1.0)

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of the measured change, both ceilings taken as independent [percentage points]."""
        shares = (each.uncertainty / each.measured for each in (self.row, self.base))
        return 100.0 * self.row.measured / self.base.measured * math.hypot(*shares)

    @property
    def predicted(self) -> float | None:
        """Predicted change [%]; None where the base does not flow."""
        return 100.0 * (self.row.ceiling / self.base.ceiling - 1.0) if self.base.ceiling else None

    @property
    def miss(self) -> float | None:
        """Predicted less measured change [percentage points]."""
        return None if self.predicted is None else self.predicted - self.measured


@dataclass(frozen=True)
class Validation:
    """What came out: the calibration (None without calibrating rows), every row, every change."""

    measured: Measured
    calibration: Calibration | None
    rows: tuple[Predicted, ...]
    changes: tuple[Change, ...]

    @property
    def judged(self) -> tuple[Predicted, ...]:
        """The rows that did not calibrate."""
        return tuple(row for row in self.rows if self.calibration is None or not row.row.calibrates)

    @property
    def mean_error(self) -> float | None:
        """Mean size of the error over the rows that did not calibrate [%]; None if there are none."""
        return float(np.mean([abs(row.error) for row in self.judged])) if self.judged else None

    @property
    def worst(self) -> Predicted | None:
        """Of the rows that did not calibrate, that with the largest error."""
        return max(self.judged, key=lambda row: abs(row.error), default=None)

    @property
    def worst_change(self) -> Change | None:
        """The change that is missed by most."""
        known = [change for change in self.changes if change.miss is not None]
        return max(known, key=lambda change: abs(change.miss or 0.0), default=None)


def validate(
    measured: Measured | str | Path,
    free: str | None = None,
    overrides: Overrides | None = None,
    report: Reporter | None = None,
) -> Validation:
    """Calibrate the number `free` on the rows marked so and predict all rows; nothing is written.

    `free` is a dotted key of a case; by default the one that the measured file names, else contacts.bore_melt. `overrides`
    go on top of every row's case. Rows differ in nothing but their cases and their own values. Raises CaseError for
    anything in the files that cannot be used, before the first solve.
    """
    read = measured if isinstance(measured, Measured) else load_measured(measured)
    number = free_number(free or read.free or DEFAULT_FREE, "--free" if free else read.file)
    usual = _Rows(read, number, overrides or {})
    usual.check(read.rows)
    marked = [row for row in read.rows if row.calibrates]
    calibration = _calibrated(usual, marked, report or _silent) if marked else None
    predicted = _predicted(usual, calibration, report or _silent)
    by_name = {each.row.name: each for each in predicted}
    changes = [
        Change(each, by_name[each.row.compared_with]) for each in predicted if each.row.compared_with is not None
    ]
    return Validation(read, calibration, predicted, tuple(changes))


def _silent(_: str) -> None:
    pass


@dataclass(frozen=True)
class _Found:
    """The ceiling of a row: `flow` [m3/s], 0 where nothing flows, what `governs`, what to heed."""

    flow: float
    governs: str
    cautions: tuple[Finding, ...]


class _Rows:
    """The ceilings of rows at values of the free number, each found once."""

    def __init__(self, measured: Measured, free: FreeNumber, overrides: Overrides) -> None:
        self.measured, self.free, self.overrides = measured, free, overrides
        self._found: dict[tuple[str, float | None], _Found] = {}

    def case(self, row: Row, value: float | None = None) -> Case:
        """The case of `row`, with the free number at `value` [SI], or as its case has it."""
        given = {**row.overrides, **self.overrides}
        if value is not None:
            given[self.free.key] = self.free.exact(value)
        return load_case(case_of_row(self.measured, row), given)

    def check(self, rows: Sequence[Row]) -> None:
        """Read and build every row's case as it stands; raises CaseError naming the row."""
        for row in rows:
            if self.free.key in {**row.overrides, **self.overrides} and any(each.calibrates for each in rows):
                expected = f"no value of its own for {self.free.key}, the number that is calibrated"
                hint = "Remove it from the row, or free another key."
                raise CaseError(self.measured.file, row.line, f"set.{self.free.key}", None, expected, hint)
            try:
                problem_of(self.case(row))
            except CaseError as error:
                raise _in_row(error, self.measured, row) from error

    def ceiling(self, row: Row, value: float | None) -> _Found:
        """The ceiling of `row` with the free number at `value` [SI]; raises CaseError where it cannot have that value."""
        key = (row.name, value)
        if key not in self._found:
            problem = problem_of(self.case(row, value))
            found = find_ceilings(problem)
            heed = cautions_of(problem, hottest_points(problem, found.field))
            self._found[key] = _Found(found.flow, found.governs, heed)
        return self._found[key]


def _in_row(error: CaseError, measured: Measured, row: Row) -> CaseError:
    """The error of a row's case, told from the row: its own values have no line in any case file."""
    where = f'row "{row.name}"' if row.line is None else f'row "{row.name}", line {row.line}'
    if error.file.startswith("override "):
        key = error.key if error.key is None or error.key not in row.overrides else f"set.{error.key}"
        return CaseError(measured.file, row.line, key, error.value, error.expected, f"{error.hint} ({where}.)")
    asked = f"Asked for by {measured.file}, {where}."
    return CaseError(error.file, error.line, error.key, error.value, error.expected, f"{error.hint} {asked}")


def _calibrated(rows: _Rows, marked: Sequence[Row], report: Reporter) -> Calibration:
    """Least chi-square over the `marked` rows in the coordinate of the free number."""
    free = rows.free
    cases = [rows.case(row) for row in marked]
    start = value_in(free, cases[0], problem_of(cases[0]))
    limits = free.limits(start)
    highest = dict.fromkeys((row.name for row in marked), 0.0)

    def chi_square(coordinate: float) -> float:
        value = free.value(coordinate)
        try:
            ceilings = [rows.ceiling(row, value).flow for row in marked]
        except CaseError:  # the value does not go with the rest of the case
            return float("inf")
        for row, ceiling in zip(marked, ceilings, strict=True):
            highest[row.name] = max(highest[row.name], ceiling)
        misses = [(ceiling - row.ceiling) / row.uncertainty for row, ceiling in zip(marked, ceilings, strict=True)]
        total = float(np.sum(np.square(misses)))
        report(f"calibrating {free.key}: {free.words(value)} gives chi-square {total:.3g}")
        return total

    step, tolerance = (STEP_KELVIN, TOLERANCE_KELVIN) if free.is_temperature else (STEP_LOG, TOLERANCE_LOG)
    least, most = (free.coordinate(limit) for limit in limits)
    found: Fit = fit(chi_square, free.coordinate(start), least, most, step, tolerance)
    low, high = (None if end is None else free.value(end) for end in (found.low, found.high))
    unreached = tuple(
        f"No value of {free.key} from {free.words(limits[0])} to {free.words(limits[1])} reaches the measured "
        f"{CUBIC_MM * row.ceiling:.4g} mm3/s of {row.name}: at most {CUBIC_MM * highest[row.name]:.4g} mm3/s"
        for row in marked
        if highest[row.name] < (1.0 - REACHED) * row.ceiling and found.edge is not None
    )
    best = free.value(found.best)
    return Calibration(free, best, low, high, found.chi_square, len(marked), limits, found.edge, unreached)


def _predicted(rows: _Rows, calibration: Calibration | None, report: Reporter) -> tuple[Predicted, ...]:
    """Every row at the calibrated value and at the ends of its interval, or as its case has it."""
    values: tuple[float | None, ...] = (None,) if calibration is None else (calibration.value, *calibration.ends)
    predicted = []
    every = rows.measured.rows
    for number, row in enumerate(every, start=1):
        report(f"predicting row {number} of {len(every)}: {row.name}")
        try:
            found = [rows.ceiling(row, value) for value in values]
        except CaseError as error:
            raise _in_row(error, rows.measured, row) from error
        ceilings = [CUBIC_MM * each.flow for each in found]
        predicted.append(Predicted(row, ceilings[0], min(ceilings), max(ceilings), found[0].governs, found[0].cautions))
    return tuple(predicted)
