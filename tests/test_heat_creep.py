"""Heat creep against closed forms: a wall around a moving core, a fin of two materials at rest; slopes against whole solves."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.linalg import expm
from support import constant, insulated, problem_for, system_of
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.levers import levers_of
from meltzone.fem.field import Field
from meltzone.fem.heat_creep import HeightSlopes, JamLimit, excess_at, least_flow, profile_of, soft_height, softened_at
from meltzone.fem.in_time.unsteady import pause
from meltzone.fem.inputs import Surroundings
from meltzone.fem.problem import Problem
from meltzone.fem.steady import solve_at_flow
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.faces import FACES
from meltzone.geometry.heat_break import HeatBreak

METAL, CORE, GAS = 16.0, 0.2, 0.04  # conductivities, invented [W/m/K]
DENSITY, CAPACITY = 1100.0, 2000.0
FROM, TO = 3e-3, 17e-3  # of a neck of 20 mm, away from its ends [m]
NECK = Arrangement(heat_break=HeatBreak(neck_length=20e-3))
WARM = Surroundings(cold_temperature=328.15)


def plain(surroundings: Surroundings) -> Problem:
    """A long neck, every property a constant."""
    made = problem_for(NECK, surroundings=surroundings, level=1.0)
    polymer = replace(
        made.materials.polymer,
        conductivity=constant("conductivity", "W/m/K", CORE),
        heat_capacity=constant("heat_capacity", "J/kg/K", CAPACITY),
        density=constant("density", "kg/m3", DENSITY),
        melting_enthalpy=0.0,
    )
    metal = replace(made.materials.heat_break, conductivity=constant("conductivity", "W/m/K", METAL))
    gas = replace(made.materials.air, conductivity=constant("conductivity", "W/m/K", GAS))
    return replace(made, materials=replace(made.materials, polymer=polymer, heat_break=metal, air=gas))


def wall_at(field: Field, heights: np.ndarray) -> np.ndarray:
    """The bore wall `heights` above the block's upper face [K]."""
    return np.interp(heights + field.problem.arrangement.block_top, field.axis.wall_z, field.axis.wall)


@pytest.mark.parametrize("flow", [1e-9, 4e-9])
def test_skin_beside_a_wall_is_that_of_a_moving_core(flow: float) -> None:
    """Wall: k A T'' = U (T - t); core, moving down: k A t'' + rho c Q t' = U (t - T); solved by the matrix exponential.

    U in series: gas ln(R/r)/(2 pi k), and 1/(8 pi k) from the skin to the mean of a core that warms evenly.
    """
    field = solve_at_flow(system_of(plain(insulated())), flow)
    a = field.problem.arrangement
    bore, core, out = a.heat_break.bore / 2.0, a.filament.diameter / 2.0, a.heat_break.neck_diameter / 2.0
    inner = 1.0 / (8.0 * math.pi * CORE)
    across = 1.0 / (math.log(bore / core) / (2.0 * math.pi * GAS) + inner)
    wall_area, core_area = METAL * math.pi * (out**2 - bore**2), CORE * math.pi * core**2
    law = np.zeros((4, 4))  # of (T, T', t, t')
    law[0, 1] = law[2, 3] = 1.0
    law[1, [0, 2]] = across / wall_area, -across / wall_area
    law[3, [0, 2, 3]] = -across / core_area, across / core_area, -DENSITY * CAPACITY * flow / core_area
    seen = np.array([[1.0, 0.0, 0.0, 0.0], [across * inner, 0.0, 1.0 - across * inner, 0.0]])  # wall and skin
    profile, ends = profile_of(field), np.array([FROM, TO])
    skin, wall = np.interp(ends, profile.height, profile.temperature), wall_at(field, ends)
    start = np.linalg.solve(
        np.vstack([seen, seen @ expm(law * (TO - FROM))]), np.array([wall[0], skin[0], wall[1], skin[1]])
    )
    between = np.linspace(FROM, TO, 9)[1:-1]
    closed = np.array([(seen @ expm(law * (z - FROM)) @ start) for z in between])
    span = skin[0] - skin[1]
    assert np.abs(np.interp(between, profile.height, profile.temperature) - closed[:, 1]).max() < 0.01 * span
    assert np.abs(wall_at(field, between) - closed[:, 0]).max() < 0.01 * span


