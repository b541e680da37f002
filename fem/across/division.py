"""The equivalent passage of a divided length: what an axisymmetric solver puts in the place of N narrow streams."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator
from scipy.optimize import brentq

from meltzone.fem.across.chain import ChainSections, DividedBore, LinearChain, PlugProperties
from meltzone.fem.across.rearrange import Ring

FLOWS = 9  # at which the factor is found
HOTTEST, COLDEST = 0.01, 0.97  # what is left of the inlet's deficit at the least and at the greatest of these flows
LEAST, MOST = 0.25, 12.0  # bounds of the factor over the number of holes, met only where it hardly matters
CLOSE = 1e-12  # of logarithms: derivatives by differences are taken of what is found
REMEMBERED = 64  # passages kept: the same problem asks more than once


@dataclass(frozen=True)
class EquivalentPassage:
    """The divided length as a bore of unchanged radius: heat crosses `factor` times as easily to its axis.

    `flows` (n,) [m3/s] rise, `factors` (n,) [-] belong to them. The conductance of the melt's contact counts `contact_ratio`
    times (the holes' wall over the bore's, N a / R), and `web_resistance` [m2 K/W], per bore wall area, lies behind it in
    series: counted to the bore's radius, so that it may be slightly negative.
    """

    flows: tuple[float, ...]
    factors: tuple[float, ...]
    contact_ratio: float
    web_resistance: float

    def factor(self, flow: float) -> tuple[float, float]:
        """Radial conductivity over the polymer's own [-] at `flow` [m3/s], and its derivative by the flow [s/m3].

        A monotone cubic in the logarithm of the flow that runs out flat at both ends and is constant beyond.
        """
        held = min(max(flow, self.flows[0]), self.flows[-1])
        place = float(np.log(held))
        slope = float(self._pieces(place, 1)) / flow if held == flow else 0.0
        return float(self._pieces(place)), slope

    @cached_property
    def _pieces(self) -> CubicHermiteSpline:
        places = np.log(self.flows)
        slopes = PchipInterpolator(places, self.factors).derivative()(places)
        slopes[0] = slopes[-1] = 0.0
        return CubicHermiteSpline(places, self.factors, slopes)


@lru_cache(maxsize=REMEMBERED)
def equivalent_passage(bore: DividedBore, properties: PlugProperties, share: float | None = 0.1) -> EquivalentPassage:
    """The passage that gives the edge of the coldest `share` of the flow [-] at the end of `bore` the sections' temperature.

    A share of None judges the mean. Constant `properties`, metal at one temperature. As the flow falls the factor tends to
    the number of holes, whose first mode the web resistance is made from; with rising flow it takes up what the new entry
    into the holes and the new order behind them do. Costs some 0.2 s. Raises GeometryError for holes that do not fit.
    """
    chain = LinearChain(sections_of(bore.ring, bore.outer, properties), bore)
    least, most = (_flow_at(chain, share, left) for left in (HOTTEST, COLDEST))
    flows = np.geomspace(least, most, FLOWS)
    factors = [_factor_at(chain, share, flow) for flow in flows]
    return EquivalentPassage(
        flows=tuple(map(float, flows)),
        factors=tuple(factors),
        contact_ratio=chain.sections.contact_ratio,
        web_resistance=chain.sections.web_resistance,
    )


@lru_cache(maxsize=REMEMBERED)
def sections_of(ring: Ring, outer: float, properties: PlugProperties) -> ChainSections:
    """The sections for chains of any length: they cost the most."""
    return ChainSections(ring, outer, properties)


def _flow_at(chain: LinearChain, share: float | None, left: float) -> float:
    """Flow [m3/s] at which what is judged has `left` of the inlet's deficit."""
    bore, p = chain.bore, chain.sections.properties
    length = bore.before + bore.ring.count * bore.divided + bore.after
    scale = np.log(np.pi * p.conductivity * length / p.heat_per_volume)
    found = brentq(lambda x: -chain.by_sections(float(np.exp(x)), share) - left, scale - 7.0, scale + 9.0, xtol=CLOSE)
    return float(np.exp(found))


def _factor_at(chain: LinearChain, share: float | None, flow: float) -> float:
    """Factor at which the passage gives what is judged the sections' temperature at `flow` [m3/s]."""
    wanted = chain.by_sections(flow, share)

    def colder(x: float) -> float:
        return wanted - chain.by_equivalent(flow, float(np.exp(x)), share)

    low, high = (np.log(bound * chain.bore.ring.count) for bound in (LEAST, MOST))
    if colder(low) <= 0.0:
        return float(np.exp(low))
    if colder(high) >= 0.0:
        return float(np.exp(high))
    return float(np.exp(brentq(colder, low, high, xtol=CLOSE)))
