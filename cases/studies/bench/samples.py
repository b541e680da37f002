"""Weighed samples as data: series of them, each of one filament and one balance, checked, in SI."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from meltzone.cases.inputs.tolerance import Toleranced
from meltzone.cases.studies.bench.balance import Balance
from meltzone.cases.studies.bench.samples_table import Understood

CUBIC_MM = 1e9  # in a cubic metre


@dataclass(frozen=True)
class MeasuredFilament:
    """What is fed: `density` of the solid [kg/m3] and measured `diameter` [m], each with its standard uncertainty."""

    density: Toleranced
    diameter: Toleranced

    @property
    def area(self) -> float:
        """Cross section [m2]."""
        return 0.25 * math.pi * self.diameter.value**2


@dataclass(frozen=True)
class Sample:
    """One weighed extrusion: `commanded` flow [m3/s], `time` [s] with its uncertainty, `mass` [kg], the line of its file."""

    line: int
    commanded: float
    time: float
    time_uncertainty: float
    mass: float
    note: str


@dataclass(frozen=True)
class LeftOut:
    """A row that is not reckoned with: its `line` and the `reason`."""

    line: int
    reason: str


@dataclass(frozen=True)
class Series:
    """Samples of one arrangement; `case` names its case file or example, '' if not told, `overrides` its own headings."""

    name: str
    case: str
    overrides: Mapping[str, str]
    filament: MeasuredFilament
    balance: Balance
    samples: tuple[Sample, ...]
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True)
class SampleFile:
    """All series of a file; `comments` are its lines that begin with #, `assumed` says in words what was not told.

    `table` is what was understood of its headings, None where the samples are of no table.
    """

    name: str
    file: str
    folder: Path
    comments: tuple[str, ...]
    series: tuple[Series, ...]
    assumed: tuple[str, ...]
    table: Understood | None = None


@dataclass(frozen=True)
class Given:
    """What options say for rows that do not say it themselves; None or '' where the option was not given.

    `tray` [kg] was weighed along with every sample. `case` is that of series which name none; `of_case` is its filament by
    card and dimensions, which counts where nothing else is said. `columns` tells which column of the table is which.
    """

    density: Toleranced | None = None
    diameter: Toleranced | None = None
    resolution: float | None = None
    repeatability: float | None = None
    tray: float | None = None
    case: str = ""
    of_case: MeasuredFilament | None = None
    columns: str | None = None


def with_default_uncertainty(found: Toleranced, usual: float) -> Toleranced:
    """The value with the `usual` uncertainty [SI] where none is stated."""
    return found if found.tolerance else replace(found, tolerance=usual)
