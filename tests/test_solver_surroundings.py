"""Correlations against worked examples and an independent library; the loss curve against its own formula and a closed form."""

from __future__ import annotations

import ht
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support import system_of, usual_problem
from verification.films import vertical_plate_all

from meltzone.fem.inputs import Surroundings
from meltzone.fem.surroundings import (
    STEFAN_BOLTZMANN,
    cross_flow_cylinder,
    film_coefficient,
    flat_plate,
    in_jet,
    loss_curve,
    plate_facing_down,
    plate_facing_up,
    vertical_plate,
)
from meltzone.geometry.faces import ExposedFace
from meltzone.materials.library import air

FILM = 395.65  # mean of 220 and 25 degC [K]
HOT, COLD = 493.15, 298.15


def face(
    name: str = "block side", orientation: str = "side", length: float = 10e-3, width: float = 10e-3
) -> ExposedFace:
    return ExposedFace(name, name.split(maxsplit=1)[0], orientation, length, width, 1.0)  # type: ignore[arg-type]


# worked examples --------------------------------------------------------------------------------------------------------


def test_cross_flow_against_the_textbook_s_cylinder() -> None:
    # Incropera, Fundamentals of Heat and Mass Transfer, Example 7.4 (Churchill and Bernstein): Re 6071, Pr 0.70
    assert cross_flow_cylinder(np.array(6071.0), np.array(0.70)) == pytest.approx(40.63709, rel=1e-6)


def test_vertical_plate_against_the_textbook_s_fire_screen() -> None:
    # Incropera, Example 9.2 (Churchill and Chu, all Ra): Pr 0.69, Gr 2.63e9
    assert vertical_plate_all(np.array(0.69 * 2.63e9), np.array(0.69)) == pytest.approx(147.16185, rel=1e-6)


# air at 395.65 K as the table below was computed with: nu 2.5415e-5 m2/s, k 0.03335 W/m/K, Pr 0.6894
NU, K, PR = 2.5415e-5, 0.03335, 0.6894


@pytest.mark.parametrize(
    ("size", "rayleigh", "still", "at_1", "at_5", "at_15"),
    # computed from the two correlations for a body at 220 degC in air of 25 degC, three digits
    [
        (6e-3, 1115.0, 20.2, 43.1, 95.7, 168.6),
        (8e-3, 2642.0, 18.2, 37.2, 83.1, 147.2),
        (12e-3, 8918.0, 15.7, 30.2, 68.2, 122.0),
        (20e-3, 41285.0, 13.3, 23.4, 53.5, 96.9),
    ],
)
def test_film_coefficients_of_small_bodies(
    size: float, rayleigh: float, still: float, at_1: float, at_5: float, at_15: float
) -> None:
    assert vertical_plate(np.array(rayleigh), np.array(PR)) * K / size == pytest.approx(still, abs=0.06)
    for speed, expected in ((1.0, at_1), (5.0, at_5), (15.0, at_15)):
        assert cross_flow_cylinder(np.array(speed * size / NU), np.array(PR)) * K / size == pytest.approx(
            expected, abs=0.06
        )
    # and with the shipped air, whose properties come from another table: within one per cent
    body = face("nozzle thread", length=size, width=size)
    natural = film_coefficient(body, air(), Surroundings(), np.array([HOT]))[0]
    assert natural == pytest.approx(still, rel=0.01)
    for speed, expected in ((1.0, at_1), (5.0, at_5), (15.0, at_15)):
        both = film_coefficient(body, air(), Surroundings(jet_speed=speed), np.array([HOT]))[0]
        assert both == pytest.approx((still**3 + expected**3) ** (1.0 / 3.0), rel=0.01)


