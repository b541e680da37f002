"""The cases of a measured file's rows at values of the free numbers, each ceiling found once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.parameters import Parameter, written
from meltzone.cases.inputs.reader import Case, case_of, load_case
from meltzone.cases.studies.bench.delivered import check_reference
from meltzone.cases.studies.bench.rows import CeilingRow, CurveRow, ForceRow, MeasuredFile, Row, case_of_row
from meltzone.cases.studies.calibration.journal import Journal
from meltzone.cases.studies.cautions import cautions_of, hottest_points
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.search_mesh import ceilings_for_search
from meltzone.materials.limits import Finding

Overrides = Mapping[str, Any]
Values = tuple[float, ...]


@dataclass(frozen=True)
class FoundCeiling:
    """The ceiling of a row: `flow` [m3/s], 0 where nothing flows, what `governs`, what to heed."""

    flow: float
    governs: str
    cautions: tuple[Finding, ...]


class RowCases:
    """The ceilings of rows at values of the free numbers, each found once."""

    def __init__(
        self, measured: MeasuredFile, free: Sequence[Parameter], overrides: Overrides, journal: Journal | None = None
    ) -> None:
        self.journal = journal or Journal()
        self.measured, self.free, self.overrides = measured, tuple(free), overrides
        self._found: dict[tuple[str, Values | None], FoundCeiling] = {}
        self._searched: dict[tuple[str, Values], float] = {}
        self._ratios: dict[str, float] = {}

    def case(self, row: Row, values: Values | None = None) -> Case:
        """The case of `row`, with the free numbers at `values` [SI], or as its case has them."""
        given = {**row.overrides, **self.overrides}
        own = load_case(case_of_row(self.measured, row), given)
        if values is None:
            return own
        return case_of(own.name, own.file, own.layers, written(own.model, zip(self.free, values, strict=True)))

    def check(self) -> None:
        """Read and build every row's case as it stands; raises CaseError naming the row."""
        rows = self.measured.every
        fitted = any(row.calibrates for row in rows if not isinstance(row, ForceRow))
        for row in rows:
            for free in self.free:
                if free.key in {**row.overrides, **self.overrides} and fitted:
                    expected = f"no value of its own for {free.key}, the number that is calibrated"
                    hint = "Remove it from the row, or free another key."
                    raise CaseError(self.measured.file, row.line, f"set.{free.key}", None, expected, hint)
            if isinstance(row, CurveRow):
                check_reference(row.samples, row.series)
            try:
                problem_of(self.case(row))
            except CaseError as error:
                raise in_row(error, self.measured, row) from error

    def ceiling(self, row: CeilingRow | CurveRow, values: Values | None) -> FoundCeiling:
        """The ceiling of `row` with the free numbers at `values` [SI]; raises CaseError where they cannot have them."""
        key = (row.name, values)
        if key not in self._found:
            problem = problem_of(self.case(row, values))
            found = find_ceilings(problem)
            heed = cautions_of(problem, hottest_points(problem, found.field))
            self._found[key] = FoundCeiling(found.flow, found.governs, heed)
        return self._found[key]

    def searched(self, row: CeilingRow | CurveRow, values: Values) -> float:
        """The same from the mesh of searches, times what the meshes differ by where that was last told [m3/s]."""
        key = (row.name, values)
        if key not in self._searched:
            solved = lambda: ceilings_for_search(problem_of(self.case(row, values))).flow  # noqa: E731
            self._searched[key] = self.journal.once(("searched", *key), solved)
        if row.name not in self._ratios:
            self.meet(row, values)
        return self._ratios.get(row.name, 1.0) * self._searched[key]

    def meet(self, row: CeilingRow | CurveRow, values: Values) -> None:
        """Have what is searched for `row` meet its ceiling on its own mesh at `values` [SI]; nothing where none flows."""
        if flow := self._searched.get((row.name, values), 0.0):
            self._ratios[row.name] = self.ceiling(row, values).flow / flow

    def highest(self, row: CeilingRow | CurveRow) -> float:
        """The highest ceiling of `row` searched so far, at whatever values [m3/s]."""
        known = [values for name, values in self._searched if name == row.name]
        return max((self.searched(row, values) for values in known), default=0.0)


def in_row(error: CaseError, measured: MeasuredFile, row: Row) -> CaseError:
    """The error of a row's case, told from the row: its own values have no line in any case file."""
    where = f'row "{row.name}"' if row.line is None else f'row "{row.name}", line {row.line}'
    if error.file.startswith("override "):
        key = error.key if error.key is None or error.key not in row.overrides else f"set.{error.key}"
        return CaseError(measured.file, row.line, key, error.value, error.expected, f"{error.hint} ({where}.)")
    asked = f"Asked for by {measured.file}, {where}."
    return CaseError(error.file, error.line, error.key, error.value, error.expected, f"{error.hint} {asked}")
