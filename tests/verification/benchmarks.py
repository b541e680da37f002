"""Published finite-element benchmarks of conduction."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from meltzone.fem.space import Space
from meltzone.fem.surroundings import LossCurve

from .bodies import at_r, at_z, between, body, everywhere, growing
from .checks import Check, group
from .series import cylinder_with_flux_band
from .solving import ZERO_CELSIUS, assemble, at, constant, linear_loss, reactions, solved

RADII = (4.0, 8.0, 16.0, 32.0)  # of the rings from which a plane body is extrapolated [m]


@group("benchmarks", "Published finite-element benchmarks of conduction")
def benchmark_checks() -> list[Check]:
    """The plane case T4 is solved as a ring of 4, 8, 16 and 32 m radius and extrapolated to no curvature by the
    polynomial in 1/R through the four.
    """
    return [*_axisymmetric_benchmark(), *_plane_benchmark(), *_hollow_cylinder()]


def _axisymmetric_benchmark() -> list[Check]:
    r = between([0.02, 0.03, 0.04, 0.06, 0.08, 0.10], 4)
    half = np.concatenate([growing(2e-4, 1.5, 0.02, 4e-3), 0.04 - growing(2e-4, 1.5, 0.02, 4e-3)[::-1][1:]])
    z = np.concatenate([half[:-1], 0.04 + growing(2e-4, 1.5, 0.03, 4e-3)])
    z = np.concatenate([z, 0.14 - z[::-1][1:]])
    faces = {
        "hot": ("metal", lambda r, z: at_r(0.02)(r, z) & (z > 0.04) & (z < 0.10)),
        "outer": ("metal", at_r(0.10)),
        "bottom": ("metal", at_z(0.0)),
        "top": ("metal", at_z(0.14)),
    }
    section = body(r, z, everywhere("metal"), faces)
    space = Space(section)
    cold = np.unique(np.concatenate([space.facet_dofs(name) for name in ("outer", "bottom", "top")]))
    system = assemble(section, {"metal": constant(52.0)}, cold, {"hot": linear_loss(0.0, 300.0, 5e5)}, space=space)
    temperature = solved(system, np.full(space.size, 273.15))
    nafems = (
        "NAFEMS thermal tests, hollow cylinder with a flux band (332.97 K published; test number 15(i) from memory)"
    )
    exact = "sine and Bessel series of the same case"
    rows = [
        Check(
            "nafems-axisymmetric", "T at (0.04, 0.04) m", nafems, 332.97, at(space, temperature, 0.04, 0.04), 0.01, "K"
        ),
        Check(
            "nafems-axisymmetric-series",
            "T at (0.04, 0.04) m",
            exact,
            332.970514,
            at(space, temperature, 0.04, 0.04),
            2e-3,
            "K",
        ),
    ]
    for radius, rise in ((0.02, 205.07691), (0.04, 87.67514), (0.06, 39.94643)):
        found = at(space, temperature, radius, 0.07) - 273.15
        rows.append(
            Check(f"nafems-axisymmetric-{radius:g}", f"rise at ({radius:g}, 0.07) m", exact, rise, found, 2e-3, "K")
        )
    own = cylinder_with_flux_band(0.04, 0.04)
    rows.append(Check("nafems-series", "the series, summed once more for this page", exact, 59.820514, own, 1e-4, "K"))
    return rows


def _plane_benchmark() -> list[Check]:
    points = {(0.6, 0.2): 18.253757, (0.0, 0.2): 70.06066, (0.6, 0.5): 6.38712, (0.0, 0.5): 35.40115}
    rings = np.array([_plate_ring(radius, tuple(points)) for radius in RADII])
    weights = [np.prod([-1.0 / other / (1.0 / own - 1.0 / other) for other in RADII if other != own]) for own in RADII]
    plane = weights @ rings
    source = "NAFEMS T4 (Cameron, Casey & Simpson 1986; 18.3 degC and the point E from memory)"
    rows = [Check("nafems-t4", "T at E (0.6, 0.2) m", source, 18.3, float(plane[0]), 0.05, "degC")]
    for (point, value), found in zip(points.items(), plane, strict=True):
        name = f"nafems-t4-{point[0]:g}-{point[1]:g}"
        rows.append(Check(name, f"T at {point} m", "exact series of T4", value, float(found), 1e-3, "degC"))
    return rows


def _plate_ring(radius: float, points: tuple[tuple[float, float], ...]) -> list[float]:
    """Temperatures [degC] at `points` of the plate of T4 bent to a ring of inner `radius` [m]."""
    x = np.concatenate([between([0.0, 0.15, 0.3], 2)[:-1], 0.6 - growing(0.015, 1.4, 0.3, 0.075)[::-1]])
    z = np.concatenate([growing(2e-4, 1.5, 0.2, 0.04), between([0.2, 0.5, 1.0], 6)[1:]])
    right = radius + 0.6
    faces = {
        "lower": ("plate", at_z(0.0)),
        "upper": ("plate", at_z(1.0)),
        "right": ("plate", lambda r, z: r > right - 1e-7),
    }
    section = body(radius + x, z, everywhere("plate"), faces)
    space = Space(section)
    hot, cold = 100.0 + ZERO_CELSIUS, ZERO_CELSIUS
    held = space.facet_dofs("lower")
    losses = {"upper": linear_loss(750.0, cold), "right": linear_loss(750.0, cold)}
    system = assemble(section, {"plate": constant(52.0)}, held, losses, space=space)
    start = np.full(space.size, cold)
    start[held] = hot
    temperature = solved(system, start)
    return [at(space, temperature, radius + along, up) - ZERO_CELSIUS for along, up in points]


def _hollow_cylinder() -> list[Check]:
    source = "VPCS TPLA01 (AFNOR/SFM 1990), T = T_i + F ln(r/R_i) with F = -518.9727"
    inner, outer = 0.30, 0.35
    film = linear_loss(500.0, 17.03444 + ZERO_CELSIUS)
    r = between([inner, 0.32, outer], 4)
    rows = []
    for given in ("temperature", "flux"):
        losses = {"outer": film}
        if given == "flux":
            losses["inner"] = linear_loss(0.0, 300.0, 1729.9091)
        profile, heat = ring(r, constant(1.0), losses, 100.0 + ZERO_CELSIUS if given == "temperature" else None)
        t = {radius: value - ZERO_CELSIUS for radius, value in profile.items()}
        rows += [
            Check(f"vpcs-{given}-0.32", f"T at 0.32 m, inner {given} given", source, 66.50627, t[0.32], 2e-4, "degC"),
            Check(f"vpcs-{given}-0.35", f"T at 0.35 m, inner {given} given", source, 20.0, t[0.35], 2e-4, "degC"),
        ]
        if given == "temperature":
            flux = heat / (2.0 * np.pi * outer)
            rows.append(Check("vpcs-flux", "flux through the outer face", source, 1482.78, flux, 0.01, "W/m2"))
        else:
            rows.append(Check("vpcs-inner", "T at the inner face, flux given", source, 100.0, t[0.30], 2e-4, "degC"))
    return rows


def ring(
    r: np.ndarray, conductivity: object, losses: Mapping[str, LossCurve], inner_temperature: float | None
) -> tuple[dict[float, float], float]:
    """One metre of an infinite hollow cylinder: temperature at every radius of the grid [K], heat entering where held [W]."""
    faces = {"inner": ("metal", at_r(r[0])), "outer": ("metal", at_r(r[-1]))}
    section = body(r, np.array([0.0, 0.5, 1.0]), everywhere("metal"), faces)
    space = Space(section)
    held = np.zeros(0, int) if inner_temperature is None else space.facet_dofs("inner")
    system = assemble(section, {"metal": conductivity}, held, losses, space=space)  # type: ignore[dict-item]
    start = np.full(space.size, 300.0)
    start[held] = inner_temperature or 0.0
    temperature = solved(system, start)
    return {float(radius): at(space, temperature, radius, 0.5) for radius in r}, reactions(system, temperature, held)
