"""Composite walls: contact conductance, insulation, a chip on its substrate."""

from __future__ import annotations

import numpy as np

from meltzone.fem.contact import JointLaw
from meltzone.fem.space import Space

from .bodies import at_r, at_z, body
from .checks import Check, group
from .solving import ZERO_CELSIUS, assemble, at, constant, linear_loss, reactions, solved


@group("composite", "Composite walls, contact conductance and insulation")
def composite_checks() -> list[Check]:
    """Contacts are jumps on doubled nodes; the chip is a stack of discs, heated at the upper face."""
    return [*_contact_cylinder(), *_insulated_pipe(), *_chip(), *_contact_limits()]


def _two_shells(conductance: float, z: np.ndarray | None = None) -> tuple[Space, np.ndarray, float]:
    r = np.concatenate([np.linspace(1e-3, 3e-3, 9), np.linspace(3e-3, 5e-3, 7)[1:]])
    z = np.linspace(0.0, 1e-3, 3) if z is None else z
    parts = lambda r, z: np.where(r < 3e-3, "inner", "outer")  # noqa: E731
    faces = {"bore": ("inner", at_r(1e-3)), "side": ("outer", at_r(5e-3))}
    section = body(r, z, parts, faces, (("inner", "outer", at_r(3e-3)),))
    space = Space(section)
    held = space.facet_dofs("bore")
    conductors = {"inner": constant(123.0), "outer": constant(160.0)}
    system = assemble(
        section, conductors, held, {"side": linear_loss(50.0, 298.15)}, (JointLaw(conductance),), space=space
    )
    start = np.full(space.size, 298.15)
    start[held] = 473.15
    temperature = solved(system, start)
    return space, temperature, reactions(system, temperature, held) / 1e-3


def _contact_cylinder() -> list[Check]:
    space, t, heat = _two_shells(5000.0)
    source = "series resistances ln(r2/r1)/(2 pi k), 1/(2 pi r h): closed form"
    inner, outer = at(space, t, 3e-3, 0.0, "inner"), at(space, t, 3e-3, 0.0, "outer")
    surface = at(space, t, 5e-3, 0.0, "outer")
    return [
        Check(
            "contact-heat",
            "heat per length, brass in aluminium, 5000 W/m2/K",
            source,
            269.57924,
            heat,
            1e-6,
            "W/m",
            "relative",
        ),
        Check("contact-inside", "T at 3 mm, inside", source, 199.616782, inner - ZERO_CELSIUS, 1e-5, "degC"),
        Check("contact-outside", "T at 3 mm, outside", source, 196.756457, outer - ZERO_CELSIUS, 1e-5, "degC"),
        Check("contact-surface", "T at 5 mm", source, 196.619477, surface - ZERO_CELSIUS, 1e-5, "degC"),
    ]


def _contact_limits() -> list[Check]:
    resistance = np.log(3.0) / 123.0 + np.log(5.0 / 3.0) / 160.0 + 1.0 / (5e-3 * 50.0)
    bonded = 2.0 * np.pi * 175.0 / resistance
    source = "limits of the series resistances"
    return [
        Check(
            "contact-perfect", "conductance 1e9 W/m2/K", source, bonded, _two_shells(1e9)[2], 1e-5, "W/m", "relative"
        ),
        Check("contact-none", "conductance 1e-6 W/m2/K", source, 0.0, _two_shells(1e-6)[2], 1e-5, "W/m"),
    ]


def _insulated_pipe() -> list[Check]:
    r = np.array([25e-3, 26.25e-3, 27.5e-3, *np.linspace(27.5e-3, 57.5e-3, 13)[1:]])
    parts = lambda r, z: np.where(r < 27.5e-3, "pipe", "insulation")  # noqa: E731
    faces = {"inner": ("pipe", at_r(25e-3)), "outer": ("insulation", at_r(57.5e-3))}
    section = body(r, np.array([0.0, 0.5, 1.0]), parts, faces, (("pipe", "insulation", at_r(27.5e-3)),))
    space = Space(section)
    losses = {"inner": linear_loss(60.0, 593.15), "outer": linear_loss(18.0, 278.15)}
    conductors = {"pipe": constant(80.0), "insulation": constant(0.05)}
    system = assemble(section, conductors, np.zeros(0, int), losses, (JointLaw(1e8),), space=space)
    t = solved(system, np.full(space.size, 400.0))
    surface = at(space, t, 57.5e-3, 0.0, "insulation")
    heat = 18.0 * 2.0 * np.pi * 57.5e-3 * (surface - 278.15)
    through = at(space, t, 27.5e-3, 0.0, "insulation") - surface
    source = "Cengel, Heat and Mass Transfer, ex. 3-8 (inputs from memory), resistances summed exactly"
    return [
        Check("pipe-heat", "heat per length of the insulated steam pipe", source, 120.79, heat, 0.01, "W/m"),
        Check("pipe-insulation", "temperature drop of the insulation", source, 283.59, through, 0.01, "K"),
    ]


def _chip() -> list[Check]:
    z = np.concatenate([np.linspace(0.0, 8e-3, 5), [8.1e-3]])
    parts = lambda r, z: np.where(z < 8e-3, "substrate", "chip")  # noqa: E731
    faces = {"bottom": ("substrate", at_z(0.0)), "top": ("chip", at_z(8.1e-3))}
    section = body(np.linspace(0.0, 10e-3, 3), z, parts, faces, (("chip", "substrate", at_z(8e-3)),))
    losses = {"bottom": linear_loss(100.0, 298.15), "top": linear_loss(100.0, 298.15, 1e4)}
    conductors = {"chip": constant(1e6), "substrate": constant(239.0)}
    system = assemble(section, conductors, np.zeros(0, int), losses, (JointLaw(1.0 / 0.9e-4),))
    temperature = solved(system, np.full(system.space.size, 300.0))
    chip = at(system.space, temperature, 0.0, 8.1e-3) - ZERO_CELSIUS
    source = "Incropera, ex. 3.4/3.5 (inputs from memory): closed form 75.31, printed 75.3"
    return [Check("chip", "chip on an aluminium substrate, contact 0.9e-4 m2K/W", source, 75.31, chip, 0.01, "degC")]
