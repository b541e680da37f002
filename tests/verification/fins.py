"""Fins: needles, a nozzle-like pin, an annular fin, a long rod."""

from __future__ import annotations

import numpy as np

from meltzone.fem.space import Space

from .bodies import at_r, at_z, body, everywhere, growing
from .checks import Check, group
from .solving import ZERO_CELSIUS, assemble, constant, linear_loss, reactions, solved


@group("fins", "Fins: needles, a nozzle-like pin, an annular fin, a long rod")
def fin_checks() -> list[Check]:
    """Meshed as bodies of revolution. One-dimensional fin theory neglects the temperature drop across the fin, of
    order h t/(2 k): the tolerance is that share. The rectangular fin of the handbook becomes a needle of 0.2 mm
    radius with the same m, length and tip film, which theory cannot tell from it; its heat is scaled by the area.
    """
    return [*_needle(), *_pins(), *_annular(), *_rods()]


def pin(
    radius: float, z: np.ndarray, k: float, side: float, tip: float, outside: float, base: float
) -> tuple[float, float]:
    """Mean tip temperature [K] and heat through the base [W] of a pin; the base is at the last z."""
    losses = {"side": linear_loss(side, outside)} | ({"tip": linear_loss(tip, outside)} if tip else {})
    top = float(z[-1])
    faces = {"side": ("pin", at_r(radius)), "tip": ("pin", at_z(0.0)), "base": ("pin", at_z(top))}
    section = body(np.linspace(0.0, radius, 4), z, everywhere("pin"), faces)
    space = Space(section)
    held = space.facet_dofs("base")
    system = assemble(section, {"pin": constant(k)}, held, losses, space=space)
    start = np.full(space.size, outside)
    start[held] = base
    temperature = solved(system, start)
    end = space.facets(section.mesh.boundaries["tip"])
    mean = float(np.sum(end.traces(temperature) * end.area) / end.area.sum())
    return mean, reactions(system, temperature, held)


def _needle() -> list[Check]:
    k, radius, m = 20.0, 0.2e-3, 47.8714
    area = np.pi * radius**2
    z = np.linspace(0.0, 0.05, 41)
    rows = []
    published = "Incropera, prob. 3.116 (1037 degC and -508 W published), fin theory"
    for name, tip, t_tip, heat in (("adiabatic", 0.0, 1037.013, -508.462), ("convective", 250.0, 1070.3155, -511.9848)):
        found, watts = pin(radius, z, k, m**2 * k * radius / 2.0, tip, 1200.0 + ZERO_CELSIUS, 300.0 + ZERO_CELSIUS)
        rows.append(
            Check(
                f"fin-{name}-tip", f"tip temperature, {name} tip", published, t_tip, found - ZERO_CELSIUS, 0.05, "degC"
            )
        )
        scaled = watts * 6e-4 / area
        rows.append(
            Check(f"fin-{name}-heat", f"heat of the base, {name} tip", published, heat, scaled, 2e-4, "W", "relative")
        )
    return rows


def _pins() -> list[Check]:
    rows = []
    for film, tip, heat in ((25.0, 219.52538, 0.305792), (100.0, 218.11324, 1.217052), (300.0, 214.43158, 3.603297)):
        found, watts = pin(2e-3, np.linspace(0.0, 4e-3, 9), 123.0, film, film, 298.15, 493.15)
        biot = film * 2e-3 / 123.0
        rows += [
            Check(
                f"pin-{film:g}-drop",
                f"drop from base to mean of the tip, nozzle-like pin, {film:g} W/m2/K",
                "fin theory, convective tip",
                220.0 - tip,
                493.15 - found,
                0.02,
                "K",
                "relative",
            ),
            Check(
                f"pin-{film:g}-heat",
                f"heat of its base, {film:g} W/m2/K",
                "fin theory",
                heat,
                watts,
                biot,
                "W",
                "relative",
            ),
        ]
    return rows


def _annular() -> list[Check]:
    inner, outer, thick, film, k = 25e-3, 45e-3, 6e-3, 50.0, 186.0
    faces = {
        "base": ("fin", at_r(inner)),
        "tip": ("fin", at_r(outer)),
        "lower": ("fin", at_z(0.0)),
        "upper": ("fin", at_z(thick)),
    }
    section = body(np.linspace(inner, outer, 13), np.linspace(0.0, thick, 4), everywhere("fin"), faces)
    space = Space(section)
    held = space.facet_dofs("base")
    start = np.full(space.size, 300.0)
    start[held] = 500.0
    shares = {}
    for tip in (True, False):
        names = ["lower", "upper"] + ["tip"] * tip
        area = 2.0 * np.pi * (outer**2 - inner**2) + tip * 2.0 * np.pi * outer * thick
        system = assemble(
            section, {"fin": constant(k)}, held, {n: linear_loss(film, 300.0) for n in names}, space=space
        )
        shares[tip] = reactions(system, solved(system, start), held) / (film * area * 200.0)
    biot = film * thick / 2.0 / k
    source = "annular fin by Bessel functions; inputs of Incropera ex. 3.9/3.10 (from memory)"
    return [
        Check(
            "annular", "efficiency, tip by corrected radius", source, 0.97855, shares[True], biot, measure="relative"
        ),
        Check(
            "annular-insulated", "efficiency, insulated tip", source, 0.98420, shares[False], biot, measure="relative"
        ),
    ]


def _rods() -> list[Check]:
    rows = []
    for k, heat in ((398.0, 8.310), (180.0, 5.588), (14.0, 1.558)):
        m = np.sqrt(4.0 * 100.0 / (k * 5e-3))
        z = (12.0 / m) - growing(0.4e-3, 1.15, 12.0 / m)[::-1]
        watts = pin(2.5e-3, z, k, 100.0, 0.0, 298.15, 373.15)[1]
        biot = 100.0 * 2.5e-3 / k
        source = "infinite rod, sqrt(h P k A) theta; inputs of Incropera ex. 3.9 (from memory)"
        rows.append(
            Check(f"rod-{k:g}", f"heat of a long rod, k = {k:g} W/m/K", source, heat, watts, biot, "W", "relative")
        )
    return rows
