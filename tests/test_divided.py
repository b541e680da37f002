"""Divided lengths in the axisymmetric balance: conduction, contact, pressure, time against closed forms; impossible holes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from support import ARRANGEMENTS, problem_for, refused, system_of

from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.contact import BoreLaw, HoleWalls
from meltzone.fem.divided import DividedTerm, divided_cells, open_shares
from meltzone.fem.explain import explain
from meltzone.fem.field import Field
from meltzone.fem.newton import bordered
from meltzone.fem.passage import worth_of_order
from meltzone.fem.problem import Problem
from meltzone.fem.residence import residence_of
from meltzone.fem.slow_flow.channel_pressure import CONVERGENCE, channel_pressure
from meltzone.fem.slow_flow.feeding import feeding, hard_share
from meltzone.fem.slow_flow.stokes import melt_flow_of
from meltzone.fem.steady import AT_SETPOINT, conditions_of, solve_at_flow
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.channels import Channels
from meltzone.materials.polymer import CrossWLF

FLOW = 8e-9
THREE = ARRANGEMENTS["three channels"]


@dataclass(frozen=True)
class Factor:
    """A passage whose factor is given."""

    value: float

    def factor(self, flow: float) -> tuple[float, float]:
        return self.value, 0.0


@cache
def divided(level: float = 0.0) -> Field:
    return solve_at_flow(system_of(problem_for(THREE, level=level)), FLOW)


def with_viscosity(law: CrossWLF, arrangement: Arrangement = THREE) -> Field:
    """The hot end with a polymer whose viscosity does not feel the temperature."""
    problem = problem_for(arrangement, level=1.0)
    polymer = replace(problem.materials.polymer, viscosity=law, plateau_modulus=1e13)
    return solve_at_flow(system_of(replace(problem, materials=replace(problem.materials, polymer=polymer))), FLOW)


def constant(n: float, viscosity: float, tau_star: float = 1e5) -> CrossWLF:
    return CrossWLF(n=n, tau_star=tau_star, D1=viscosity, D2=150.0, A1=1e-12, A2=51.6)


def test_a_factor_all_along_is_a_polymer_that_conducts_so_much_better() -> None:
    """The radial factor against the conductivity itself: at a Peclet number of 80 the axial part hardly counts."""
    plain = problem_for("short", level=1.0)
    polymer = plain.materials.polymer
    better = replace(plain.materials, polymer=replace(polymer, conductivity=polymer.conductivity.scaled(2.0)))
    conducting = replace(plain, materials=better)
    system = system_of(conducting)
    everywhere = DividedTerm(system_of(plain).polymer_cells, Factor(2.0))  # type: ignore[arg-type]
    # the contact of the better conductor, whose skin softens later, so that only the conduction differs
    spread = replace(system_of(plain), divided=everywhere, contacts=system.contacts)
    start = solve_at_flow(system_of(conducting), FLOW).state
    found = Field.of(bordered(spread, start, ("power",), conditions_of(spread, (AT_SETPOINT,))))
    wanted = Field.of(start)
    assert found.mean == pytest.approx(wanted.mean, abs=0.3)
    assert found.core == pytest.approx(wanted.core, abs=0.6)
    assert solve_at_flow(system_of(plain), FLOW).core < wanted.core - 15.0  # what the factor is worth


def test_holes_see_the_wall_through_their_webs() -> None:
    """Resistances in series, 1/h = 1/(A h_w) + R, and the slope of it by differences."""
    holes = HoleWalls(lower=1e-3, upper=3e-3, area_ratio=1.2, web_resistance=4e-6)
    law = BoreLaw(gas=300.0, melt=12000.0, top=9e-3, softening_length=2e5, holes=holes)
    z = np.array([0.5e-3, 2e-3, 2.9e-3, 3.5e-3])
    plain, _ = replace(law, holes=None)(z, FLOW)
    found, by_flow = law(z, FLOW)
    inside = np.array([False, True, True, False])
    assert found[~inside] == pytest.approx(plain[~inside], rel=1e-14)
    assert 1.0 / found[inside] == pytest.approx(1.0 / (1.2 * plain[inside]) + 4e-6, rel=1e-12)
    step = 1e-6 * FLOW
    difference = (law(z, FLOW + step)[0] - law(z, FLOW - step)[0]) / (2.0 * step)
    assert by_flow == pytest.approx(difference, rel=1e-5)


@pytest.mark.parametrize("rating", [40.0, 14.0])
def test_balance_and_budget_close(rating: float) -> None:
    found = find_ceilings(problem_for(THREE, rating=rating))
    assert found.field is not None and found.field.balance.relative_imbalance < 1e-9
    budget = explain(found).budget
    assert sum(budget.values()) == pytest.approx(1.0, abs=1e-8)
    assert abs(budget["webs between the channels"]) < 0.01


def test_dividing_is_worth_so_many_times_the_length_and_some_more() -> None:
    """Plug flow in N round holes decays like N times the length, and the cold core comes to lie at a wall on top of that."""
    longer = ARRANGEMENTS["short"]
    extra = 2.0 * 6e-3
    block, nozzle = longer.block, longer.nozzle
    longer = replace(
        longer, block=replace(block, height=block.height + extra), nozzle=replace(nozzle, length=nozzle.length + extra)
    )
    ceilings = [find_ceilings(problem_for(kind, level=1.0)).flow for kind in ("short", THREE, longer)]
    assert ceilings[2] < ceilings[1] < 1.4 * ceilings[2]
    assert ceilings[1] > 1.5 * ceilings[0]


def test_newtonian_pressure_along_and_into_the_channels() -> None:
    # Poiseuille, for each of N holes: dp = 8 eta (Q/N) L / (pi a^4). Entry: 3 eta0 2 q tan(b)/(pi r^3) over d(ln r^2) from
    # the hole's radius a to R/sqrt(N), dp = 4 eta0 q tan(b)/pi (1/a^3 - N^1.5/R^3).
    field, eta = with_viscosity(constant(1.0 - 1e-9, 2000.0)), 1000.0
    channels = THREE.channels
    assert channels is not None
    each, a, bore = FLOW / channels.number, channels.hole_radius, THREE.nozzle.bore / 2.0
    found = feeding(field)
    assert found.channels == pytest.approx(8.0 * eta * each * channels.length / (math.pi * a**4), rel=1e-5)
    entry = 4.0 * 2.0 * eta * each * math.tan(CONVERGENCE) / math.pi * (1.0 / a**3 - channels.number**1.5 / bore**3)
    assert found.dividing == pytest.approx(entry, rel=1e-3)


def test_power_law_pressure_along_the_channels() -> None:
    # Pipe: dp = 2 K L / a ((3n+1)/(n pi) q / a^3)^n, any fluid text on power-law flow
    n, tau_star, rest = 0.4, 1e-3, 1e9  # far beyond the knee
    field = with_viscosity(CrossWLF(n=n, tau_star=tau_star, D1=rest, D2=150.0, A1=1e-12, A2=51.6))
    channels = THREE.channels
    assert channels is not None
    consistency = rest**n * tau_star ** (1.0 - n)
    shear = (3.0 * n + 1.0) / (n * math.pi) * FLOW / channels.number / channels.hole_radius**3
    wanted = 2.0 * consistency * channels.length / channels.hole_radius * shear**n
    assert feeding(field).channels == pytest.approx(wanted, rel=1e-3)


def test_the_solved_flow_counts_the_channels_once() -> None:
    """Isothermal: channels by Poiseuille, cone and capillary as without them, the bore shorter by the divided length."""
    law, plain = constant(1.0 - 1e-9, 2000.0), ARRANGEMENTS["short"]
    with_channels, without = (melt_flow_of(with_viscosity(law, kind)) for kind in (THREE, plain))
    channels = THREE.channels
    assert channels is not None
    assert with_channels.channels == pytest.approx(with_channels.divided.shear + with_channels.divided.entry, rel=1e-12)
    assert with_channels.land == pytest.approx(without.land, rel=2e-3)
    assert with_channels.cone == pytest.approx(without.cone, rel=2e-3)
    per_length = 8.0 * 1000.0 * FLOW / (math.pi * (plain.nozzle.bore / 2.0) ** 4)
    assert without.bore - with_channels.bore == pytest.approx(per_length * channels.length, rel=0.1)


def test_pressure_without_channels_is_none() -> None:
    short, one = ARRANGEMENTS["short"], np.ones((1, 3))
    found = channel_pressure(short, one * 1e-3, np.array([7e-3]), 480.0 * one, FLOW, constant(0.5, 1e3), 5e5)
    assert (found.shear, found.entry) == (0.0, 0.0)


def test_residence_and_volume_leave_the_webs_out() -> None:
    """Everything hot: the volume is the bore's less the webs; what is hot over the flow is the time in it."""
    field = divided()
    space, channels = field.system.space, THREE.channels
    assert channels is not None
    hot = replace(field, temperature=np.full(space.size, 520.0))
    webs = math.pi * channels.length * ((THREE.nozzle.bore / 2.0) ** 2 - channels.number * channels.hole_radius**2)
    other = system_of(problem_for("short"))
    without = residence_of(Field(other, FLOW, 10.0, np.full(other.space.size, 520.0), 0))
    assert residence_of(hot).hot == pytest.approx(without.hot - webs, rel=1e-9)
    mass_flow = field.system.density * FLOW
    density = float(field.problem.materials.polymer.density(520.0))
    assert without.zone_time - residence_of(hot).zone_time == pytest.approx(webs * density / mass_flow, rel=1e-6)


