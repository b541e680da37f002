"""What a joint calibration comes to: numbers with intervals and correlations, common errors, samples that lie far off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from meltzone.cases.inputs.parameters import Parameter
from meltzone.cases.statistics.identify import Tangle
from meltzone.cases.statistics.least_squares import Answer
from meltzone.cases.studies.calibration.models import RowModels, values_of
from meltzone.cases.studies.calibration.observations import Observed, Weighed
from meltzone.cases.studies.validation.rows import CurveRow, Row

STEP_LOG, STEP_KELVIN = 0.02, 0.5  # of derivatives by differences


@dataclass(frozen=True)
class Number:
    """One calibrated number: `value` [SI] with its 95 % interval, None where it has no end within `limits`.

    `blind`: at that value the data do not answer to it. `edge`: the value is the limit of the search, no estimate.
    """

    free: Parameter
    value: float
    low: float | None
    high: float | None
    limits: tuple[float, float]
    blind: bool
    edge: bool

    @property
    def bounded(self) -> bool:
        """Whether both sides of the interval have an end."""
        return self.low is not None and self.high is not None

    @property
    def open(self) -> bool:
        """Whether neither side of the interval has an end."""
        return self.low is None and self.high is None


@dataclass(frozen=True)
class Pull:
    """A sample far off the fitted curve: `row`, `line` of its table, miss in `deviations`, the `weight` it is left, `note`."""

    row: str
    line: int
    deviations: float
    weight: float
    note: str


@dataclass(frozen=True)
class Common:
    """What the fit makes of errors common to a spool, in standard uncertainties [-], with these as shares [-]."""

    series: tuple[str, ...]
    density: float
    diameter: float
    density_share: float
    diameter_share: float


@dataclass(frozen=True, eq=False)
class Joint:
    """Several numbers fitted together. `correlation` (k, k) is that of their coordinates, `tangles` what cannot be told apart.

    `covariance` (k, k) is theirs [coordinate squared], no wider than the search where the data leave a number open.
    """

    numbers: tuple[Number, ...]
    correlation: np.ndarray
    covariance: np.ndarray
    tangles: tuple[Tangle, ...]
    answer: Answer
    observed: Observed
    commons: tuple[Common, ...]
    pulls: tuple[Pull, ...]
    models: RowModels

    @property
    def values(self) -> tuple[float, ...]:
        """The values found [SI]."""
        return tuple(number.value for number in self.numbers)

    @property
    def told(self) -> tuple[Number, ...]:
        """The numbers that the data tell: not tangled with another, blind, without bounds or at the limit of the search."""
        tangled = {key for tangle in self.tangles for key in tangle.keys}
        known = [each for each in self.numbers if not (each.blind or each.open or each.edge)]
        return tuple(each for each in known if each.free.key not in tangled)

    @property
    def untold(self) -> tuple[Number, ...]:
        """The others, of which no value is to be passed on."""
        return tuple(each for each in self.numbers if each not in self.told)

    def commons_for(self, samples: Weighed) -> np.ndarray:
        """Errors of density and commanded flow in standard uncertainties [-], shape (2 s,), for `predicted`.

        As fitted where a series of the same filament calibrates, else none.
        """
        found = np.zeros(2 * samples.spool + 2)
        for each in self.observed.curves:
            if each.row.series.filament == samples.row.series.filament:
                fitted = self.answer.values[len(self.numbers) :]
                found[2 * samples.spool :] = fitted[2 * each.spool : 2 * each.spool + 2]
        return found

    def ceiling_range(self, row: Row | CurveRow) -> tuple[float, float, float]:
        """The ceiling of `row` [m3/s] and its 95 % interval, by the law of propagation with all correlations."""
        centre, slopes = ceiling_slopes(self.models, row, self.answer.values[: len(self.numbers)])
        with np.errstate(invalid="ignore"):
            parts = np.where(np.outer(slopes, slopes) == 0.0, 0.0, np.outer(slopes, slopes) * self.covariance)
        reach = self.answer.multiple * float(np.sqrt(max(parts.sum(), 0.0)))
        return centre, max(centre - reach, 0.0), centre + reach


def ceiling_slopes(models: RowModels, row: Row | CurveRow, coordinates: np.ndarray) -> tuple[float, np.ndarray]:
    """The ceiling of `row` [m3/s] and its derivatives by the free numbers' `coordinates`, shape (k,)."""
    centre = models.at(row, values_of(models, coordinates)).ceiling
    slopes = []
    for number, free in enumerate(models.cases.free):
        moved = coordinates.copy()
        step = step_of(free)
        if free.value(moved[number] + step) >= free.kind.most:
            step = -step
        moved[number] += step
        slopes.append((models.at(row, values_of(models, moved)).ceiling - centre) / step)
    return centre, np.array(slopes)


def step_of(free: Parameter) -> float:
    """What the coordinate is moved by for derivatives."""
    return STEP_KELVIN if free.is_temperature else STEP_LOG
