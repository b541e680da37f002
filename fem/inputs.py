"""What a solve needs besides the shape: materials, contacts, surroundings, operation; SI throughout, temperatures in kelvin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal, get_args, get_type_hints

from meltzone.materials.air import Air
from meltzone.materials.curves import Curve
from meltzone.materials.polymer import Polymer
from meltzone.materials.solid import Solid

Criterion = Literal["core", "inner", "mean"]
Profile = Literal["plug", "power-law", "shaped", "solved"]


@dataclass(frozen=True)
class MaterialSet:
    """One material per part, called as in the arrangement; None for parts that it does not have."""

    polymer: Polymer
    block: Solid
    nozzle: Solid
    heat_break: Solid
    air: Air
    sleeve: Solid | None = None
    wrap: Solid | None = None
    liner: Solid | None = None
    second_block: Solid | None = None
    heat_sink: Solid | None = None
    tip: Solid | None = None
    break_body: Solid | None = None
    nozzle_cover: Solid | None = None

    def solid_of(self, part: str) -> Solid:
        """The solid that a part is made of; raises KeyError for a part without one."""
        found: Solid | None = getattr(self, part.replace(" ", "_")) if part in SOLID_PARTS else None
        if found is None:
            raise KeyError(part)
        return found

    def conductivity_of(self, part: str) -> Curve:
        """Conductivity of what fills a part, polymer and gas gap included."""
        if part == "polymer":
            return self.polymer.conductivity
        return self.air.conductivity if part == "gap" else self.solid_of(part).conductivity


SOLID_PARTS = tuple(  # as the section calls them
    name.replace("_", " ") for name, hint in get_type_hints(MaterialSet).items() if Solid in (hint, *get_args(hint))
)


@dataclass(frozen=True)
class Contacts:
    """Contact conductances [W/m2/K]; threads per flank area (the thread's area ratio is applied by the solver).

    `sleeve_face` is that of flat metal faces pressed together: sleeve or hexagon against the block, sleeve on hexagon;
    `block_face` that of a second block on the first, `tip_joint` and `body_joint` those of pressed parts of two metals, `liner`
    that of a liner in the heat break and on the nozzle (all common practice, no source). `bore_melt` is that between softened
    filament and bore wall. Its default is what a short block with PLA at 210 degC and a measured ceiling of 13 mm3/s (common
    practice, no source) asks for; see docs/validation.
    """

    bore_melt: float = 12000.0
    thread: float = 8000.0
    shoulder: float = 10000.0
    sleeve_thread: float = 8000.0
    sleeve_face: float = 5000.0
    wrap: float = 500.0
    cold_joint: float = 4000.0
    liner: float = 500.0
    block_face: float = 5000.0
    tip_joint: float = 10000.0
    body_joint: float = 10000.0


@dataclass(frozen=True)
class Surroundings:
    """Air at `air_temperature` and a heat sink at `cold_temperature` [K]; a jet of `jet_speed` [m/s] on the faces named.

    Where the heat sink is a part its temperature follows: air at `sink_speed` [m/s] between its fins, or `sink_resistance`
    [K/W] to its coolant at `sink_coolant` [K], None for that of the air.
    `jet_reaches` holds words matched at the start of face names ("nozzle", "sleeve", "block bottom").
    `thread_area` is the area by which a bare thread loses heat over that of the cylinder through its crests [-]; None for its
    developed area.
    `film_factor` [-] multiplies the film coefficients of all correlations; `films` overrides the film coefficient of a face
    [W/m2/K], `emissivities` the emissivity of a part [-].
    """

    air_temperature: float = 298.15
    sink_speed: float = 2.0
    sink_resistance: float | None = None
    sink_coolant: float | None = None
    cold_temperature: float = 318.15
    jet_speed: float = 0.0
    jet_reaches: tuple[str, ...] = ("nozzle", "sleeve", "wrap", "block bottom")
    thread_area: float | None = None
    film_factor: float = 1.0
    films: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    emissivities: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True)
class Operation:
    """Setpoint [K] at the sensor, heater `rating` [W], filament temperature at the inlet [K], criterion and velocity profile.

    `criterion` says which temperature at the end of the melt zone must reach the flow temperature: that of the axis
    ("core"), that at the edge of the innermost `inner_share` of the flow ("inner"), or the flow's mean ("mean").
    `profile` is the velocity over the filled bore: a plug, a power-law melt of exponent `profile_exponent`, shaped by the
    local viscosity of each section, or that of the melt's slow flow, solved. `grip` is the force at which the feeder slips
    on the filament [N], None where that is not known; `slip_rise` [-] is how much more than that it pulls when it spins in
    place, and `slip_at_grip` [-] what share of the flow it loses to slip where pushing takes its grip. `second_share` is the
    share of the heater's power released in a second block, `second_heater_share` in a second heater [-]. `sensor_contact` is
    the resistance between metal and sensor [K/W], None for a sensor as warm as the metal, `sensor_leads` that along its leads
    to the air [K/W].
    """

    setpoint: float
    rating: float = 40.0
    inlet_temperature: float = 296.15
    criterion: Criterion = "inner"
    inner_share: float = 0.1
    profile: Profile = "plug"
    profile_exponent: float = 0.4
    grip: float | None = None
    second_share: float = 0.0
    second_heater_share: float = 0.0
    sensor_contact: float | None = None
    sensor_leads: float = 500.0  # common practice, no source
    slip_rise: float = 0.1  # assumed, no source
    slip_at_grip: float = 0.03  # assumed, no source

    @property
    def judged_shares(self) -> Mapping[Criterion, float | None]:
        """By criterion, the share of the flow inside the point that it looks at [-]: 0 for the axis, None for the mean."""
        return {"core": 0.0, "inner": self.inner_share, "mean": None}

    @property
    def stream_exponent(self) -> float:
        """Exponent n of the profile that the velocity starts from: 0, a plug, unless it is a power law [-]."""
        return self.profile_exponent if self.profile == "power-law" else 0.0

    @property
    def follows_viscosity(self) -> bool:
        """Whether the velocity follows from the melt's viscosity, and so from the temperatures."""
        return self.profile in ("shaped", "solved")
