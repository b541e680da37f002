"""Ceilings of problems that differ from a solved one only in what is judged: a few steps from its own field."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from meltzone.fem.ceiling import Ceilings, ceilings_of
from meltzone.fem.discretise import judged_by
from meltzone.fem.faults import NoConvergence
from meltzone.fem.limits import LIMITS
from meltzone.fem.linearise import Linearisation
from meltzone.fem.newton import Factors, bordered, bordered_by, factors_of
from meltzone.fem.problem import Problem
from meltzone.fem.steady import conditions_of

NEAR = 2e-4  # residual at which a ceiling is within 1e-4 of itself: its last step is a Newton step


@dataclass(frozen=True, eq=False)
class Judged:
    """Solved `ceilings` of a plug, from which those with another flow temperature or another share of the core are found.

    Neither moves the heat balance: the power ceiling stays where it is, and of the melt ceiling the target alone, or what of
    the field is judged. The factors of its own field serve the first step.
    """

    ceilings: Ceilings

    def flow_under(self, problem: Problem) -> float:
        """Governing ceiling of `problem` within 1e-4 of itself [m3/s], 0 where nothing flows."""
        melt, power, system = self.ceilings.melt, self.ceilings.power, judged_by(self.ceilings.system, problem)
        if melt is None or problem.operation.setpoint <= problem.materials.polymer.flow_temperature:
            return 0.0
        start, free, held = replace(melt.state, factorisations=0), LIMITS["melt"].free, LIMITS["melt"].held
        conditions = conditions_of(system, held)
        factors = bordered_by(self._factors, free, conditions)
        try:
            found = bordered(system, start, free, conditions, factors=factors, tolerance=NEAR)
        except NoConvergence:
            return ceilings_of(system).flow
        return found.flow if power is None else min(found.flow, power.flow)

    @cached_property
    def _factors(self) -> Factors:
        """The tangent at the melt ceiling."""
        melt, limit = self.ceilings.found["melt"], LIMITS["melt"]
        here = Linearisation.at(melt.system, melt.temperature, melt.flow, melt.power)
        return factors_of(melt.system, here, limit.free, conditions_of(melt.system, limit.held))


@dataclass(frozen=True, eq=False)
class Pushed:
    """Solved `ceilings` of a plug, from which those with another viscosity are found: it moves the force ceiling alone."""

    ceilings: Ceilings

    def flow_under(self, problem: Problem) -> float:
        """Governing ceiling of `problem` [m3/s], 0 where nothing flows."""
        melt = self.ceilings.melt
        start = None if melt is None else melt.state
        return ceilings_of(self.ceilings.system.with_terms(problem=problem), start=start).flow
