"""The equivalent passage of a problem's divided length, from its materials and lengths."""

from __future__ import annotations

from typing import TYPE_CHECKING

from meltzone.fem.contact import HoleWalls
from meltzone.fem.divided import DividedTerm, divided_cells
from meltzone.fem.division import EquivalentPassage, equivalent_passage
from meltzone.fem.space import Space

if TYPE_CHECKING:
    from meltzone.fem.problem import Problem


def passage_of(problem: Problem) -> EquivalentPassage:
    """What stands for the divided length of `problem`, whose bore must be divided."""
    a, polymer = problem.arrangement, problem.materials.polymer
    assert a.channels is not None
    lower, upper = a.divided_levels
    cold, hot = problem.operation.inlet_temperature, polymer.flow_temperature
    rise = float(polymer.enthalpy(hot) - polymer.enthalpy(cold))
    return equivalent_passage(
        a.channels.number,
        a.channels.hole_radius,
        a.nozzle.bore / 2.0,
        a.block_top - upper,
        upper - lower,
        lower - a.nozzle.land,
        float(polymer.conductivity((hot + cold) / 2.0)),
        polymer.reference_density * rise / (hot - cold),
        float(problem.materials.nozzle.conductivity(problem.operation.setpoint)),
        problem.contacts.bore_melt,
        problem.operation.inner_share,
    )


def divided_term(problem: Problem, space: Space) -> DividedTerm | None:
    """The divided length of `problem` on its mesh, None where the bore is not divided."""
    if problem.arrangement.channels is None:
        return None
    return DividedTerm(divided_cells(space), passage_of(problem))


def hole_walls(problem: Problem) -> HoleWalls | None:
    """The walls of the divided length as the bore's contact sees them, None where the bore is not divided."""
    if problem.arrangement.channels is None:
        return None
    passage = passage_of(problem)
    return HoleWalls(*problem.arrangement.divided_levels, passage.contact_ratio, passage.web_resistance)