@pytest.mark.parametrize(
    ("emissivity", "coefficient"), [(0.05, 0.745), (0.22, 3.278), (0.5, 7.450), (0.6, 8.940), (0.9, 13.411)]
)
def test_radiation_of_a_grey_face(emissivity: float, coefficient: float) -> None:
    # sigma eps (T^2 + T0^2)(T + T0) between 220 and 25 degC, computed, W/m2/K
    still = Surroundings(films={"block side": 0.0})
    flux = loss_curve(face(), air(), still, emissivity)(HOT)
    assert flux / (HOT - COLD) == pytest.approx(coefficient, abs=6e-4)
    assert pytest.approx(5.670374419e-8, rel=1e-12) == STEFAN_BOLTZMANN  # CODATA 2018


# an independent library -------------------------------------------------------------------------------------------------


@given(st.floats(0.1, 9.0), st.floats(0.6, 1.0))
def test_plates_agree_with_the_reference_library(exponent: float, prandtl: float) -> None:
    rayleigh = 10.0**exponent
    reference = ht.conv_free_immersed.Nu_vertical_plate_Churchill(Pr=prandtl, Gr=rayleigh / prandtl)
    assert vertical_plate_all(np.array(rayleigh), np.array(prandtl)) == pytest.approx(reference, rel=1e-9)


@given(st.floats(1.0, 6.0), st.floats(0.6, 1.0))
def test_laminar_plate_stays_near_the_form_for_all_flows(exponent: float, prandtl: float) -> None:
    # both are fits by the same authors to the same data; a hot end's faces have Ra from some tens to 1e5
    rayleigh = np.array(10.0**exponent)
    both = vertical_plate_all(rayleigh, np.array(prandtl))
    assert vertical_plate(rayleigh, np.array(prandtl)) == pytest.approx(both, rel=0.1)


@given(st.floats(-0.5, 5.6), st.floats(0.6, 1.0))
def test_cylinder_agrees_with_the_reference_library(exponent: float, prandtl: float) -> None:
    reynolds = 10.0**exponent
    reference = ht.conv_external.Nu_cylinder_Churchill_Bernstein(Re=reynolds, Pr=prandtl)
    assert cross_flow_cylinder(np.array(reynolds), np.array(prandtl)) == pytest.approx(reference, rel=1e-9)


@given(st.floats(1e4, 9e6))
def test_hot_face_up_agrees_with_the_reference_library(rayleigh: float) -> None:
    reference = ht.conv_free_immersed.Nu_horizontal_plate_McAdams(Pr=0.7, Gr=rayleigh / 0.7, buoyancy=True)
    assert plate_facing_up(np.array(rayleigh)) == pytest.approx(reference, rel=1e-6)


@given(st.floats(1e5, 1e9))
def test_hot_face_down_lies_near_another_fit(rayleigh: float) -> None:
    # 0.27 Ra^(1/4) of McAdams against 0.52 Ra^(1/5): fits to different data, some tens of per cent apart at worst
    other = ht.conv_free_immersed.Nu_horizontal_plate_McAdams(Pr=0.7, Gr=rayleigh / 0.7, buoyancy=False)
    assert plate_facing_down(np.array(rayleigh)) == pytest.approx(other, rel=0.6)
    assert plate_facing_down(np.array(rayleigh)) < plate_facing_up(np.array(rayleigh))


@given(st.floats(10.0, 4e5))
def test_laminar_flat_plate_is_pohlhausen_s(reynolds: float) -> None:
    reference = ht.conv_external.Nu_horizontal_plate_laminar_Baehr(Re=reynolds, Pr=0.7)
    assert flat_plate(np.array(reynolds), np.array(0.7)) == pytest.approx(reference, rel=2e-3)


# the curve --------------------------------------------------------------------------------------------------------------

CASES = [
    (face(), Surroundings()),
    (face("nozzle cone"), Surroundings(jet_speed=8.0)),
    (face("block top", "up", 4.7e-3), Surroundings(air_temperature=318.15)),
    (face("block bottom", "down", 4.7e-3), Surroundings(jet_speed=3.0, air_temperature=273.15)),
    (face("nozzle tip", "down", 0.25e-3, 1e-3), Surroundings(films={"nozzle tip": 77.0})),
]