def test_at_rest_wall_and_core_are_a_fin_of_two_materials() -> None:
    """A film h on the neck, nothing flowing: T - T_air = A sinh + B sinh with m^2 = h P / (sum of k A)."""
    film = 40.0
    around = replace(insulated(), films=dict.fromkeys(FACES, 0.0) | {"neck": film})
    field = solve_at_flow(system_of(plain(around)), 0.0)
    a, air = field.problem.arrangement, around.air_temperature
    bore, core, out = a.heat_break.bore / 2.0, a.filament.diameter / 2.0, a.heat_break.neck_diameter / 2.0
    along = METAL * (out**2 - bore**2) + GAS * (bore**2 - core**2) + CORE * core**2
    m, length = math.sqrt(film * 2.0 * out / along), TO - FROM
    profile = profile_of(field)
    low, high = np.interp([FROM, TO], profile.height, profile.temperature) - air
    z = np.linspace(0.0, length, 100_001)
    closed = air + (low * np.sinh(m * (length - z)) + high * np.sinh(m * z)) / math.sinh(m * length)
    softening = float((low + high) / 2.0 + air)  # somewhere between
    height = FROM + float(np.interp(-softening, -closed, z))
    assert profile.soft_height(softening) == pytest.approx(height, rel=0.01)


@cache
def states() -> tuple[Field, ...]:
    """The short block under a heat sink at 55 degC, at rising flows."""
    system = system_of(problem_for("short", surroundings=WARM, level=-1.0))
    return tuple(solve_at_flow(system, flow) for flow in (0.0, 3e-10, 2e-9, 8e-9))


def test_the_height_falls_with_the_flow_and_rises_with_the_heat_sink() -> None:
    heights = [soft_height(field) for field in states()]
    assert heights == sorted(heights, reverse=True) and heights[-1] > 0.0
    colder = solve_at_flow(system_of(problem_for("short", level=-1.0)), 0.0)
    assert soft_height(colder) < heights[0]


def test_at_the_least_flow_the_skin_softens_just_at_the_limit() -> None:
    limit = JamLimit()
    found = least_flow(limit, states())
    assert found is not None and 3e-10 < found.flow < 2e-9
    assert soft_height(found) == pytest.approx(limit.at(found.problem.arrangement), rel=1e-4)
    again = solve_at_flow(found.system, found.flow)
    assert excess_at(limit)(again) == pytest.approx(0.0, abs=1e-4)
    assert least_flow(JamLimit(6.9e-3), states()) is None


def test_a_pause_ends_where_the_skin_softens_at_the_limit_and_a_higher_one_comes_later() -> None:
    system = states()[0].system
    ends = []
    for height in (3.2e-3, 3.75e-3):
        held = softened_at(JamLimit(height)).at(system, None)
        found = pause(system, 8e-9, held.miss, 600.0)
        assert found.lasts is not None
        assert soft_height(found.history.field) == pytest.approx(height, rel=1e-3)
        ends.append(found.lasts)
    assert 0.0 < ends[0] < ends[1]


@pytest.mark.parametrize(
    "key",
    ["surroundings.cold_temperature", "heat_break.neck_length", "polymer.softening_temperature", "heater.setpoint"],
)
def test_slopes_of_the_height_are_those_of_whole_solves(key: str) -> None:
    rest = states()[0]
    (lever,) = (each for each in levers_of(rest.system) if each.key == key)
    step = 1e-2 * lever.step
    low, high = (soft_height(solve_at_flow(system_of(lever.at(lever.value + move)), 0.0)) for move in (-step, step))
    slope = HeightSlopes(rest, soft_height(rest)).by(lever)
    assert slope == pytest.approx((high - low) / (2.0 * step), rel=5e-3)


def test_the_command_answers_first_and_refuses_a_limit_beyond_the_heat_break() -> None:
    call = ["creep", "short-block", "--flow", "6 mm^3/s", "--set", "surroundings.cold_temperature=60 degC", "--json"]
    given = CliRunner().invoke(app, call)
    assert given.exit_code == 0
    record = json.loads(given.stdout)
    assert record["jams_at_rest"] and record["rest_height_mm"] > record["limit_mm"]
    assert 0.0 < record["least_flow_mm3_per_s"] < 6.0 and record["longest_pause_s"] > 0.0
    assert record["levers"][0]["key"] == "surroundings.cold_temperature"
    refused = CliRunner().invoke(app, ["creep", "short-block", "--limit", "9 mm"])
    assert refused.exit_code == 2 and "--limit" in refused.output
