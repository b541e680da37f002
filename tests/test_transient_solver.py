"""Steps in time against closed forms: lumped body, cylinder with surface exchange, a driven bar; order, error, heat."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros
from support import materials_for, system_of, usual_problem
from verification.bodies import at_r, at_z, body, everywhere
from verification.solving import assemble, at, constant, linear_loss, melting_polymer

from meltzone.fem.contact import BoreLaw
from meltzone.fem.in_time.course import Phase
from meltzone.fem.in_time.history import Heats
from meltzone.fem.in_time.journey import AgedBoreLaw, Journey
from meltzone.fem.in_time.storage import HeatStore, solid_store, stored_heat, stored_slope, stores_of
from meltzone.fem.in_time.timestep import Drive, Instant, Kept, TimeStep, stepped
from meltzone.fem.in_time.transient import Pace, march, start_of
from meltzone.fem.system import Measure, System

NOTHING_HELD = np.zeros(0, int)
UNUSED = Measure(np.zeros(0, int), np.zeros(0))
OUTSIDE, HOT = 300.0, 400.0


def fixed(power: float) -> Drive:
    """A heater at one power."""
    return Drive(UNUSED, 0.0, power, power)


def store_of(system: System, density: float, heat_capacity: float) -> tuple[HeatStore, ...]:
    """One store with constant properties, all of the body."""
    curve = constant(heat_capacity)
    return (HeatStore(np.arange(len(system.space.cells.dofs)), density, curve.integral, curve),)


def cylinder(conductivity: float, film: float, cells: int = 12, radius: float = 5e-3, name: str = "side") -> System:
    """A slice of an endless cylinder that loses heat through its side, the face called `name`."""
    section = body(
        np.linspace(0.0, radius, cells + 1), np.array([0.0, 1e-3]), everywhere("block"), {name: ("block", at_r(radius))}
    )
    losses = {name: linear_loss(film, OUTSIDE)}
    return assemble(section, {"block": constant(conductivity)}, NOTHING_HELD, losses)


def marched(
    phase: Phase, stores: tuple[HeatStore, ...], start: float, power: float = 0.0, tolerance: float = 1e-3
) -> list[TimeStep]:
    """All steps of one phase from an even temperature [K]."""
    even = np.full(phase.system.space.size, start)
    begin = start_of(phase.system, stores, even, phase.start, power)
    return [step for _, step in march((phase,), stores, begin, fixed(power), Pace(tolerance))]


def test_a_body_that_conducts_well_cools_as_a_lump() -> None:
    """T - T_out = (T_0 - T_out) exp(-h A t / (rho c V)): any textbook, lumped capacitance; Bi = 2.5e-4 here."""
    density, heat_capacity, film, radius = 2700.0, 900.0, 50.0, 5e-3
    system = cylinder(1000.0, film)
    rate = film * 2.0 / radius / (density * heat_capacity)
    steps = marched(Phase(0.0, 2.0 / rate, 0.0, system), store_of(system, density, heat_capacity), HOT)
    for step in steps[3:]:
        lump = OUTSIDE + (HOT - OUTSIDE) * math.exp(-rate * step.end.time)
        assert step.end.temperature == pytest.approx(np.full(system.space.size, lump), abs=0.05)


def test_a_heated_lump_comes_to_power_over_film_and_area() -> None:
    """T - T_out = P / (h A) (1 - exp(-h A t / (rho c V))), lumped capacitance with a source."""
    density, heat_capacity, film, radius, power = 2700.0, 900.0, 50.0, 5e-3, 0.05
    system = cylinder(1000.0, film)
    volume = system.space.cells.volume
    load = np.zeros(system.space.size)
    np.add.at(load, system.space.cells.dofs, volume @ system.space.cells.values.T / volume.sum())
    system = replace(system, source=load)
    area = 2.0 * math.pi * radius * 1e-3
    rate = film * 2.0 / radius / (density * heat_capacity)
    stores = store_of(system, density, heat_capacity)
    steps = marched(Phase(0.0, 1.0 / rate, 0.0, system), stores, OUTSIDE, power)
    rise = power / (film * area) * (1.0 - math.exp(-1.0))
    assert steps[-1].end.temperature.mean() - OUTSIDE == pytest.approx(rise, rel=1e-3)


@pytest.mark.parametrize(("biot", "fourier"), [(0.5, 0.5), (1.0, 0.2), (5.0, 0.2), (10.0, 0.1), (100.0, 0.1)])
def test_cylinder_with_surface_exchange(biot: float, fourier: float) -> None:
    """Centre: sum of 2 J1(b) / (b (J0^2 + J1^2)) exp(-b^2 Fo) with b J1(b) = Bi J0(b).

    Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., cylinder with radiation at the surface; the charts of Heisler.
    """
    radius, conductivity, density, heat_capacity = 5e-3, 0.2, 1000.0, 2000.0
    system = cylinder(conductivity, biot * conductivity / radius, 16, radius)
    end = fourier * radius**2 * density * heat_capacity / conductivity
    steps = marched(Phase(0.0, end, 0.0, system), store_of(system, density, heat_capacity), HOT, tolerance=3e-3)
    theta = (at(system.space, steps[-1].end.temperature, 0.0, 0.0) - OUTSIDE) / (HOT - OUTSIDE)
    assert theta == pytest.approx(_centre(biot, fourier), abs=5e-4)


def _centre(biot: float, fourier: float) -> float:
    ends = [(low + 1e-9, high) for low, high in zip([0.0, *jn_zeros(1, 29)], jn_zeros(0, 30), strict=True)]
    roots = np.array([brentq(lambda b: b * j1(b) - biot * j0(b), low, high) for low, high in ends])
    weights = 2.0 * j1(roots) / (roots * (j0(roots) ** 2 + j1(roots) ** 2))
    return float(weights @ np.exp(-(roots**2) * fourier))


def test_the_series_is_that_of_the_tables() -> None:
    """First root and weight at Bi = 1: 1.2558 and 1.2071 (one-term tables of Incropera, from memory)."""
    assert _centre(1.0, 1.0) == pytest.approx(1.2071 * math.exp(-(1.2558**2)), rel=1e-3)


@dataclass(frozen=True, eq=False)
class Driven(Phase):
    """A bar whose far end follows 100 sin(pi t / 40)."""

    def at(self, time: float, temperature: np.ndarray) -> System:
        """The end is held by a film far better than the bar."""
        (face,) = self.system.faces
        held = linear_loss(1e8, 100.0 * math.sin(math.pi * time / 40.0))
        return replace(self.system, faces=(replace(face, loss=held),))


def test_a_bar_with_one_end_in_slow_oscillation() -> None:
    """36.60 degC at x = 0.08 m after 32 s: the one-dimensional transient of NAFEMS' benchmarks, T3 (1990, from memory).

    Bar of 0.1 m, k = 35, rho = 7200, cp = 440.5; T(0) = 0, T(L) = 100 sin(pi t / 40), T = 0 at the start.
    """
    section = body(np.array([0.0, 0.01]), np.linspace(0.0, 0.1, 21), everywhere("block"),
                   {"near": ("block", at_z(0.0)), "far": ("block", at_z(0.1))})  # fmt: skip
    space = assemble(section, {"block": constant(35.0)}, NOTHING_HELD).space
    held = space.facet_dofs("near")
    system = assemble(
        section, {"block": constant(35.0)}, held, {"far": linear_loss(1e8, 0.0)}, space=space, inlet_temperature=0.0
    )
    steps = marched(Driven(0.0, 32.0, 0.0, system), store_of(system, 7200.0, 440.5), 0.0, tolerance=2e-3)
    assert at(space, steps[-1].end.temperature, 0.0, 0.08) == pytest.approx(36.60, abs=0.05)


def even_steps(
    system: System, stores: tuple[HeatStore, ...], start: Instant, end: float, count: int, power: float
) -> Instant:
    """The state after `count` equal steps."""
    point, kept = start, Kept(close=1e-9)
    for _ in range(count):
        point = stepped((system, system), 0.0, stores, point, (end - start.time) / count, fixed(power), kept).end
    return point


def test_second_order_in_time_with_melting() -> None:
    """Halving the step quarters the error: the order of the method by its order conditions (Alexander 1977)."""
    system = cylinder(0.2, 400.0, 8, 1e-3)
    polymer = melting_polymer(constant(0.2), constant(1800.0), constant(1200.0), 4e4, peak=350.0, width=60.0)
    stores = (HeatStore(np.arange(8), 1200.0, polymer.enthalpy, polymer.enthalpy_slope),)
    r = system.space.points[0]
    smooth = 390.0 - 20.0 * (r / 1e-3) ** 2
    start = start_of(system, stores, smooth, 0.0, 0.0)
    begin = even_steps(system, stores, start, 1.0, 200, 0.0)  # past the misfit between field and film at the start
    exact = even_steps(system, stores, begin, 7.0, 1024, 0.0).temperature
    errors = [np.abs(even_steps(system, stores, begin, 7.0, n, 0.0).temperature - exact).max() for n in (16, 32, 64)]
    orders = [math.log2(a / b) for a, b in pairwise(errors)]
    assert min(orders) > 1.8 and max(orders) < 2.3, orders


def test_the_estimated_error_is_the_error_of_a_step() -> None:
    """A linear balance: the companion has order 3, so their difference is the step's own error to leading order."""
    system = cylinder(0.2, 60.0, 8, 1e-3)
    stores = store_of(system, 1000.0, 2000.0)
    start = start_of(system, stores, 390.0 - 20.0 * (system.space.points[0] / 1e-3) ** 2, 0.0, 0.0)
    begin = even_steps(system, stores, start, 1.0, 100, 0.0)
    step = stepped((system, system), 0.0, stores, begin, 0.25, fixed(0.0), Kept(close=1e-9))
    exact = even_steps(system, stores, begin, begin.time + 0.25, 64, 0.0).temperature
    assert step.error == pytest.approx(exact - step.end.temperature, rel=0.2)


