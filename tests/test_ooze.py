"""What leaves at rest against closed forms: the expansion of a tube, Hagen-Poiseuille through capillary, cone and bore."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.special import jn_zeros
from support import constant, problem_for, system_of

from meltzone.cases.studies.compare import compare
from meltzone.fem.field import Field
from meltzone.fem.ooze import FIRST, GRAVITY, ooze_of
from meltzone.fem.problem import Problem
from meltzone.materials.curves import Curve

COLD, HOT = 450.0, 490.0
LIGHT, HEAVY = 1000.0, 1100.0


@cache
def problem() -> Problem:
    """The short block with a polymer whose density falls by a tenth from `COLD` to `HOT`, and a plain conductivity."""
    made = problem_for("short")
    density = Curve(
        "density",
        "kg/m3",
        np.array([250.0, COLD, HOT, 600.0]),
        np.array([HEAVY, HEAVY, LIGHT, LIGHT]),
        "invented for a test",
    )
    polymer = replace(
        made.materials.polymer,
        density=density,
        conductivity=constant("conductivity", "W/m/K", 0.2),
        heat_capacity=constant("heat_capacity", "J/kg/K", 2000.0),
        flow_temperature=COLD - 20.0,
    )
    return replace(made, materials=replace(made.materials, polymer=polymer))


def field(inside: float, outside: float = HOT) -> Field:
    """Polymer at one temperature, all metal at another [K]."""
    system = system_of(problem())
    kelvin = np.full(system.space.size, outside)
    kelvin[system.space.dofs_of("polymer")] = inside
    return Field(system, 6e-9, 10.0, kelvin, 0)


def test_all_that_expands_is_the_passage_times_the_densities_ratio() -> None:
    found, a = ooze_of(field(COLD)), problem().arrangement
    above = math.pi / 4.0 * a.nozzle.bore**2 * (a.block_top - a.nozzle.cone_top)
    above += a.filament.area * (a.top - a.block_top)  # the solid filament, in its gas gap
    o, b, h = a.nozzle.orifice / 2.0, a.nozzle.bore / 2.0, a.nozzle.inner_cone_height
    below = math.pi * (o**2 * a.nozzle.land + h / 3.0 * (o * o + o * b + b * b))
    assert found.expansion == pytest.approx((above + below) * (HEAVY / LIGHT - 1.0), rel=5e-3)
    assert found.retraction == pytest.approx(below / (math.pi / 4.0 * a.filament.diameter**2), rel=1e-9)
    assert 0.0 < found.early < found.within_minute <= found.expansion


def test_what_comes_early_goes_as_the_slowest_term_of_a_bar() -> None:
    """The bore dwarfs cone and capillary: 1 - exp(-j^2 alpha t/R^2) of it, j the first zero of J0."""
    found, a = ooze_of(field(COLD)), problem().arrangement
    fourier = 0.2 / (LIGHT * 2000.0) * FIRST / (a.nozzle.bore / 2.0) ** 2
    share = 1.0 - math.exp(-(float(jn_zeros(0, 1)[0]) ** 2) * fourier)
    assert found.early / found.expansion == pytest.approx(share, rel=0.01)


def test_melt_as_warm_as_its_wall_gains_nothing() -> None:
    assert ooze_of(field(HOT)).expansion == 0.0


def test_the_weight_drives_the_flow_of_hagen_and_poiseuille() -> None:
    found, a = ooze_of(field(HOT)), problem().arrangement
    law = problem().materials.polymer.viscosity
    assert law is not None and found.weight_flow is not None
    o, b, h = a.nozzle.orifice / 2.0, a.nozzle.bore / 2.0, a.nozzle.inner_cone_height
    cone = h * (o * o + o * b + b * b) / (3.0 * o**3 * b**3)  # the integral of dz/R^4 along a cone
    along = a.nozzle.land / o**4 + cone + (a.top - a.nozzle.cone_top) / b**4
    pressure = LIGHT * GRAVITY * a.top
    closed = pressure * math.pi / (8.0 * float(law.zero_shear(HOT)) * along)
    assert found.weight_flow == pytest.approx(closed, rel=1e-3)
    stress = pressure * o / (2.0 * a.nozzle.land)  # at the land's wall, at most
    assert stress < 0.01 * law.tau_star  # so the viscosity at rest holds


def test_a_polymer_without_viscosity_has_no_flow_by_weight() -> None:
    made = field(COLD)
    polymer = replace(problem().materials.polymer, viscosity=None)
    bare = replace(problem(), materials=replace(problem().materials, polymer=polymer))
    found = ooze_of(replace(made, system=replace(made.system, problem=bare)))
    assert found.weight_flow is None and found.per_minute == found.within_minute > 0.0


def test_a_wider_orifice_needs_a_longer_retraction_and_drips_more() -> None:
    coarse = {"mesh.level": 0.25}
    fine = compare(["short-block"], flow="6 mm^3/s", overrides=coarse).variants[0].ooze
    wide = compare(["short-block"], "6 mm^3/s", coarse | {"nozzle.orifice": "0.8 mm"}).variants[0].ooze
    assert fine is not None and wide is not None and fine.weight_flow and wide.weight_flow
    assert wide.weight_flow > 4.0 * fine.weight_flow
    assert wide.expansion == pytest.approx(fine.expansion, rel=0.1)