def test_divided_cells_fill_the_length_exactly() -> None:
    space, channels = divided().system.space, THREE.channels
    assert channels is not None
    volume = float(space.cells.volume[divided_cells(space)].sum())
    assert volume == pytest.approx(math.pi * (THREE.nozzle.bore / 2.0) ** 2 * channels.length, rel=1e-12)
    assert set(np.round(open_shares(space, THREE), 12)) == {0.48, 1.0}


def test_the_hard_share_is_that_below_softening() -> None:
    """A made-up field whose temperature rises with r^2: the share inside a radius is (r/R)^2 in a plug."""
    field = divided(1.0)
    r, bore = field.system.space.points[0], THREE.nozzle.bore / 2.0
    soft = field.problem.materials.polymer.softening_temperature
    made = replace(field, temperature=soft + 40.0 * ((r / bore) ** 2 - 0.37))
    assert hard_share(made) == pytest.approx(0.37, abs=2e-3)
    assert hard_share(replace(field, temperature=np.full(r.size, soft + 1.0))) == 0.0
    assert hard_share(solve_at_flow(system_of(problem_for("short")), FLOW)) == 0.0


def test_profiles_shaped_by_viscosity_work_in_channels() -> None:
    """The shear heat of a divided length is its pressure times the flow, as in any passage."""
    problem = problem_for(THREE, profile="shaped")
    field = find_ceilings(problem).field
    assert field is not None and field.balance.relative_imbalance < 1e-9
    plain = find_ceilings(problem_for("short", profile="shaped")).field
    assert plain is not None and field.flow > 1.4 * plain.flow
    assert field.balance.viscous > plain.balance.viscous


