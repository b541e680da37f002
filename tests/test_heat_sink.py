"""The heat sink as a part: fins against Bessel functions, its heat against its own law, its limit against a given one."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import i0, i1, k0, k1
from support import constant, materials_for, problem_for, refused, system_of

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.levers import levers_of
from meltzone.cases.inputs.reader import load_case
from meltzone.fem.heat_creep import HeightSlopes, soft_height
from meltzone.fem.heat_sink import fin_efficiency, finned_film, sink_conductance, sink_law
from meltzone.fem.inputs import Surroundings
from meltzone.fem.steady import solve_at_flow
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.heat_sink import HeatSink
from meltzone.materials.library import air

SINK = Arrangement(heat_sink=HeatSink())


@pytest.mark.parametrize("film", [10.0, 60.0, 400.0])
@pytest.mark.parametrize("conductivity", [16.0, 200.0])
def test_fins_are_as_good_as_bessel_functions_say(film: float, conductivity: float) -> None:
    """eta = 2 r_i/(m (r_o^2 - r_i^2)) (K1 I1 - I1 K1)/(I0 K1 + K0 I1), its edge counted by half the thickness."""
    sink = HeatSink()
    inner, outer = sink.core_diameter / 2.0, (sink.fin_diameter + sink.fin_thickness) / 2.0
    m = math.sqrt(2.0 * film / (conductivity * sink.fin_thickness))
    a, b = m * inner, m * outer
    exact = (
        2.0 * inner / (m * (outer**2 - inner**2)) * (k1(a) * i1(b) - i1(a) * k1(b)) / (i0(a) * k1(b) + k0(a) * i1(b))
    )
    assert fin_efficiency(sink, film, conductivity) == pytest.approx(float(exact), rel=0.015)


def test_the_film_is_that_of_the_correlation_by_hand() -> None:
    """Air at 300 K: k 0.0263, nu 1.589e-5, Pr 0.707 (Incropera, Table A.4, from memory)."""
    sink, speed = HeatSink(), 3.0
    reynolds = speed * 12e-3 / 1.589e-5
    gap = 26e-3 / 11 - 1e-3
    by_hand = 0.134 * reynolds**0.681 * 0.707 ** (1 / 3) * (gap / 5e-3) ** 0.2 * (gap / 1e-3) ** 0.1134 * 0.0263 / 12e-3
    assert finned_film(sink, air(), 300.0, speed) == pytest.approx(by_hand, rel=0.02)


def test_its_heat_is_its_conductance_times_its_excess() -> None:
    """The core is all but of one temperature; the balance closes."""
    made = problem_for(SINK, level=-1.0)
    field = solve_at_flow(system_of(made), 6e-9)
    low, high = field.part_extremes["heat sink"]
    conductance = sink_conductance(made, HeatSink())
    cold = made.surroundings.air_temperature
    assert conductance * (low - cold) <= field.balance.cold_end <= conductance * (high - cold)
    assert high - low < 1.0
    assert field.balance.relative_imbalance < 1e-9


def test_a_sink_cooled_without_resistance_is_one_of_a_given_temperature() -> None:
    """A core that conducts at will and is cooled at will: the joint sees its coolant alone."""
    cold = 318.15
    held = problem_for("short", level=-1.0, surroundings=Surroundings(cold_temperature=cold))
    materials = materials_for(SINK)
    assert materials.heat_sink is not None
    copper = replace(materials.heat_sink, conductivity=constant("conductivity", "W/m/K", 1e5))
    cooled = problem_for(
        SINK,
        level=-1.0,
        materials=replace(materials, heat_sink=copper),
        surroundings=Surroundings(sink_resistance=1e-3, sink_coolant=cold),
    )
    first, second = (solve_at_flow(system_of(problem), 0.0) for problem in (held, cooled))
    assert soft_height(second) == pytest.approx(soft_height(first), rel=3e-3)
    taken = second.balance.cold_end + second.balance.faces["heat sink bottom"]
    assert taken == pytest.approx(first.balance.cold_end, rel=3e-3)


def test_without_the_part_the_law_is_the_given_temperature() -> None:
    made = problem_for("short")
    law = sink_law(made)
    assert (law.conductance, law.reference) == (made.contacts.cold_joint, made.surroundings.cold_temperature)


def test_a_warm_enclosure_warms_the_cold_end_by_as_much() -> None:
    heights, sinks = [], []
    for kelvin in (298.15, 318.15):
        made = problem_for(SINK, level=-1.0, surroundings=Surroundings(air_temperature=kelvin))
        field = solve_at_flow(system_of(made), 0.0)
        heights.append(soft_height(field))
        sinks.append(field.part_extremes["heat sink"][1])
    assert heights[1] > heights[0] + 0.5e-3
    assert sinks[1] - sinks[0] == pytest.approx(20.0, rel=0.2)


@pytest.mark.parametrize("key", ["heat_sink.fan_speed", "heat_sink.fin_diameter", "heat_sink.core_diameter"])
def test_slopes_by_the_sink_are_those_of_whole_solves(key: str) -> None:
    rest = solve_at_flow(system_of(problem_for(SINK, level=-1.0)), 0.0)
    (lever,) = (each for each in levers_of(rest.system) if each.key == key)
    step = 2e-2 * lever.step
    low, high = (soft_height(solve_at_flow(system_of(lever.at(lever.value + move)), 0.0)) for move in (-step, step))
    slope = HeightSlopes(rest, soft_height(rest)).by(lever)
    assert slope == pytest.approx((high - low) / (2.0 * step), rel=0.02)


def test_examples_have_a_warm_and_a_cool_sink() -> None:
    finned, liquid = (
        solve_at_flow(system_of(replace(problem_of(load_case(name)), level=-1.0)), 0.0)
        for name in ("short-block-finned", "short-block-liquid")
    )
    warm, cool = (np.subtract(field.part_extremes["heat sink"], 273.15) for field in (finned, liquid))
    assert warm.min() > 45.0 and warm.max() < 75.0
    assert cool.min() > 25.0 and cool.max() < 35.0


def test_what_does_not_fit_is_refused() -> None:
    refused("heat_sink.fin_thickness", "pitch", lambda: HeatSink(fins=26))
    refused("heat_sink.fin_diameter", "core", lambda: HeatSink(fin_diameter=12e-3))
    refused("heat_sink.core_diameter", "thread", lambda: Arrangement(heat_sink=HeatSink(core_diameter=6e-3)))
    assert Arrangement(heat_break=HeatBreak(cooled_length=8e-3), heat_sink=HeatSink()).rings[0].top > 0.0
