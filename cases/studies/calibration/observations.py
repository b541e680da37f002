"""Measured values as residuals: ceilings, and samples with what a filament's density and diameter leave uncertain in common."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from meltzone.cases.statistics.broken_line import FEWEST_FLOWS, FEWEST_SAMPLES, UNKNOWNS, fit
from meltzone.cases.statistics.robust import scatter_of
from meltzone.cases.studies.bench.delivered import Delivered, delivered_of
from meltzone.cases.studies.bench.rows import CeilingRow, CurveRow
from meltzone.cases.studies.bench.samples import CUBIC_MM, MeasuredFilament
from meltzone.cases.studies.calibration.models import RowModel


@dataclass(frozen=True, eq=False)
class ObservedCurve:
    """The samples of a row in mm3/s, shape (n,): `commanded`, `flow` delivered, its random standard uncertainty `spread`.

    `spread` is that of balance and clock, or the scatter of the samples about their own broken line where that is more.
    `scattered` tells whether there were enough samples to know the scatter. `density` and `diameter` are the shares [-] by
    which the delivered and the commanded flow of all samples are uncertain alike; `spool` counts the filament they belong to.
    """

    row: CurveRow
    commanded: np.ndarray
    flow: np.ndarray
    spread: np.ndarray
    scattered: bool
    density: float
    diameter: float
    spool: int


def observed_curves(rows: Sequence[CurveRow]) -> tuple[ObservedCurve, ...]:
    """All samples of `rows`; series of one filament, equal in density and diameter, share their spool."""
    spools: list[MeasuredFilament] = []
    found = []
    for row in rows:
        if row.series.filament not in spools:
            spools.append(row.series.filament)
        flows = delivered_of(row.series)
        enough = np.unique(flows.commanded).size >= FEWEST_FLOWS and flows.flow.size >= FEWEST_SAMPLES
        spread = flows.random
        if enough:
            spread = _scattered(flows)
        found.append(
            ObservedCurve(
                row, flows.commanded, flows.flow, spread, enough, _density_share(row), flows.commanded_share,
                spools.index(row.series.filament),
            )
        )  # fmt: skip
    return tuple(found)


def _scattered(flows: Delivered) -> np.ndarray:
    """Standard uncertainty [mm3/s], shape (n,): balance and clock, and what scatters beyond them as a share of the flow.

    The scatter is the median absolute deviation about the robust broken line of the reduction, widened by sqrt(n / (n - 4)) for
    the four numbers fitted.
    """
    line = fit(flows.commanded, flows.flow, flows.random_share).curve.delivered(flows.commanded)
    misses = (flows.flow - line) / line
    scatter = scatter_of(misses) * np.sqrt(line.size / (line.size - UNKNOWNS))
    beyond = max(scatter**2 - float(np.median(flows.random / line)) ** 2, 0.0)
    return np.sqrt(flows.random**2 + beyond * line**2)


def _density_share(row: CurveRow) -> float:
    density = row.series.filament.density
    return density.tolerance / density.value


@dataclass(frozen=True, eq=False)
class Observed:
    """What calibrates: `ceilings` and `curves`."""

    ceilings: tuple[CeilingRow, ...]
    curves: tuple[ObservedCurve, ...]

    @property
    def rows(self) -> tuple[CeilingRow | CurveRow, ...]:
        """All rows that calibrate."""
        return (*self.ceilings, *(each.row for each in self.curves))

    @property
    def count(self) -> int:
        """Measured values: ceilings and samples."""
        return len(self.ceilings) + sum(each.flow.size for each in self.curves)

    @property
    def commons(self) -> int:
        """Unknowns that samples have in common: density and diameter of every spool."""
        return 2 * (1 + max((each.spool for each in self.curves), default=-1))

    @property
    def robust(self) -> np.ndarray:
        """Which residuals may be outliers, shape (m,): samples may, stated ceilings and priors not."""
        samples = self.count - len(self.ceilings)
        return np.concatenate(
            [np.zeros(len(self.ceilings), bool), np.ones(samples, bool), np.zeros(self.commons, bool)]
        )

    def residuals(self, models: dict[str, RowModel], commons: np.ndarray) -> np.ndarray:
        """Misses in standard uncertainties, shape (m,): ceilings, samples, then `commons`, which are in standard ones, (2 s,).

        The common errors multiply what the model predicts, and so pull all samples of a spool together; put into a covariance
        matrix scaled by the measured flows instead, they would pull a fit low (D'Agostini 1994, Nucl. Instrum. Methods A
        346:306, from memory).
        """
        parts = [np.array([(models[row.name].ceiling - row.ceiling) / row.uncertainty for row in self.ceilings])]
        parts += [
            (weighing_shows(each, models[each.row.name], commons) - each.flow) / each.spread for each in self.curves
        ]
        return np.concatenate([*parts, commons])


def weighing_shows(samples: ObservedCurve, model: RowModel, commons: np.ndarray) -> np.ndarray:
    """Flows [mm3/s], shape (n,), that weighing would show: (1 + a) Q((1 + b) x), a of the density, b of the diameter.

    `commons` are the errors of density and commanded flow of every spool in standard uncertainties [-], shape (2 s,).
    """
    density, diameter = commons[2 * samples.spool : 2 * samples.spool + 2]
    fed = samples.commanded * (1.0 + diameter * samples.diameter) / CUBIC_MM
    return np.asarray((1.0 + density * samples.density) * CUBIC_MM * model.delivered(fed))
