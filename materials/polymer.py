"""A polymer: enthalpy with its melting peak, conductivity, density, viscosity, softening and flow temperature."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

import numpy as np

from meltzone.materials.curves import REFERENCE_TEMPERATURE, Curve
from meltzone.materials.viscosity import GAS_CONSTANT, CrossWLF, Viscosity

__all__ = ["CrossWLF", "Polymer"]


@dataclass(frozen=True, eq=False)
class Polymer:
    """A filament's material; every number's source stands in `sources`, its caveat in `notes`, under the same key.

    `heat_capacity` is without the melting peak, whose area is `melting_enthalpy` [J/kg] (0 for amorphous), centred at
    `melting_peak` [K]; `melting_width` [K] is its full width, foot to foot. Above `softening_temperature` [K] the skin
    wets the bore wall; above `flow_temperature` [K] the polymer yields to the available pressure. `plateau_modulus` [Pa] is
    that of the network of entangled chains, rho R T / M_e with the molar mass M_e between entanglements. Where a card states
    how far a number may be off, `ranges` holds both ends [SI], for the viscosity as factors [-]. Safety:
    beyond `degradation_temperature` [K] it spoils and fumes within minutes, beyond `decomposition_temperature` [K]
    it comes apart; `fumes` says what then leaves it. At the degradation temperature it lasts the `induction_time` [s] before it
    spoils, elsewhere by Arrhenius's law with the `induction_energy` [J/mol].
    """

    key: str
    label: str
    conductivity: Curve
    heat_capacity: Curve
    density: Curve
    melting_enthalpy: float
    melting_peak: float
    melting_width: float
    softening_temperature: float
    flow_temperature: float
    degradation_temperature: float
    fumes: str
    sources: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    notes: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=lambda: MappingProxyType({}))
    viscosity: Viscosity | None = None
    plateau_modulus: float | None = None
    induction_time: float | None = None
    induction_energy: float | None = None
    decomposition_temperature: float | None = None

    def melted_fraction(self, temperature: Any) -> np.ndarray:
        """Share of the melting enthalpy taken up at `temperature` [K]: 0 below the peak, 1 above it.

        The quintic smooth step 10 s^3 - 15 s^4 + 6 s^5 over the peak's full width: twice continuously differentiable,
        and exactly 0 and 1 outside, so that the area of the peak is the melting enthalpy.
        """
        s = self._across_peak(temperature)
        return np.asarray(s**3 * (10.0 + s * (6.0 * s - 15.0)))

    def enthalpy(self, temperature: Any) -> np.ndarray:
        """Specific enthalpy [J/kg] at `temperature` [K], zero at 296.15 K."""
        sensible = self.heat_capacity.integral(temperature)
        if self.melting_enthalpy == 0.0:
            return sensible
        melted = self.melted_fraction(temperature) - self.melted_fraction(REFERENCE_TEMPERATURE)
        return np.asarray(sensible + self.melting_enthalpy * melted)

    def enthalpy_slope(self, temperature: Any) -> np.ndarray:
        """Apparent heat capacity [J/kg/K]: the exact derivative of `enthalpy`."""
        plain = self.heat_capacity(temperature)
        if self.melting_enthalpy == 0.0:
            return plain
        s = self._across_peak(temperature)
        return np.asarray(plain + self.melting_enthalpy * 30.0 * (s * (1.0 - s)) ** 2 / self.melting_width)

    def induction(self, temperature: Any) -> np.ndarray | None:
        """How long it lasts at `temperature` [K] before it spoils: t exp(E/R (1/T - 1/T_d)) [s]; None where no card says so."""
        if self.induction_time is None or self.induction_energy is None:
            return None
        apart = 1.0 / np.asarray(temperature, dtype=float) - 1.0 / self.degradation_temperature
        return np.asarray(self.induction_time * np.exp(self.induction_energy / GAS_CONSTANT * apart))

    @property
    def reference_density(self) -> float:
        """Density [kg/m3] of the solid filament at 296.15 K, by which a mass flow is told as mm3/s."""
        return float(self.density(REFERENCE_TEMPERATURE))

    @property
    def valid_range(self) -> tuple[float, float]:
        """Temperatures [K] that conductivity, heat capacity and density are all stated for."""
        ranges = [curve.valid_range for curve in (self.conductivity, self.heat_capacity, self.density)]
        return (max(low for low, _ in ranges), min(high for _, high in ranges))

    def _across_peak(self, temperature: Any) -> np.ndarray:
        position = (np.asarray(temperature, dtype=float) - self.melting_peak) / self.melting_width + 0.5
        return np.clip(position, 0.0, 1.0)
