"""The filament of a case as a bench would find it: density of the solid from the card, diameter from the case."""

from __future__ import annotations

from pathlib import Path

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.files import look_up
from meltzone.cases.inputs.reader import EXAMPLES, load_case
from meltzone.cases.inputs.tolerance import Toleranced
from meltzone.cases.studies.bench.samples import MeasuredFilament
from meltzone.fem.problem import Problem

ROOM = 296.15  # temperature for which the density of the solid counts [K]
DENSITY_SHARE = 0.005  # standard uncertainty of a density from a card, assumed [-]
DIAMETER_TOLERANCE = 0.02e-3  # of a filament as it is sold: common practice, no source [m]


def filament_of(problem: Problem) -> MeasuredFilament:
    """Density and diameter of the filament of `problem`, with the uncertainties that stand above."""
    rho = float(problem.materials.polymer.density(ROOM))
    diameter = problem.arrangement.filament.diameter
    return MeasuredFilament(Toleranced(rho, DENSITY_SHARE * rho), Toleranced(diameter, DIAMETER_TOLERANCE))


def filament_of_case(written: str, folder: Path) -> MeasuredFilament | None:
    """The same of the case file or example called `written`, looked for in `folder` first; None where there is none.

    Raises CaseError for a case that cannot be read.
    """
    places = (folder, Path()) if written else ()
    source = next((found for place in places if (found := look_up(written, EXAMPLES, place)) is not None), None)
    return None if source is None else filament_of(problem_of(load_case(str(source.path))))
