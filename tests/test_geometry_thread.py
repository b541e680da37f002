"""The thread against the numbers of the standards, and the ridge as a fin."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meltzone.geometry.thread import MetricThread

M6 = MetricThread(6e-3, 1e-3)


def test_m6_has_the_diameters_of_the_standard() -> None:
    # ISO 724 and ISO 68-1 for M6 x 1, in mm: d2 = 5.350 (5.350481), d3 = 4.773 (4.773131), H = 0.866025
    assert 1e3 * M6.triangle_height == pytest.approx(0.866025, abs=1e-6)
    assert 2e3 * M6.pitch_radius == pytest.approx(5.350481, abs=1e-6)
    assert 2e3 * M6.root_radius == pytest.approx(4.773131, abs=1e-6)
    # depth of the screw's thread h3 = 0.613 mm
    assert 1e3 * (M6.crest_radius - M6.root_radius) == pytest.approx(0.613435, abs=1e-6)


@given(st.floats(0.2e-3, 6e-3), st.floats(4.0, 40.0))
def test_every_metric_thread_follows_the_formulas_of_the_standard(pitch: float, pitches: float) -> None:
    thread = MetricThread(pitches * pitch * 1.0001, pitch)
    d = thread.diameter
    # ISO 724: d2 = d - 0.649519 P, d3 = d - 1.226869 P
    assert 2 * thread.pitch_radius == pytest.approx(d - 0.649519 * pitch, abs=1e-6 * pitch)
    assert 2 * thread.root_radius == pytest.approx(d - 1.226869 * pitch, abs=1e-6 * pitch)
    # two flanks of (5/8) H / cos 30 deg = 0.625 P each
    assert thread.flank_area_ratio == pytest.approx(1.25, rel=1e-12)


def test_profile_has_the_flats_and_angles_of_the_basic_profile() -> None:
    z, r = M6.profile()
    assert z[-1] == pytest.approx(1e-3, rel=1e-12)
    assert z[3] - z[2] == pytest.approx(1e-3 / 8)  # crest flat P/8
    # root flat between flanks drawn down to d3: P - P/8 - 2 (17/48) P = P/6
    assert z[1] + (z[5] - z[4]) == pytest.approx(1e-3 / 6)
    slope = np.diff(r)[[1, 3]] / np.diff(z)[[1, 3]]
    assert np.degrees(np.arctan(1.0 / slope)) == pytest.approx([30.0, -30.0])
    assert float(np.interp(M6.pitch_radius, r[1:3], z[1:3])) < z[2]


def test_developed_area_is_that_of_the_frustums_of_one_ridge() -> None:
    # Pappus, with the lengths above: crest 2 pi r P/8, root 2 pi r3 P/6, two flanks pi (r + r3) (17/24) H / cos 30 deg
    p, crest, root = 1e-3, M6.crest_radius, M6.root_radius
    flank = 17.0 / 24.0 * M6.triangle_height / math.cos(math.pi / 6)
    area = 2 * math.pi * (crest * p / 8 + root * p / 6) + 2 * math.pi * (crest + root) * flank
    assert M6.exposed_area_ratio * 2 * math.pi * M6.pitch_radius * p == pytest.approx(area, rel=1e-12)
    assert 1.6 < M6.exposed_area_ratio < 1.8


def fin_efficiency(film: float, conductivity: float) -> float:
    """Efficiency of one thread ridge as a straight fin, tanh(m L)/(m L), m^2 = 2 h / (k t) [-].

    `film` is h [W/m2/K], `conductivity` k [W/m/K]; t is the mean ridge thickness, L the thread depth.
    Source: Incropera, Fundamentals of Heat and Mass Transfer, straight fin with adiabatic tip (from memory).
    """
    z, r = M6.profile()
    depth, flank = float(np.ptp(r)), float(z[2] - z[1])
    thickness = float(z[3] - z[2]) + flank
    m_length = math.sqrt(2.0 * film / (conductivity * thickness)) * depth
    return math.tanh(m_length) / m_length


def test_ridges_of_the_thread_are_all_but_perfect_fins() -> None:
    """A ridge of brass in a strong jet is fully effective, so that its developed area counts; one of plastic is not."""
    assert fin_efficiency(200.0, 120.0) == pytest.approx(1.0, abs=5e-3)
    depth = 0.613435e-3
    thickness = 1e-3 / 8 + depth * math.tan(math.pi / 6)
    m_length = math.sqrt(2 * 200.0 / (0.2 * thickness)) * depth
    assert fin_efficiency(200.0, 0.2) == pytest.approx(math.tanh(m_length) / m_length, rel=1e-5)
