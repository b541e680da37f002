"""Radiation by the solver's own loss curve."""

from __future__ import annotations

import numpy as np

from meltzone.fem.surroundings import LossCurve, loss_curve
from meltzone.geometry.faces import ExposedFace

from .bodies import at_z, body, everywhere
from .checks import Check, group
from .films import air_at, still
from .solving import assemble, at, constant, linear_loss, solved


@group("radiation", "Radiation")
def radiation_checks() -> list[Check]:
    """Through the solver's own loss curve, convection set to zero. The slab takes a flux on one face and radiates it
    from the other.
    """
    rows = []
    for emissivity, expected in {0.05: 0.745, 0.22: 3.278, 0.5: 7.450, 0.6: 8.940, 0.9: 13.411}.items():
        found = float(_radiating(emissivity)(493.15)) / 195.0
        source = "e sigma (T + T_o)(T^2 + T_o^2)"
        rows.append(
            Check(
                f"radiation-{emissivity:g}",
                f"coefficient at 220/25 degC, e = {emissivity:g}",
                source,
                expected,
                found,
                6e-4,
                "W/m2/K",
            )
        )
    return [*rows, _radiating_slab()]


def _radiating(emissivity: float) -> LossCurve:
    face = ExposedFace("plate", "plate", "side", 0.01, 0.01, 1.0)
    return loss_curve(face, air_at(), still({"plate": 0.0}), emissivity)


def _radiating_slab() -> Check:
    flux, thick, k, emissivity = 2000.0, 5e-3, 16.0, 0.6
    faces = {"cold": ("slab", at_z(0.0)), "hot": ("slab", at_z(thick))}
    section = body(np.linspace(0.0, 0.01, 3), np.linspace(0.0, thick, 3), everywhere("slab"), faces)
    losses = {"cold": _radiating(emissivity), "hot": linear_loss(0.0, 300.0, flux)}
    system = assemble(section, {"slab": constant(k)}, np.zeros(0, int), losses)
    temperature = solved(system, np.full(system.space.size, 500.0))
    found = at(system.space, temperature, 0.0, thick)
    expected = (298.15**4 + flux / (emissivity * 5.670374419e-8)) ** 0.25 + flux * thick / k
    source = "T_o^4 + q/(e sigma) at the face, q L/k across: closed form"
    return Check("radiation-slab", "heated face of a radiating slab, 2000 W/m2", source, expected, found, 1e-4, "K")
