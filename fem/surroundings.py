"""Heat that leaves a face: convection at film temperature and radiation, by correlations with their sources."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import TypeAlias

import numpy as np

from meltzone.fem.inputs import Surroundings
from meltzone.geometry.faces import ExposedFace
from meltzone.geometry.outer import Orientation
from meltzone.materials.air import Air
from meltzone.materials.pieces import Pieces, smooth

GRAVITY = 9.80665
STEFAN_BOLTZMANN = 5.670374419e-8

LossCurve: TypeAlias = Pieces  # heat flux over surface temperature [W/m2]; its first derivative is the tangent


def vertical_plate(rayleigh: np.ndarray, prandtl: np.ndarray) -> np.ndarray:
    """Nusselt number of a vertical plate by its height, laminar: 0.68 + 0.670 Ra^(1/4) / [1 + (0.492/Pr)^(9/16)]^(4/9) [-].

    Source: Churchill and Chu 1975, Int. J. Heat Mass Transfer 18:1323-1329 (laminar form, from memory); Ra <= 1e9.
    """
    return 0.68 + 0.670 * rayleigh**0.25 / (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (4.0 / 9.0)


def plate_facing_up(rayleigh: np.ndarray) -> np.ndarray:
    """Nusselt number of a hot horizontal face looking up, by area over perimeter: 0.54 Ra^(1/4) [-].

    Source: Incropera, Fundamentals of Heat and Mass Transfer, 1e4 <= Ra <= 1e7 (from memory); small Ra is extrapolated.
    """
    return 0.54 * rayleigh**0.25


def plate_facing_down(rayleigh: np.ndarray) -> np.ndarray:
    """Nusselt number of a hot horizontal face looking down, by area over perimeter: 0.52 Ra^(1/5) [-].

    Source: Incropera, Fundamentals of Heat and Mass Transfer, 1e4 <= Ra <= 1e9 (from memory); small Ra is extrapolated.
    """
    return 0.52 * rayleigh**0.2


def cross_flow_cylinder(reynolds: np.ndarray, prandtl: np.ndarray) -> np.ndarray:
    """Nusselt number of a cylinder in cross flow, by its diameter; Re Pr > 0.2 [-].

    Nu = 0.3 + 0.62 Re^(1/2) Pr^(1/3) / [1 + (0.4/Pr)^(2/3)]^(1/4) [1 + (Re/282000)^(5/8)]^(4/5).
    Source: Churchill and Bernstein 1977, J. Heat Transfer 99:300-306.
    """
    lead = 0.62 * reynolds**0.5 * prandtl ** (1.0 / 3.0) / (1.0 + (0.4 / prandtl) ** (2.0 / 3.0)) ** 0.25
    return 0.3 + lead * (1.0 + (reynolds / 282000.0) ** 0.625) ** 0.8


def flat_plate(reynolds: np.ndarray, prandtl: np.ndarray) -> np.ndarray:
    """Mean Nusselt number of a plate along a laminar stream, by its length: 0.664 Re^(1/2) Pr^(1/3) [-].

    Source: Pohlhausen's solution as given by Incropera, Fundamentals of Heat and Mass Transfer (from memory); Re < 5e5.
    """
    return 0.664 * reynolds**0.5 * prandtl ** (1.0 / 3.0)


# The correlation of each face by its orientation, in still air by Rayleigh and in a jet by Reynolds number
Correlation = Callable[[np.ndarray, np.ndarray], np.ndarray]
STILL: Mapping[Orientation, Correlation] = MappingProxyType(
    {
        "side": vertical_plate,
        "up": lambda rayleigh, _: plate_facing_up(rayleigh),
        "down": lambda rayleigh, _: plate_facing_down(rayleigh),
    }
)
SWEPT: Mapping[Orientation, Correlation] = MappingProxyType(
    {"side": cross_flow_cylinder, "up": flat_plate, "down": flat_plate}
)


def film_coefficient(face: ExposedFace, air: Air, outside: Surroundings, surface: np.ndarray) -> np.ndarray:
    """Convective film coefficient of `face` over the `surface` temperature [K], shape kept [W/m2/K].

    Air properties at the film temperature (T + T_air)/2; natural and forced parts joined as (h_n^3 + h_f^3)^(1/3)
    (Incropera, mixed convection, from memory), times `outside.film_factor`. An override in `outside.films` replaces all.
    """
    if face.name in outside.films:
        return np.full_like(surface, outside.films[face.name])
    film = (surface + outside.air_temperature) / 2.0
    k, nu, prandtl = air.conductivity(film), air.kinematic_viscosity(film), air.prandtl(film)
    excess = np.abs(surface - outside.air_temperature)
    rayleigh = GRAVITY * excess / film * face.length**3 / nu**2 * prandtl
    natural = outside.film_factor * STILL[face.orientation](rayleigh, prandtl) * k / face.length
    if not in_jet(face.name, outside):
        return natural
    reynolds = outside.jet_speed * face.width / nu
    forced = outside.film_factor * SWEPT[face.orientation](reynolds, prandtl) * k / face.width
    return (natural**3 + forced**3) ** (1.0 / 3.0)


def in_jet(face: str, outside: Surroundings) -> bool:
    """Whether the part-cooling jet reaches the face."""
    return outside.jet_speed > 0.0 and any(face.startswith(word) for word in outside.jet_reaches)


def felt(face: ExposedFace, outside: Surroundings) -> tuple[float | None, float, float, float]:
    """What of the surroundings `face` feels: a film of its own, the air's temperature, the films' factor, the jet's speed."""
    jet = outside.jet_speed if in_jet(face.name, outside) else 0.0
    return outside.films.get(face.name), outside.air_temperature, outside.film_factor, jet


def heat_flux(face: ExposedFace, air: Air, outside: Surroundings, emissivity: float, surface: np.ndarray) -> np.ndarray:
    """Heat flux from `face` over its `surface` temperature [K]: h (T - T_air) + emissivity sigma (T^4 - T_air^4) [W/m2]."""
    cold = outside.air_temperature
    convection = film_coefficient(face, air, outside, surface) * (surface - cold)
    return convection + emissivity * STEFAN_BOLTZMANN * (surface**4 - cold**4)


def loss_curve(face: ExposedFace, air: Air, outside: Surroundings, emissivity: float) -> LossCurve:
    """Heat flux from `face` to the surroundings over its surface temperature, 150 K to 1500 K [W/m2].

    That of `heat_flux`, tabulated every 5 K and joined by a cubic spline.
    """
    cold = outside.air_temperature
    surface = cold + 5.0 * np.arange(np.floor((150.0 - cold) / 5.0), np.ceil((1500.0 - cold) / 5.0) + 1.0)
    return smooth(surface, heat_flux(face, air, outside, emissivity, surface))
