"""The equivalent passage of a problem's divided length, from its materials and lengths."""

from __future__ import annotations

from typing import TYPE_CHECKING

from meltzone.fem.chain import DividedBore, PlugProperties
from meltzone.fem.contact import HoleWalls
from meltzone.fem.divided import DividedTerm, divided_cells
from meltzone.fem.division import EquivalentPassage, equivalent_passage
from meltzone.fem.rearrange import Ring
from meltzone.fem.space import Space
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.channels import Channels

if TYPE_CHECKING:
    from meltzone.fem.problem import Problem

CORE_SHARE = 0.01  # of the flow: what stands for the axis where that is judged


def passage_of(problem: Problem) -> EquivalentPassage:
    """What stands for the divided length of `problem`, whose bore must be divided.

    Made at constant properties: the polymer's between inlet and flow temperature, melting spread over the rise. It is fitted
    to what the criterion looks at: the coldest share of the flow, or its mean.
    """
    a, polymer, operation = problem.arrangement, problem.materials.polymer, problem.operation
    assert a.channels is not None
    cold, hot = operation.inlet_temperature, polymer.flow_temperature
    rise = float(polymer.enthalpy(hot) - polymer.enthalpy(cold)) / (hot - cold)
    properties = PlugProperties(
        conductivity=float(polymer.conductivity((hot + cold) / 2.0)),
        heat_per_volume=polymer.reference_density * rise,
        web_conductivity=float(problem.materials.nozzle.conductivity(operation.setpoint)),
        contact=problem.contacts.bore_melt,
    )
    shares = {"core": CORE_SHARE, "inner": operation.inner_share, "mean": None}
    return equivalent_passage(_divided_bore(a, a.channels), properties, shares[operation.criterion])


def _divided_bore(a: Arrangement, channels: Channels) -> DividedBore:
    """The passage below the block's upper face, cone included: in plug flow a cone heats like a tube of its length."""
    lower, upper = a.divided_levels
    ring = Ring(channels.number, channels.hole_radius, channels.ring_radius(a.nozzle.bore), a.nozzle.bore / 2.0)
    return DividedBore(ring, a.nozzle.thread.root_radius, a.block_top - upper, upper - lower, lower - a.nozzle.land)


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
