"""Film coefficients: the solver's correlations at the figures of handbook examples."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from meltzone.fem.inputs import Surroundings
from meltzone.fem.surroundings import cross_flow_cylinder, film_coefficient
from meltzone.geometry.faces import ExposedFace
from meltzone.materials.air import Air

from .checks import Check, group
from .solving import constant


def vertical_plate_all(rayleigh: np.ndarray, prandtl: np.ndarray) -> np.ndarray:
    """Nusselt number of a vertical plate for all Ra up to 1e12 [-].

    [0.825 + 0.387 Ra^(1/6) / (1 + (0.492/Pr)^(9/16))^(8/27)]^2; Churchill and Chu 1975, IJHMT 18:1323-1329.
    """
    return (0.825 + 0.387 * rayleigh ** (1.0 / 6.0) / (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)) ** 2


def air_at() -> Air:
    """Air at 395.65 K: k 0.03335 W/m/K, 2.5415e-5 m2/s, Pr 0.6894."""
    return Air(constant(0.03335), constant(2.5415e-5), constant(0.6894))


def still(films: Mapping[str, float] | None = None, jet: float = 0.0) -> Surroundings:
    """Air at 25 degC."""
    return Surroundings(air_temperature=298.15, jet_speed=jet, jet_reaches=("body",), films=films or {})


PLATE = {6: 20.2, 8: 18.2, 12: 15.7, 20: 13.3}
CYLINDER = {  # diameter in mm: at 1, 2, 5, 10, 15 m/s
    6: (43.1, 60.5, 95.7, 136.5, 168.6),
    8: (37.2, 52.3, 83.1, 118.9, 147.2),
    12: (30.2, 42.8, 68.2, 98.1, 122.0),
    20: (23.4, 33.2, 53.5, 77.5, 96.9),
}


@group("films", "Film coefficients outside")
def film_checks() -> list[Check]:
    """Anchor values of the correlations, and coefficients of small bodies at 220 degC in air of 25 degC with
    properties at the film temperature of 395.65 K (k 0.03335 W/m/K, 2.5415e-5 m2/s, Pr 0.6894). The table has three
    digits.
    """
    re, pr, gr = np.array(6071.0), np.array(0.70), 2.63e9
    bernstein = "Churchill & Bernstein 1977, J. Heat Transfer 99:300; Incropera ex. 7.3"
    chu = "Churchill & Chu 1975, IJHMT 18:1323; Incropera ex. 9.2"
    laminar = "Churchill & Chu 1975, laminar form (from memory), computed"
    plate_all = float(vertical_plate_all(np.array(gr * 0.69), np.array(0.69)))
    rows = [
        Check(
            "film-cross",
            "Nu of a cylinder in cross flow, Re 6071",
            bernstein,
            40.63709,
            float(cross_flow_cylinder(re, pr)),
            1e-5,
        ),
        Check("film-plate", "Nu of a vertical plate, Gr 2.63e9", chu, 147.16185, plate_all, 1e-4),
    ]
    hot = np.array([493.15])
    for size, expected in PLATE.items():
        face = ExposedFace("body", "body", "side", size * 1e-3, size * 1e-3, 1.0)
        found = float(film_coefficient(face, air_at(), still(), hot)[0])
        rows.append(
            Check(f"film-still-{size}", f"side face of {size} mm, still air", laminar, expected, found, 0.055, "W/m2/K")
        )
    for size, values in CYLINDER.items():
        for speed, expected in zip((1, 2, 5, 10, 15), values, strict=True):
            face = ExposedFace("body", "body", "side", size * 1e-3, size * 1e-3, 1.0)
            calm = float(film_coefficient(face, air_at(), still(), hot)[0])
            both = float(film_coefficient(face, air_at(), still(jet=speed), hot)[0])
            found = (both**3 - calm**3) ** (1.0 / 3.0)
            name = f"film-jet-{size}-{speed}"
            rows.append(
                Check(name, f"forced part, {size} mm at {speed} m/s", bernstein, expected, found, 0.055, "W/m2/K")
            )
    return rows
