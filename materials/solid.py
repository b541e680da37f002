"""A solid of the hot end: metal, ceramic or insulation, with its emissivity and its limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from meltzone.materials.curves import Curve


@dataclass(frozen=True, eq=False)
class Solid:
    """A solid part's material; every number's source stands in `sources`, its caveat in `notes`, under the same key.

    `emissivity` [-] is total hemispherical, of the surface as it looks in use. `service_limit` [K] is the highest
    temperature for continuous service, or None where heat from a hot end does not matter, `limit_reason` why.
    From `warning_temperature` [K] on there is a warning even below the service limit; from
    `refusal_temperature` [K] on the material must not be used. `cautions` always apply. `ranges` holds both ends [SI] of a
    number that the card states a range for.
    """

    key: str
    label: str
    conductivity: Curve
    heat_capacity: Curve
    density: Curve
    emissivity: float
    service_limit: float | None = None
    limit_reason: str = ""
    cautions: tuple[str, ...] = ()
    sources: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    notes: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=lambda: MappingProxyType({}))
    warning_temperature: float | None = None
    refusal_temperature: float | None = None

    @property
    def valid_range(self) -> tuple[float, float]:
        """Temperatures [K] that conductivity, heat capacity and density are all stated for."""
        ranges = [curve.valid_range for curve in (self.conductivity, self.heat_capacity, self.density)]
        return (max(low for low, _ in ranges), min(high for _, high in ranges))