def test_heat_of_every_step_closes() -> None:
    """What leaves the face is what the cylinder holds less, with melting and whatever the step."""
    system = cylinder(0.2, 400.0, 8, 1e-3, "cold end")
    polymer = melting_polymer(constant(0.2), constant(1800.0), constant(1200.0), 4e4, peak=350.0, width=60.0)
    stores = (HeatStore(np.arange(8), 1200.0, polymer.enthalpy, polymer.enthalpy_slope),)
    heats = Heats()
    for step in marched(Phase(0.0, 80.0, 0.0, system), stores, HOT, tolerance=0.5):
        heats = heats.plus(step)
    fall = 1200.0 * (polymer.enthalpy(OUTSIDE) - polymer.enthalpy(HOT)) * math.pi * 1e-3**2 * 1e-3
    assert heats.stored == pytest.approx(fall, rel=1e-3)
    assert abs(heats.imbalance) < 1e-6 * abs(heats.stored)


def test_slope_of_the_stored_heat_is_its_derivative() -> None:
    problem = usual_problem("short", level=-2.0)
    space, stores = system_of(problem).space, stores_of(system_of(problem))
    rng = np.random.default_rng(3)
    temperature, change = rng.uniform(300.0, 500.0, space.size), rng.uniform(-1.0, 1.0, space.size)
    slope = stored_slope(space, stores, temperature)
    product = np.zeros(space.size)
    np.add.at(product, space.cells.dofs, np.einsum("eij,ej->ei", slope, change[space.cells.dofs]))
    h = 1e-3
    high, low = (stored_heat(space, stores, temperature + s * h * change) for s in (1.0, -1.0))
    assert product == pytest.approx((high - low) / (2.0 * h), rel=1e-5, abs=1e-9)


