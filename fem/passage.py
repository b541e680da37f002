"""The equivalent passage of a problem's divided length, from its materials and lengths; loads only where there is one."""

from __future__ import annotations

from scipy.optimize import brentq

from meltzone.fem.across.chain import DividedBore, LinearChain, PlugProperties
from meltzone.fem.across.division import EquivalentPassage, equivalent_passage, sections_of
from meltzone.fem.across.rearrange import Ring
from meltzone.fem.contact import HoleWalls
from meltzone.fem.divided import DividedTerm, divided_cells
from meltzone.fem.problem import Problem
from meltzone.fem.space import Space
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.channels import Channels

CORE_SHARE = 0.01  # of the flow: what stands for the axis where that is judged
LEAST_KEPT = 0.5  # of a flow, for the search of what is left without the order of the layers


def passage_of(problem: Problem) -> EquivalentPassage:
    """What stands for the divided length of `problem`, whose bore must be divided.

    Made at constant properties: the polymer's between inlet and flow temperature, melting spread over the rise. It is fitted
    to what the criterion looks at: the coldest share of the flow, or its mean.
    """
    return equivalent_passage(*_chain(problem))


def worth_of_order(problem: Problem, flow: float) -> float:
    """By what part of itself the `flow` [m3/s] would be less if the joined stream were sorted, coldest on the axis [-].

    At the same temperature of what the criterion looks at, at constant properties: what the assumption that layers keep their
    order is worth.
    """
    bore, properties, share = _chain(problem)
    chain = LinearChain(sections_of(bore.ring, bore.outer, properties), bore)
    wanted = chain.by_sections(flow, share)
    if chain.by_sections(LEAST_KEPT * flow, share, distribution_only=True) <= wanted:
        return 1.0 - LEAST_KEPT

    def colder(part: float) -> float:
        return wanted - chain.by_sections(part * flow, share, distribution_only=True)

    return 0.0 if colder(1.0) <= 0.0 else 1.0 - float(brentq(colder, LEAST_KEPT, 1.0, xtol=1e-4))


def _chain(problem: Problem) -> tuple[DividedBore, PlugProperties, float | None]:
    """Bore, constant properties and judged share of the flow of a problem, what the passage is made from."""
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
    share = operation.judged_shares[operation.criterion]
    return _divided_bore(a, a.channels), properties, CORE_SHARE if share == 0.0 else share


def _divided_bore(a: Arrangement, channels: Channels) -> DividedBore:
    """The passage below the block's upper face, cone included: in plug flow a cone heats like a tube of its length."""
    lower, upper = a.divided_levels
    ring = Ring(channels.number, channels.hole_radius, channels.ring_radius(a.nozzle.bore), a.nozzle.bore / 2.0)
    return DividedBore(ring, a.nozzle.thread.root_radius, a.block_top - upper, upper - lower, lower - a.nozzle.land)


def divided_term(problem: Problem, space: Space) -> DividedTerm:
    """The divided length of `problem` on its mesh."""
    return DividedTerm(divided_cells(space), passage_of(problem))


def hole_walls(problem: Problem) -> HoleWalls:
    """The walls of the divided length as the bore's contact sees them."""
    passage = passage_of(problem)
    return HoleWalls(*problem.arrangement.divided_levels, passage.contact_ratio, passage.web_resistance)
