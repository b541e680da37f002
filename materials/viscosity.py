"""Shear viscosity of a melt by rate and temperature: laws whose shear thinning hangs on eta0 rate / tau* alone."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Self

import numpy as np

GAS_CONSTANT = 8.314462618  # [J/mol/K], CODATA 2018

Span = tuple[float, float]


@dataclass(frozen=True)
class Viscosity:
    """eta = eta0(T) (1 + x^a)^(-(1 - n)/a) with x = eta0(T) rate / tau*; `n` [-], `tau_star` [Pa], a the `sharpness` [-].

    Yasuda's form (1979); eta0(T) is the law's own. `temperatures` [K] and `rates` [1/s] are those that the numbers were
    measured over, None where no measurement of this polymer stands behind them.
    """

    n: float
    tau_star: float
    temperatures: Span | None = field(default=None, kw_only=True)
    rates: Span | None = field(default=None, kw_only=True)

    @property
    def sharpness(self) -> float:
        """How sharp the bend is between rest and power law [-]."""
        raise NotImplementedError

    def zero_shear(self, temperature: Any) -> np.ndarray:
        """Viscosity at rest, eta0 [Pa s], at `temperature` [K]."""
        raise NotImplementedError

    def zero_shear_slope(self, temperature: Any) -> np.ndarray:
        """d ln(eta0)/dT [1/K] at `temperature` [K]."""
        raise NotImplementedError

    def scaled(self, factor: float) -> Self:
        """The law with every viscosity multiplied by `factor` [-]."""
        raise NotImplementedError

    def __call__(self, shear_rate: Any, temperature: Any) -> np.ndarray:
        """Viscosity [Pa s] at `shear_rate` [1/s] and `temperature` [K], broadcast."""
        rest = self.zero_shear(temperature)
        bent = (rest * np.abs(shear_rate) / self.tau_star) ** self.sharpness
        return np.asarray(rest * (1.0 + bent) ** (-(1.0 - self.n) / self.sharpness))


@dataclass(frozen=True)
class CrossWLF(Viscosity):
    """Shear viscosity eta = eta0 / (1 + (eta0 rate / tau*)^(1 - n)), eta0 = D1 exp(-A1 (T - D2) / (A2 + T - D2)).

    `n` [-], `tau_star` [Pa], `D1` [Pa s], `D2` [K], `A1` [-], `A2` [K]; Cross (1965) with the shift of Williams, Landel
    and Ferry (1955). Below `D2` the shift's pole is near: temperatures are held at `D2`.
    """

    D1: float
    D2: float
    A1: float
    A2: float

    @property
    def sharpness(self) -> float:
        """1 - n, which makes Yasuda's form that of Cross [-]."""
        return 1.0 - self.n

    def scaled(self, factor: float) -> Self:
        """The law with every viscosity multiplied by `factor` [-]."""
        return replace(self, D1=factor * self.D1, tau_star=factor * self.tau_star)

    def zero_shear(self, temperature: Any) -> np.ndarray:
        """Viscosity at rest, eta0 [Pa s], at `temperature` [K]."""
        above = np.maximum(np.asarray(temperature, dtype=float) - self.D2, 0.0)
        return np.asarray(self.D1 * np.exp(-self.A1 * above / (self.A2 + above)))

    def zero_shear_slope(self, temperature: Any) -> np.ndarray:
        """d ln(eta0)/dT [1/K] at `temperature` [K]: 0 below `D2`."""
        above = np.asarray(temperature, dtype=float) - self.D2
        return np.where(above > 0.0, -self.A1 * self.A2 / (self.A2 + np.maximum(above, 0.0)) ** 2, 0.0)


@dataclass(frozen=True)
class CarreauArrhenius(Viscosity):
    """Shear viscosity eta = eta0 (1 + (eta0 rate / tau*)^2)^(-(1 - n)/2), eta0 = `rest` exp(E/R (1/T - 1/T0)).

    `rest` [Pa s] is that at rest at `T0` [K], `E` the activation energy [J/mol]; tau* is eta0 over Carreau's time, which the
    shift leaves as it is. Carreau (1972) with the shift of Arrhenius.
    """

    rest: float
    T0: float
    E: float

    @property
    def sharpness(self) -> float:
        """2, which makes Yasuda's form that of Carreau [-]."""
        return 2.0

    def scaled(self, factor: float) -> Self:
        """The law with every viscosity multiplied by `factor` [-]."""
        return replace(self, rest=factor * self.rest, tau_star=factor * self.tau_star)

    def zero_shear(self, temperature: Any) -> np.ndarray:
        """Viscosity at rest, eta0 [Pa s], at `temperature` [K]."""
        kelvin = np.asarray(temperature, dtype=float)
        return np.asarray(self.rest * np.exp(self.E / GAS_CONSTANT * (1.0 / kelvin - 1.0 / self.T0)))

    def zero_shear_slope(self, temperature: Any) -> np.ndarray:
        """d ln(eta0)/dT [1/K] at `temperature` [K]."""
        return np.asarray(-self.E / GAS_CONSTANT / np.asarray(temperature, dtype=float) ** 2)