def test_a_block_holds_mass_times_heat_capacity() -> None:
    """A box of 23 x 16 x 11.5 mm less its bored middle: rho V times the integral of cp, by the card."""
    problem = usual_problem("short", level=-2.0)
    solid = materials_for(problem.arrangement).block
    space = system_of(problem).space
    cells = space.cells_of("block")
    warm = stored_heat(space, (solid_store(cells, solid),), np.full(space.size, 483.15)).sum()
    volume = 23e-3 * 16e-3 * 11.5e-3 - math.pi * problem.arrangement.nozzle.thread.pitch_radius**2 * 11.5e-3
    assert warm == pytest.approx(float(solid.density(296.15) * solid.heat_capacity.integral(483.15)) * volume, rel=2e-3)


@given(
    spans=st.lists(st.floats(0.1, 20.0), min_size=1, max_size=4),
    flows=st.lists(st.floats(1e-11, 4e-8), min_size=5, max_size=5),
    volume=st.floats(0.0, 1e-7),
    later=st.floats(0.0, 10.0),
)
def test_since_its_entry_a_piece_of_filament_has_moved_by_its_volume(
    spans: list[float], flows: list[float], volume: float, later: float
) -> None:
    times = np.concatenate([[0.0], np.cumsum(spans)])
    journey = Journey(list(times), flows[: times.size])
    now = float(times[-1]) + later
    age = float(journey.age(np.array(volume), now))
    ends = np.array([-1e12, *times[1:], 1e12])
    inside = np.clip(np.minimum(ends[1:], now) - np.maximum(ends[:-1], now - age), 0.0, None)
    assert float(inside @ np.array(flows[: times.size])) == pytest.approx(volume, rel=1e-6, abs=1e-14)


def test_at_a_steady_flow_the_bore_law_is_the_steady_one() -> None:
    law, flow = BoreLaw(400.0, 12000.0, 0.02, 3e5, None), 9e-9
    heights = np.linspace(0.0, 0.022, 40)
    aged = AgedBoreLaw(law.gas, law.melt, law.top, law.softening_length, None, Journey([0.0], [flow]), 17.0, 1e-3)
    assert aged(heights, flow)[0] == pytest.approx(law(heights, flow)[0], rel=1e-6)
