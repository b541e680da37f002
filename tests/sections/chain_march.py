"""The same chain with properties over temperature, marched: what the equivalent passage is measured against."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import root_scalar
from sections.march import Medium, Passage, WallLaw, march

from meltzone.fem.across.chain import ChainSections, DividedBore
from meltzone.fem.across.division import EquivalentPassage
from meltzone.fem.across.section import Section

CLOSE, APART = 1e-4, 0.03  # end of the search for a ceiling and its first step, in the logarithm of the flow


@dataclass(frozen=True, eq=False)
class MarchedChain:
    """The chain of `sections` over the lengths of `bore`, with `medium` of `density` [kg/m3], entering at `inlet` [K].

    Metal outside at `wall` [K]. Every length takes `steps` steps.
    """

    sections: ChainSections
    bore: DividedBore
    medium: Medium
    density: float
    inlet: float
    wall: WallLaw | float
    steps: int = 16

    def by_sections(self, flow: float, share: float | None) -> float:
        """Temperature [K] at the end at `flow` [m3/s]: edge of the coldest `share`, the mean where that is None."""
        sections, bore = self.sections, self.bore
        start = sections.splitting @ self._before(flow)
        temperature = self._marched(sections.holes, start, flow, bore.before, bore.divided)
        if bore.after == 0.0:
            return sections.judged(sections.holes, temperature, share)
        joined = sections.joining @ temperature
        end = self._marched(sections.joined, joined, flow, bore.before + bore.divided, bore.after)
        return sections.judged(sections.joined, end, share)

    def by_equivalent(self, passage: EquivalentPassage, flow: float, share: float | None) -> float:
        """The same with `passage` in the place of the divided length."""
        sections, bore = self.sections, self.bore
        film = 1.0 / (1.0 / wall_conductance(passage, sections.properties.contact) + sections.metal)
        factor, _ = passage.factor(flow)
        equivalent = sections.equivalent(film)
        temperature = self._marched(equivalent, self._before(flow), flow, bore.before, bore.divided, factor)
        end = self._marched(sections.line, temperature, flow, bore.before + bore.divided, bore.after)
        return sections.judged(sections.line, end, share)

    def _before(self, flow: float) -> np.ndarray:
        line = self.sections.line
        return self._marched(line, np.full(line.size, self.inlet), flow, 0.0, self.bore.before)

    def _marched(
        self, section: Section, start: np.ndarray, flow: float, from_inlet: float, length: float, factor: float = 1.0
    ) -> np.ndarray:
        if length == 0.0:
            return start
        law = self.wall if callable(self.wall) else lambda _: float(self.wall)
        # webs follow without delay: where their iteration starts does not matter, so long as it is warm
        start = np.where(np.isin(np.arange(section.size), section.polymer), start, law(from_inlet))
        passage = Passage(section, self.medium, self.density * flow, factor)
        return march(passage, start, lambda z: law(from_inlet + z), length, self.steps).end


def wall_conductance(passage: EquivalentPassage, contact: float) -> float:
    """Conductance [W/m2/K] per bore wall area between polymer and metal, with `contact` [W/m2/K] on the holes' wall."""
    return 1.0 / (1.0 / (contact * passage.contact_ratio) + passage.web_resistance)


def flow_at(judged: Callable[[float], float], target: float, guess: float) -> float:
    """Flow [m3/s] near `guess` at which `judged`, a temperature [K] over the flow, is at its `target` [K].

    Secants in the logarithm of the flow. Raises ArithmeticError where they do not settle.
    """
    first = float(np.log(guess))
    found = root_scalar(
        lambda x: judged(float(np.exp(x))) - target, x0=first, x1=first + APART, method="secant", xtol=CLOSE
    )
    if not found.converged:
        raise ArithmeticError(f"no flow found at {target:g} K from {guess:g} m3/s")
    return float(np.exp(found.root))
