"""The energy audit: every watt of the heater, by where it goes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from meltzone.fem.linearise import Linearisation
from meltzone.fem.system import System


@dataclass(frozen=True)
class EnergyBalance:
    """Heat flows [W]: `heater` + `viscous` = `melt` + sum of `faces` + `cold_end` + `inlet`, up to `imbalance`.

    `viscous` is what the feeder's work turns into heat, counted where the velocity follows the viscosity. `melt` is the
    enthalpy that the polymer carries out less that it brought in; `faces` the loss through each face to the air; `cold_end`
    what the heat sink takes; `inlet` what conduction carries up the cold filament.
    """

    heater: float
    melt: float
    faces: Mapping[str, float]
    cold_end: float
    inlet: float
    viscous: float = 0.0

    @property
    def losses(self) -> float:
        """Heat lost to the air through all faces [W]."""
        return sum(self.faces.values())

    @property
    def imbalance(self) -> float:
        """Heater power and viscous heat less all that is accounted for [W]."""
        return self.heater + self.viscous - self.melt - self.losses - self.cold_end - self.inlet

    @property
    def relative_imbalance(self) -> float:
        """Imbalance over the heater power [-]."""
        return abs(self.imbalance) / max(abs(self.heater), 1e-12)


def audit(system: System, temperature: np.ndarray, flow: float, power: float) -> EnergyBalance:
    """Balance of the state `temperature` (size,) [K] at `flow` [m3/s] and heater `power` [W].

    Face losses are integrals of their own flux law; the inlet's conduction is the residual's reaction at the nodes
    held at the filament's temperature, which is the flux consistent with the weak form.
    """
    return audit_of(Linearisation.at(system, temperature, flow, power), temperature, flow, power)


def audit_of(here: Linearisation, temperature: np.ndarray, flow: float, power: float) -> EnergyBalance:
    """The same where the balance `here` has been evaluated already, at `temperature` (size,) [K], `flow` and `power`."""
    system = here.system
    mass_flow = system.density * flow
    polymer = system.problem.materials.polymer
    carried_in = float(polymer.enthalpy(np.array(system.problem.operation.inlet_temperature)))
    leaving = system.outlet.traces(temperature)
    carried_out = float(np.sum(polymer.enthalpy(leaving) * system.outlet_share))
    lost = {face.name: float(np.sum(face.loss(face.facets.traces(temperature)) * face.area)) for face in system.faces}
    reaction = float(here.residual[system.inlet].sum())
    return EnergyBalance(
        heater=power,
        melt=mass_flow * (carried_out - carried_in),
        faces={name: watts for name, watts in lost.items() if name != "cold end"},
        cold_end=lost["cold end"],
        inlet=mass_flow * carried_in - reaction,
        viscous=float(system.viscous.sum()),
    )
