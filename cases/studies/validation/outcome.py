"""What a validation comes to: what was calibrated, rows, forces and curves predicted, changes, and the errors over them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from meltzone.cases.studies.bench.rows import CeilingRow, CurveRow, ForceRow, MeasuredFile
from meltzone.cases.studies.bench.samples import CUBIC_MM
from meltzone.cases.studies.calibration.calibration import Calibration
from meltzone.cases.studies.calibration.observations import ObservedCurve
from meltzone.materials.limits import Finding


@dataclass(frozen=True)
class Predicted:
    """A row with its predicted ceiling and the interval that the calibrated number leaves it [mm3/s].

    The ceiling is 0 where nothing flows; `governs` says which limit it is. Without calibration the interval is a point.
    `cautions` are what the temperatures at the ceiling mean for the materials.
    """

    row: CeilingRow
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
class PredictedForce:
    """A measured force with the `force` predicted at its flow [N], and `whole`, what a measured 1 stands for [N].

    That is the one factor on which the rows that calibrate agree, as a geometric mean; 1 N where forces are in newtons and no
    row calibrates.
    """

    row: ForceRow
    force: float
    whole: float
    cautions: tuple[Finding, ...] = ()

    @property
    def predicted(self) -> float:
        """The predicted force in the unit of the measured one."""
        return self.force / self.whole

    @property
    def error(self) -> float:
        """Predicted over measured less one [%]."""
        return 100.0 * (self.predicted / self.row.force - 1.0)

    @property
    def factor(self) -> float:
        """By what factor it is missed, either way: 1 where it is met [-]."""
        return math.exp(abs(math.log(self.predicted / self.row.force)))


@dataclass(frozen=True)
class CeilingChange:
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


@dataclass(frozen=True, eq=False)
class PredictedCurve:
    """A series of samples with the curve predicted for it [mm3/s]: at every sample in `predicted`, shape (n,), and drawn.

    `line` is the curve in even steps, shape (3, l): commanded flow, delivered flow, and that as weighing would show it, with
    the errors common to the filament as they were fitted, like `predicted`. `ceiling` is the flow ceiling, `governs` which
    limit that is, `cautions` what the temperatures there mean for the materials.
    """

    samples: ObservedCurve
    predicted: np.ndarray
    line: np.ndarray
    ceiling: float
    governs: str
    cautions: tuple[Finding, ...]

    @property
    def row(self) -> CurveRow:
        """The row of the measured file."""
        return self.samples.row

    @property
    def misses(self) -> np.ndarray:
        """Measured less predicted in standard uncertainties [-], shape (n,)."""
        return (self.samples.flow - self.predicted) / self.samples.spread

    @property
    def mean_miss(self) -> float:
        """Mean size of predicted over measured flow less one [%], over samples that weigh anything."""
        there = self.samples.flow > 0.0
        return float(100.0 * np.mean(np.abs(self.predicted[there] / self.samples.flow[there] - 1.0)))


@dataclass(frozen=True)
class Validation:
    """What came out: every row, every change, and the calibration, if any row calibrates.

    `curves` are the rows of samples, `forces` those of forces.
    """

    measured: MeasuredFile
    calibration: Calibration | None
    rows: tuple[Predicted, ...]
    changes: tuple[CeilingChange, ...]
    curves: tuple[PredictedCurve, ...] = ()
    forces: tuple[PredictedForce, ...] = ()

    @property
    def invented(self) -> tuple[str, ...]:
        """What the tables of samples say themselves of being invented."""
        said = [comment for curve in self.curves for comment in curve.row.comments if "invented" in comment]
        return tuple(dict.fromkeys(said))

    @property
    def cautions(self) -> tuple[Finding, ...]:
        """What the temperatures of all rows mean."""
        heeded = [*(row.cautions for row in self.rows), *(row.cautions for row in self.curves)]
        return tuple(found for each in [*heeded, *(row.cautions for row in self.forces)] for found in each)

    @property
    def judged_forces(self) -> tuple[PredictedForce, ...]:
        """The forces that did not set the factor; where several set it together and no other is there, those."""
        others = tuple(each for each in self.forces if not each.row.calibrates)
        return others or (self.forces if len(self.forces) > 1 else ())

    @property
    def judged(self) -> tuple[Predicted, ...]:
        """The rows that did not calibrate."""
        return tuple(row for row in self.rows if not (self.calibration is not None and row.row.calibrates))

    @property
    def mean_error(self) -> float | None:
        """Mean size of the error over the rows that did not calibrate [%]; None if there are none."""
        return float(np.mean([abs(row.error) for row in self.judged])) if self.judged else None

    @property
    def worst(self) -> Predicted | None:
        """Of the rows that did not calibrate, that with the largest error."""
        return max(self.judged, key=lambda row: abs(row.error), default=None)

    @property
    def worst_change(self) -> CeilingChange | None:
        """The change that is missed by most."""
        known = [change for change in self.changes if change.miss is not None]
        return max(known, key=lambda change: abs(change.miss or 0.0), default=None)
