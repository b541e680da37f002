"""Air at one atmosphere: what the convection correlations and the gas gap around the filament need."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from meltzone.materials.curves import Curve


@dataclass(frozen=True, eq=False)
class Air:
    """`conductivity` [W/m/K], `kinematic_viscosity` [m2/s] and `prandtl` [-] over the film temperature [K]."""

    conductivity: Curve
    kinematic_viscosity: Curve
    prandtl: Curve
    sources: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    notes: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
