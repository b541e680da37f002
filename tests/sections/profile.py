"""Sections whose flow is no plug: shares of the flow by the developed velocity of a Newtonian or a power-law melt."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from sections.duct_velocity import newtonian, power_law
from skfem import Basis, ElementQuad2

from meltzone.fem.across.section import ORDER, Section, section_of
from meltzone.geometry.cross_section import WETTED, CrossSection


def profiled(cross: CrossSection, exponent: float, *metal: float, **film: Any) -> Section:
    """The section of `cross`; `exponent` 0 is a plug, 1 Newtonian flow, anything else a power law [-], sticking to the wall."""
    section = section_of(cross, *metal, **film)
    if exponent == 0.0:
        return section
    flowing = Basis(cross.mesh, ElementQuad2(), intorder=ORDER).with_elements("polymer")
    no_slip = np.intersect1d(flowing.get_dofs(WETTED).flatten(), np.unique(flowing.element_dofs))
    velocity = newtonian(flowing, no_slip) if exponent == 1.0 else power_law(flowing, no_slip, exponent)
    weight = section.area * flowing.interpolate(velocity).ravel()
    return replace(section, share=weight / weight.sum())
