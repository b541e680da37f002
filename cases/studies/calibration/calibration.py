"""What a calibration comes to: numbers with intervals and correlations, common errors, outliers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from meltzone.cases.inputs.parameters import Parameter
from meltzone.cases.statistics.identify import Confounded
from meltzone.cases.statistics.least_squares import FitResult
from meltzone.cases.studies.bench.rows import CeilingRow, CurveRow
from meltzone.cases.studies.calibration.models import RowModels, derivatives
from meltzone.cases.studies.calibration.observations import Observed, ObservedCurve

NATURAL_KELVIN = 10.0  # a natural change of a temperature; of anything else a factor of e
SHOWN_PERCENT = 10.0  # of the first of confounded numbers: how they trade is told for this change

Edge = Literal["low", "high"]


@dataclass(frozen=True)
class CalibratedNumber:
    """One calibrated number: `value` [SI] with its 95 % interval, None where it has no end within `limits`.

    `influences`: whether the data answer to it at that value. `edge`: the limit of the search that the value is, no estimate.
    """

    free: Parameter
    value: float
    low: float | None
    high: float | None
    limits: tuple[float, float]
    influences: bool
    edge: Edge | None

    @property
    def bounded(self) -> bool:
        """Whether both sides of the interval have an end."""
        return self.low is not None and self.high is not None

    @property
    def open(self) -> bool:
        """Whether neither side of the interval has an end."""
        return self.low is None and self.high is None

    @property
    def ends(self) -> tuple[float, float]:
        """The interval's ends [SI], the limit of the search where it has no bound."""
        return (
            self.limits[0] if self.low is None else self.low,
            self.limits[1] if self.high is None else self.high,
        )


@dataclass(frozen=True)
class ConfoundedNumbers:
    """Numbers, by `keys`, that the data cannot tell apart: their `correlation` [-], how they trade, in words, and `advice`.

    `bounded` tells whether each has an interval with two ends all the same.
    """

    keys: tuple[str, ...]
    correlation: float
    trade: str
    bounded: bool
    advice: tuple[str, ...] = ()

    @property
    def statement(self) -> str:
        """It in a sentence or two."""
        names = " and ".join([", ".join(self.keys[:-1]), self.keys[-1]])
        fixed = "fix a combination far better than either" if self.bounded else "only fix a combination"
        return (
            f"The data cannot tell {names} apart (correlation {self.correlation:+.3f}): they {fixed}. "
            f"{self.trade} Give one of them, or measure so that they part."
        )


@dataclass(frozen=True)
class Outlier:
    """A sample far off the fitted curve: `row`, `line` of its table, miss in `deviations`, the `weight` it is left, `note`."""

    row: str
    line: int
    deviations: float
    weight: float
    note: str


@dataclass(frozen=True)
class CommonError:
    """What the fit makes of errors common to a spool, in standard uncertainties [-], with these as shares [-]."""

    series: tuple[str, ...]
    density: float
    diameter: float
    density_share: float
    diameter_share: float


@dataclass(frozen=True, eq=False)
class Calibration:
    """One number or several fitted together. `correlation` (k, k) is that of their coordinates.

    `covariance` (k, k) is theirs [coordinate squared], no wider than the search where the data leave a number open.
    `unreached` says, in sentences, which measured ceilings no value reaches.
    """

    numbers: tuple[CalibratedNumber, ...]
    correlation: np.ndarray
    covariance: np.ndarray
    confounded: tuple[ConfoundedNumbers, ...]
    fit: FitResult
    observed: Observed
    commons: tuple[CommonError, ...]
    outliers: tuple[Outlier, ...]
    models: RowModels
    unreached: tuple[str, ...]

    @property
    def values(self) -> tuple[float, ...]:
        """The values found [SI]."""
        return tuple(number.value for number in self.numbers)

    @property
    def single(self) -> CalibratedNumber | None:
        """The number, where it is one on ceilings alone."""
        return self.numbers[0] if len(self.numbers) == 1 and not self.observed.curves else None

    @property
    def identifiable(self) -> tuple[CalibratedNumber, ...]:
        """The numbers that the data tell: not confounded, without influence, without bounds or at the limit of the search.

        A single number on ceilings alone is passed on in any case, with what must be known of it.
        """
        if self.single is not None:
            return self.numbers
        confounded = {key for group in self.confounded for key in group.keys}
        known = [each for each in self.numbers if each.influences and not (each.open or each.edge)]
        return tuple(each for each in known if each.free.key not in confounded)

    @property
    def not_identifiable(self) -> tuple[CalibratedNumber, ...]:
        """The others, of which no value is to be passed on."""
        return tuple(each for each in self.numbers if each not in self.identifiable)

    def commons_for(self, samples: ObservedCurve) -> np.ndarray:
        """Errors of density and commanded flow in standard uncertainties [-], shape (2 s,), for `weighing_shows`.

        As fitted where a series of the same filament calibrates, else none.
        """
        found = np.zeros(2 * samples.spool + 2)
        for each in self.observed.curves:
            if each.row.series.filament == samples.row.series.filament:
                fitted = self.fit.values[len(self.numbers) :]
                found[2 * samples.spool :] = fitted[2 * each.spool : 2 * each.spool + 2]
        return found

    def ceiling_range(self, row: CeilingRow | CurveRow) -> tuple[float, float, float]:
        """The ceiling of `row` [m3/s] and its 95 % interval, by the law of propagation with all correlations."""
        coordinates = self.fit.values[: len(self.numbers)]
        centre, slopes = (
            found[0]
            for found in derivatives(
                lambda values: np.array([self.models.at(row, values).ceiling]), self.models.cases, coordinates
            )
        )
        with np.errstate(invalid="ignore"):
            parts = np.where(np.outer(slopes, slopes) == 0.0, 0.0, np.outer(slopes, slopes) * self.covariance)
        reach = self.fit.multiple * float(np.sqrt(max(parts.sum(), 0.0)))
        return float(centre), max(centre - reach, 0.0), float(centre + reach)


def natural(free: Parameter) -> float:
    """A natural change of the number in its coordinate."""
    return NATURAL_KELVIN if free.is_temperature else 1.0


def confounded_numbers(numbers: Sequence[CalibratedNumber], found: Confounded) -> ConfoundedNumbers:
    """The group of `numbers` that `found` tells by their places, with the weak direction in words."""
    members = [numbers[place] for place in found.places]
    direction = np.array([part * natural(each.free) for part, each in zip(found.trade, members, strict=True)])
    unit = 1.0 if members[0].free.is_temperature else float(np.log1p(SHOWN_PERCENT / 100.0))
    parts = direction / direction[0] * unit
    first, *others = [
        f"{each.free.key} {_change(each.free, float(part))}" for each, part in zip(members, parts, strict=True)
    ]
    trade = f"About the values found, {first} with {' and '.join(others)} fits as well."
    keys = tuple(each.free.key for each in members)
    return ConfoundedNumbers(keys, found.correlation, trade, all(each.bounded for each in members))


def _change(free: Parameter, part: float) -> str:
    return f"{part:+.2g} K" if free.is_temperature else f"{100.0 * float(np.expm1(part)):+.2g} %"
