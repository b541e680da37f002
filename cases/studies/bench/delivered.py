"""Delivered flow of every sample by the law of propagation, what is random and what a series has in common kept apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.statistics.broken_line import REFERENCE_FLOWS
from meltzone.cases.studies.bench.samples import CUBIC_MM, Series


@dataclass(frozen=True)
class Delivered:
    """Flows of a series [mm3/s], shape (n,): `commanded`, `flow` delivered, and the standard uncertainty of `flow` in parts.

    `random` is that of balance and clock, `common` that of the density, the same share in every sample. `commanded_common`
    [mm3/s] is what the diameter leaves uncertain in the commanded flow.
    """

    commanded: np.ndarray
    flow: np.ndarray
    random: np.ndarray
    common: np.ndarray
    commanded_common: np.ndarray

    @property
    def total(self) -> np.ndarray:
        """Combined standard uncertainty of the delivered flow [mm3/s]."""
        return np.hypot(self.random, self.common)

    @property
    def random_share(self) -> float:
        """Typical random uncertainty over the commanded flow [-]."""
        return float(np.median(self.random / self.commanded))

    @property
    def common_share(self) -> float:
        """The common part of the delivered flow's uncertainty [-]."""
        return float(self.common[0] / self.flow[0]) if self.flow[0] else 0.0

    @property
    def commanded_share(self) -> float:
        """The uncertainty of the commanded flow [-]."""
        return float(self.commanded_common[0] / self.commanded[0])


def delivered_of(series: Series) -> Delivered:
    """Q = m / (density t) of every sample, and Q = v pi d^2 / 4 commanded, with their uncertainties (JCGM 100:2008, 5.1).

    In products the shares add in quadrature. Density and diameter are one for all samples, so that their parts are told from
    the others'; what the feeder is told as a speed is exact, whatever the filament's true diameter.
    """
    mass, time, time_uncertainty, told = np.array(
        [(each.mass, each.time, each.time_uncertainty, each.commanded) for each in series.samples]
    ).T
    density, diameter = series.filament.density, series.filament.diameter
    speed = told / (0.25 * np.pi * diameter.value**2)
    commanded = CUBIC_MM * (speed * 0.25 * np.pi * diameter.value**2)
    flow = CUBIC_MM * (mass / (density.value * time))
    weighing = CUBIC_MM * (1.0 / (density.value * time) * series.balance.uncertainty())
    return Delivered(
        commanded=commanded,
        flow=flow,
        random=np.hypot(weighing, flow * time_uncertainty / time),
        common=flow * density.tolerance / density.value,
        commanded_common=2.0 * commanded * diameter.tolerance / diameter.value,
    )


def check_reference(file: str, series: Series) -> None:
    """Raises CaseError for a `series` of the table `file` that has no reference line: nothing weighed at its lowest flows."""
    lowest = sorted({sample.commanded for sample in series.samples})[:REFERENCE_FLOWS]
    masses = [sample.mass for sample in series.samples if sample.commanded <= lowest[-1]]
    if not np.median(masses) > 0.0:
        found = f"nothing at the {len(lowest)} lowest flows of the series {series.name}"
        expected = "samples with a mass above zero: what is short is counted from them"
        hint = "Enter what the balance showed; leave the cell empty where nothing was weighed."
        raise CaseError(file, series.samples[0].line, "mass", found, expected, hint)