@pytest.mark.parametrize(("where", "outside"), CASES, ids=[f.name for f, _ in CASES])
def test_loss_curve_is_its_formula_everywhere(where: ExposedFace, outside: Surroundings) -> None:
    curve, cold = loss_curve(where, air(), outside, 0.4), outside.air_temperature
    surface = np.linspace(cold + 20.0, 1100.0, 1733)  # between the table's points as well as on them
    exact = film_coefficient(where, air(), outside, surface) * (surface - cold)
    exact += 0.4 * STEFAN_BOLTZMANN * (surface**4 - cold**4)
    assert np.allclose(curve(surface), exact, rtol=5e-5, atol=0.0)
    # within the table's first steps the excess's power of 5/4 is rounded off: 2 W/m2 of the thousands of a hot face
    near = np.linspace(cold, cold + 20.0, 101)
    exact = film_coefficient(where, air(), outside, near) * (near - cold) + 0.4 * STEFAN_BOLTZMANN * (near**4 - cold**4)
    assert np.allclose(curve(near), exact, rtol=0.0, atol=3.0)
    table = cold + 5.0 * np.arange(1, 150)
    exact = film_coefficient(where, air(), outside, table) * (table - cold)
    exact += 0.4 * STEFAN_BOLTZMANN * (table**4 - cold**4)
    assert np.allclose(curve(table), exact, rtol=1e-12)
    assert abs(float(curve(cold))) < 1e-9
    step = 1e-3
    difference = (curve(surface + step) - curve(surface - step)) / (2.0 * step)
    assert np.allclose(curve(surface, 1), difference, rtol=1e-6)
    assert np.all(curve(np.linspace(cold, 1400.0, 500), 1) > 0.0)


def test_an_override_replaces_wind_and_buoyancy_alike() -> None:
    outside = Surroundings(jet_speed=10.0, films={"nozzle cone": 33.0})
    surface = np.array([300.0, 400.0, 600.0])
    assert np.array_equal(film_coefficient(face("nozzle cone"), air(), outside, surface), np.full(3, 33.0))
    curve = loss_curve(face("nozzle cone"), air(), outside, 0.0)
    assert float(curve(500.0)) == pytest.approx(33.0 * (500.0 - 298.15), rel=1e-9)


def test_the_jet_reaches_what_it_is_said_to_reach() -> None:
    outside = Surroundings(jet_speed=5.0)
    reached = ("nozzle tip", "nozzle thread", "sleeve side", "wrap bottom", "block bottom")
    spared = ("block side", "block top", "neck", "flange")
    assert all(in_jet(name, outside) for name in reached)
    assert not any(in_jet(name, outside) for name in spared)
    assert not any(in_jet(name, Surroundings()) for name in reached)


@given(st.floats(310.0, 600.0), st.floats(0.1, 30.0))
def test_wind_only_ever_adds(surface: float, speed: float) -> None:
    where, at = face("nozzle thread"), np.array([surface])
    still = film_coefficient(where, air(), Surroundings(), at)[0]
    windy = film_coefficient(where, air(), Surroundings(jet_speed=speed), at)[0]
    stronger = film_coefficient(where, air(), Surroundings(jet_speed=1.5 * speed), at)[0]
    assert 0.0 < still < windy < stronger


def test_every_face_of_a_problem_uses_the_curve_of_its_part() -> None:
    problem = usual_problem("sleeve", True)
    losses = {face.name: face.loss for face in system_of(problem).faces}
    surface = np.array([350.0, 480.0])
    for exposed in system_of(problem).space.section.exposed:
        solid = getattr(problem.materials, exposed.part.replace(" ", "_"))
        expected = loss_curve(exposed, problem.materials.air, problem.surroundings, solid.emissivity)(surface)
        assert losses[exposed.name](surface) == pytest.approx(expected, rel=1e-12)
