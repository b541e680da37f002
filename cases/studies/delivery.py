"""Delivered over commanded flow as a case predicts it: slip towards the feeder's grip, then the thermal plateau."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from meltzone.cases.studies.bench.reduce import Reduced, Reduction
from meltzone.cases.studies.bench.samples import Given
from meltzone.cases.studies.completing import with_stuck_on
from meltzone.cases.studies.results import CUBIC_MM, Result
from meltzone.cases.studies.run import CaseLike, Overrides, ceiling, loaded_case
from meltzone.fem.faults import NoConvergence
from meltzone.fem.inputs import Operation
from meltzone.fem.progress import Reporter
from meltzone.fem.slow_flow.slip import SlipLaw, slip_law

REACH = 1.6  # of the flow ceiling: how far the curve is drawn, or to the last sample
POINTS = 33


@dataclass(frozen=True, eq=False)
class Delivery:
    """A predicted curve beside measured samples, where there are some; flows in mm3/s.

    `slip` is the law of the feeder, None without grip, without viscosity, or with a grip that is never used up.
    """

    result: Result
    slip: SlipLaw | None
    measured: Reduction | None

    @property
    def plateau(self) -> float | None:
        """What can be melted or heated at most: the lesser of melt and power ceiling [mm3/s]."""
        known = [flow for name, flow in self.result.all_ceilings.items() if name != "force"]
        return min(known) if known and self.onset is not None else None

    @property
    def onset(self) -> float | None:
        """Commanded flow about which less begins to be delivered than asked for: the flow ceiling [mm3/s]."""
        return self.result.flow_ceiling

    @property
    def reach(self) -> float:
        """Highest commanded flow shown [mm3/s]."""
        sampled = [float(each.delivered.commanded.max()) for each in self.measured.series] if self.measured else []
        return max([REACH * (self.onset or 1.0), *(1.04 * flow for flow in sampled)])

    def delivered(self, commanded: np.ndarray) -> np.ndarray:
        """Delivered flow at `commanded` flows [mm3/s], of the same shape; zeros where nothing flows."""
        if self.plateau is None:
            return np.zeros_like(commanded)
        slipped = commanded if self.slip is None else CUBIC_MM * self.slip.delivered(commanded / CUBIC_MM)
        return np.minimum(slipped, self.plateau)

    @property
    def table(self) -> tuple[np.ndarray, np.ndarray]:
        """Commanded and delivered flow in even steps, the onset among them [mm3/s]."""
        steps = np.linspace(0.0, self.reach, POINTS)[1:]
        if self.onset:  # in place of a step that falls on it but for rounding
            steps = np.union1d(steps[~np.isclose(steps, self.onset)], [self.onset])
        return steps, self.delivered(steps)

    def within_band(self, series: Reduced) -> bool | None:
        """Whether the weighed ceiling of a `series` lies in the band of the predicted one, its uncertainty granted.

        None where there is no band, or where the samples do not reach the ceiling and leave it open.
        """
        band = self.result.band
        if band is None:
            return None
        slack = 2.0 * series.ceiling_uncertainty
        if series.reached:
            return band.low - slack <= series.ceiling.value <= band.high + slack
        return False if series.ceiling.value > band.high + slack else None

    @property
    def law(self) -> str:
        """What the curve rests on, in words."""
        if self.onset is None:
            return f"{self.result.statement}."
        thermal = f"no more than {self.plateau:.1f} mm³/s is melted or heated"
        if self.slip is None:
            why = self.result.reasons.get("force", "")
            return f"Thermal limit only, {thermal}. The force ceiling is {why.replace(': ', ', as ', 1)}."
        slip, thermal = self.slip, f"And {thermal}."
        return (
            f"Feeder: pushing takes its {self.result.problem.operation.grip:g} N at {CUBIC_MM * slip.flow:.1f} mm³/s, where it "
            f"loses {100.0 * slip.soft:.3g} % to slip; beyond, it pulls up to {100.0 * slip.rise:.3g} % more{_origin(slip)}. "
            f"Force goes with flow to the power {slip.exponent:.2f}. {thermal}"
        )


def _origin(slip: SlipLaw) -> str:
    assumed = (slip.rise, slip.soft) == (Operation.slip_rise, Operation.slip_at_grip)
    return " (both assumed, no source)" if assumed else ""


def delivery(
    case: CaseLike,
    measured: str | Path | None = None,
    overrides: Overrides | None = None,
    report: Reporter | None = None,
    given: Given | None = None,
) -> Delivery:
    """Predict the curve of `case`; `measured` names a table of weighed samples to lay beside it.

    `given` fills in what its rows do not say; else the filament is that of the case. Raises CaseError.
    """
    reduced, case = None, loaded_case(case, overrides)
    if measured is not None:
        from meltzone.cases.inputs.build import problem_of  # only samples need these
        from meltzone.cases.studies.bench.filament import filament_of
        from meltzone.cases.studies.bench.reduce import reduce
        from meltzone.cases.studies.bench.samples_csv import load_samples

        known = replace(given or Given(), of_case=filament_of(problem_of(case)))
        reduced = reduce(load_samples(measured, known), report=report)
    return delivery_of(with_stuck_on(ceiling(case, report=report)), reduced)


def delivery_of(result: Result, measured: Reduction | None = None) -> Delivery:
    """The curve of a `result` that has ceilings, beside what was `measured`."""
    slip = None
    if result.ceilings is not None and result.ceilings.force is not None and result.field is not None:
        try:
            slip = slip_law(result.ceilings.force)
        except NoConvergence:
            slip = None
    return Delivery(result, slip, measured)
