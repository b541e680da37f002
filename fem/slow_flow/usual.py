"""Where a usual feeder would stop, for problems that give no grip: its flow with the range that grips and cards leave it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from meltzone.fem.adjoint import weighing
from meltzone.fem.limits import LIMITS
from meltzone.fem.problem import Problem
from meltzone.fem.search_mesh import ceilings_for_search
from meltzone.fem.usual_feeder import USUAL_GRIP, USUAL_GRIPS, UsualStall
from meltzone.materials.polymer import Polymer

STEP = 1e-5  # of the logarithm, for derivatives


def usual_stall(problem: Problem) -> UsualStall | None:
    """Where a usual feeder stops `problem`, whose polymer's card has the data for it; None where nothing melts.

    On the mesh of searches, within `meltzone.fem.search_mesh.SEARCH_ERROR` of the problem's own.

    The range counts the usual grips, and those of the card's viscosity and plateau modulus: each by its power of the flow at
    the usual grip, joined as independent. Raises NoConvergence, NoCeiling where the grip is not used up, ValueError without
    data.
    """
    from meltzone.fem.slow_flow.force import force_ceiling  # loaded where a force is sought
    from meltzone.fem.slow_flow.gripping import grip_miss

    melt = ceilings_for_search(problem).melt
    if melt is None:
        return None
    base = melt.problem
    problem = replace(base, operation=replace(base.operation, grip=USUAL_GRIP))
    found = force_ceiling(replace(melt, system=replace(melt.system, problem=problem)))
    limit = LIMITS["force"]
    multiplier = weighing(found, limit.free, limit.held, 0.0 * found.temperature, {"flow": 1.0}).multipliers[-1]
    less = more = 0.0
    for factors, moved in _spans(problem):
        # none of them moves a temperature but by the flow: the condition alone changes
        missed = [grip_miss(_moved(problem, moved, way), found, found.system.space.points) for way in (STEP, -STEP)]
        power = -float(multiplier) * (missed[0] - missed[1]) / (2.0 * STEP * found.flow)
        ends = [power * math.log(factor) for factor in factors]
        less, more = math.hypot(less, min(*ends, 0.0)), math.hypot(more, max(*ends, 0.0))
    return UsualStall(found.flow, found.flow * math.exp(-less), found.flow * math.exp(more))


def _spans(problem: Problem) -> Iterator[tuple[tuple[float, float], str]]:
    """What is not known, with its ends as factors on the value."""
    low, high = USUAL_GRIPS
    yield (low / USUAL_GRIP, high / USUAL_GRIP), "grip"
    polymer = problem.materials.polymer
    if "viscosity" in polymer.ranges:
        yield polymer.ranges["viscosity"], "viscosity"
    if "plateau_modulus" in polymer.ranges and polymer.plateau_modulus:
        low, high = polymer.ranges["plateau_modulus"]
        yield (low / polymer.plateau_modulus, high / polymer.plateau_modulus), "plateau_modulus"


def _moved(problem: Problem, what: str, log: float) -> Problem:
    factor = math.exp(log)
    if what == "grip":
        return replace(problem, operation=replace(problem.operation, grip=factor * USUAL_GRIP))
    polymer = _stiffer(problem.materials.polymer, what, factor)
    return replace(problem, materials=replace(problem.materials, polymer=polymer))


def _stiffer(polymer: Polymer, what: str, factor: float) -> Polymer:
    if what == "viscosity":
        law = polymer.viscosity
        assert law is not None, "checked with the push"
        return replace(polymer, viscosity=law.scaled(factor))
    assert polymer.plateau_modulus is not None, "checked with the push"
    return replace(polymer, plateau_modulus=factor * polymer.plateau_modulus)