@pytest.mark.parametrize(
    ("channels", "key"),
    [
        ({"number": 1}, "channels.number"),
        ({"number": 13}, "channels.number"),
        ({"number": 6, "hole_diameter": 0.9e-3}, "channels.hole_diameter"),
        ({"hole_diameter": math.nan}, "channels.hole_diameter"),
        ({"length": 8e-3}, "channels.length"),
        ({"position": 9e-3}, "channels.length"),
        ({"ring_diameter": 4.2e-3}, "channels.ring_diameter"),
        ({"ring_diameter": 0.5e-3}, "channels.hole_diameter"),
        ({"hole_diameter": 5e-6}, "channels.hole_diameter"),
    ],
)
def test_impossible_holes(channels: dict, key: str) -> None:
    refused(key, "", lambda: Arrangement(channels=Channels(**channels)))


def test_order_of_layers_is_worth_what_the_page_of_divided_bores_says() -> None:
    """Three holes of 1 mm, 6 mm each before and along them, 2 mm behind: 13 % in docs/division.md, 4 % with 0.5 mm behind."""
    problem = problem_for(THREE)
    worth = worth_of_order(problem, find_ceilings(problem).flow)
    assert 0.04 < worth < 0.21  # the range of the page
    short = Arrangement(channels=Channels(length=6e-3, position=4.4e-3))
    less = problem_for(short)
    assert worth_of_order(less, find_ceilings(less).flow) < worth  # a shorter bore behind the holes


def problem_with(channels: Channels) -> Problem:
    return problem_for(Arrangement(channels=channels))


def test_more_and_longer_channels_melt_more() -> None:
    flows = [
        find_ceilings(problem_with(Channels(number, 0.6e-3, length, 3e-3))).flow
        for number, length in ((2, 3e-3), (3, 3e-3), (3, 6e-3), (4, 6e-3))
    ]
    assert flows == sorted(flows)
