"""Rows as the calibration sees them: what is delivered, at any values of the free numbers, each hot end solved once."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from meltzone.cases.build import problem_of
from meltzone.cases.validation.row_cases import RowCases, Values
from meltzone.cases.validation.rows import CurveRow, Row
from meltzone.fem.ceiling import Ceilings, find_ceilings
from meltzone.fem.feeding_curve import FeedingCurve, feeding_curve
from meltzone.fem.field import Field
from meltzone.fem.newton import NoConvergence
from meltzone.fem.problem import Problem
from meltzone.fem.slip import SlipLaw

FEEDER = ("feeder.grip", "feeder.slip_rise")  # they move no temperature
DIGITS = 10  # of a value that counts as the same


@dataclass(frozen=True, eq=False)
class HotEnd:
    """What a hot end can do: `plateau` [m3/s], the lesser of melt and power ceiling or 0, and its `feeding` force."""

    plateau: float
    feeding: FeedingCurve | None


@dataclass(frozen=True, eq=False)
class RowModel:
    """A row at given values: its `plateau` [m3/s], and the feeder's `slip` where it has a grip."""

    plateau: float
    slip: SlipLaw | None

    @property
    def ceiling(self) -> float:
        """The flow ceiling [m3/s]."""
        return self.plateau if self.slip is None else min(self.plateau, self.slip.flow)

    def delivered(self, commanded: np.ndarray) -> np.ndarray:
        """Delivered flow [m3/s] at `commanded` flows [m3/s], of the same shape."""
        slipped = commanded if self.slip is None else self.slip.delivered(commanded)
        return np.minimum(slipped, self.plateau)


class RowModels:
    """The models of rows; hot ends are solved once for every set of values that moves a temperature.

    Forces come from the quick estimate, held against the slow flow of the melt once for every row: `renewed` does that anew.
    """

    def __init__(self, cases: RowCases) -> None:
        self.cases = cases
        self._hot: dict[tuple[str, tuple[float, ...]], HotEnd] = {}
        self._ratios: dict[str, np.ndarray] = {}
        self._melts: dict[str, Field] = {}
        self._feeders: dict[str, tuple[float | None, float]] = {}

    @property
    def pushes(self) -> bool:
        """Whether any force was reckoned."""
        return bool(self._ratios)

    def renewed(self) -> None:
        """Forget the forces: the next values asked for are those at which the estimate is held against the slow flow."""
        self._hot.clear()
        self._ratios.clear()

    def at(self, row: Row | CurveRow, values: Values) -> RowModel:
        """The model of `row` with the free numbers at `values` [SI]; raises CaseError where it cannot have them."""
        free = self.cases.free
        hot = tuple(
            float(f"{value:.{DIGITS}g}") for each, value in zip(free, values, strict=True) if each.key not in FEEDER
        )
        feeder = {each.key: value for each, value in zip(free, values, strict=True) if each.key in FEEDER}
        name = _hot_end_of(row)
        if name not in self._feeders:
            table = self.cases.case(row).model.feeder
            self._feeders[name] = table.grip, table.slip_rise
        own = self._feeders[name]
        grip, rise = feeder.get(FEEDER[0], own[0]), feeder.get(FEEDER[1], own[1])
        if (name, hot) not in self._hot:
            self._hot[name, hot] = self._solved(row, values, grip is not None)
        found = self._hot[name, hot]
        slip = None if found.feeding is None or grip is None else found.feeding.slip_law(grip, rise)
        return RowModel(found.plateau, slip)

    def _solved(self, row: Row | CurveRow, values: Values, pushed: bool) -> HotEnd:
        problem = problem_of(self.cases.case(row, values))
        problem = replace(problem, operation=replace(problem.operation, grip=None))
        name = _hot_end_of(row)
        found = self._ceilings(name, problem)
        if not pushed or found.melt is None or not found.flow or problem.materials.polymer.viscosity is None:
            return HotEnd(found.flow, None)
        try:
            feeding = feeding_curve(problem, found.melt, self._ratios.get(name))
        except NoConvergence:
            return HotEnd(found.flow, None)
        self._ratios.setdefault(name, feeding.ratios)
        return HotEnd(found.flow, feeding)

    def _ceilings(self, name: str, problem: Problem) -> Ceilings:
        """Melt and power ceiling, sought from where those of the row were before, on the same mesh."""
        before, start = self._melts.get(name), None
        if before and (before.problem.arrangement, before.problem.level) == (problem.arrangement, problem.level):
            start = before.state
        found = find_ceilings(problem, start=start)
        if found.melt is not None:
            self._melts[name] = found.melt
        return found

    def borrow(self, row: Row | CurveRow, like: Row | CurveRow) -> None:
        """Let `row`, a variant of the row `like`, use its ratios of force to estimate."""
        if (ratios := self._ratios.get(_hot_end_of(like))) is not None:
            self._ratios.setdefault(_hot_end_of(row), ratios)


def _hot_end_of(row: Row | CurveRow) -> str:
    """What tells hot ends apart: rows of one case and the same own values share theirs."""
    return f"{row.case} {sorted(map(str, row.overrides.items()))}"


def values_of(models: RowModels, coordinates: np.ndarray) -> Values:
    """The SI values of the free numbers at `coordinates`, shape (k,), logarithms or kelvin."""
    return tuple(free.value(float(at)) for free, at in zip(models.cases.free, coordinates, strict=True))
