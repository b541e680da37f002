"""The properties of materials, each declared once: what its number may be, and how it is moved and toleranced."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from types import MappingProxyType
from typing import Literal

from meltzone.materials import units
from meltzone.materials.units import Kind
from meltzone.materials.viscosity import CarreauArrhenius, CrossWLF, Viscosity

# Bounds that no real material leaves. A card may write temperatures in "C".
CARD_TEMPERATURE = replace(
    units.TEMPERATURE.within(150.0, 3000.0),
    example="180 degC",
    factors=MappingProxyType({**units.TEMPERATURE.factors, "C": Decimal(1)}),
)
_CONDUCTIVITY = units.CONDUCTIVITY.within(0.005, 3000.0)
_HEAT_CAPACITY = units.HEAT_CAPACITY.within(100.0, 10000.0)
_DENSITY = units.DENSITY.within(5.0, 25000.0)
_WIDTH = units.TEMPERATURE_DIFFERENCE.within(1.0, 150.0)
_FRACTION, _NUMBER = units.PLAIN.within(0.0, 1.0), units.PLAIN.within(1e-6, 1e6)


@dataclass(frozen=True)
class Property:
    """A property of a card: its `name` there, the `kind` of its number with bounds, whether it is a curve, and needed.

    `heading` is what tables call it. `step` is the natural step of the input that moves it, as a person writes it: a share
    scales the property as a whole; '' for none. `tolerance` tells how [uncertainty] moves it: by a share, or by kelvin.
    """

    name: str
    kind: Kind
    is_curve: bool = False
    is_needed: bool = False
    heading: str = ""
    step: str = ""
    tolerance: Literal["share", "kelvin", ""] = ""

    @property
    def words(self) -> str:
        """What it is called in a sentence."""
        return self.name.replace("_", " ")


def _curve(name: str, kind: Kind, step: str = "", tolerance: Literal["share", ""] = "") -> Property:
    return Property(name, kind, is_curve=True, is_needed=True, step=step, tolerance=tolerance)


# The flow and the softening temperature are keys of a case, and have their step there.
POLYMER = (
    _curve("conductivity", _CONDUCTIVITY, "10 %", "share"),
    _curve("heat_capacity", _HEAT_CAPACITY, "10 %", "share"),
    _curve("density", _DENSITY, "10 %", "share"),
    Property("melting_enthalpy", units.ENTHALPY.within(0.0, 400e3), step="5 kJ/kg", tolerance="share"),
    Property("melting_peak", CARD_TEMPERATURE, step="5 K", tolerance="kelvin"),
    Property("melting_width", _WIDTH, heading="melting peak, foot to foot"),
    Property("softening_temperature", CARD_TEMPERATURE, is_needed=True, tolerance="kelvin"),
    Property("flow_temperature", CARD_TEMPERATURE, is_needed=True, tolerance="kelvin"),
    Property("degradation_temperature", CARD_TEMPERATURE, is_needed=True),
    Property("decomposition_temperature", CARD_TEMPERATURE),
    Property("induction_time", units.TIME.within(0.1, 1e7), heading="induction time at the degradation temperature"),
    Property("induction_energy", units.ACTIVATION.within(1e3, 1e6), heading="activation energy of the induction"),
    Property(
        "plateau_modulus",
        units.STRESS.within(1e3, 1e8),
        heading="plateau modulus of the entangled melt",
        step="1e5 Pa",
        tolerance="share",
    ),
)
SOLID = (
    _curve("conductivity", _CONDUCTIVITY, "10 %", "share"),
    _curve("heat_capacity", _HEAT_CAPACITY),
    _curve("density", _DENSITY),
    Property("emissivity", _FRACTION, is_needed=True, tolerance="share"),
    Property("warning_temperature", CARD_TEMPERATURE, heading="caution from"),
    Property("service_limit", CARD_TEMPERATURE, heading="limit for continuous service"),
    Property("refusal_temperature", CARD_TEMPERATURE, heading="not to be used from"),
)
AIR = (
    _curve("conductivity", _CONDUCTIVITY),
    _curve("kinematic_viscosity", units.KINEMATIC_VISCOSITY.within(1e-7, 1e-2)),
    _curve("prandtl", _NUMBER),
)
CROSS_WLF = (
    Property("n", _FRACTION, is_needed=True),
    Property("tau_star", units.STRESS.within(1.0, 1e9), is_needed=True),
    Property("D1", units.VISCOSITY.within(1e-6, 1e30), is_needed=True),
    Property("D2", CARD_TEMPERATURE, is_needed=True),
    Property("A1", _NUMBER, is_needed=True),
    Property("A2", _WIDTH, is_needed=True),
)
CARREAU_ARRHENIUS = (
    *CROSS_WLF[:2],
    Property("rest", units.VISCOSITY.within(1e-6, 1e30), is_needed=True),
    Property("T0", CARD_TEMPERATURE, is_needed=True),
    Property("E", units.ACTIVATION.within(0.0, 1e6), is_needed=True),
)
# Laws of viscosity by their name on a card; the first where a card names none
LAWS: Mapping[str, tuple[tuple[Property, ...], type[Viscosity]]] = MappingProxyType(
    {"Cross-WLF": (CROSS_WLF, CrossWLF), "Carreau-Arrhenius": (CARREAU_ARRHENIUS, CarreauArrhenius)}
)
OF_KIND: Mapping[str, tuple[Property, ...]] = MappingProxyType({"polymer": POLYMER, "solid": SOLID, "air": AIR})
