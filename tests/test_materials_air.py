"""Air against independent libraries and reference equations."""

from __future__ import annotations

import numpy as np
import pytest

from meltzone.materials import library

AIR = library.air()
# Reference equations of Lemmon & Jacobsen 2004 (Int. J. Thermophys. 25, 21-69) and Lemmon et al. 2000 (J. Phys. Chem.
# Ref. Data 29, 331-385) at 101325 Pa, evaluated with the open-source library CoolProp 8.0.0: T [K], nu [m2/s], k
# [W/m/K], Pr.
REFERENCE = [
    (300.0, 1.57497e-5, 0.0263845, 0.707064),
    (350.0, 2.06908e-5, 0.0300033, 0.701902),
    (400.0, 2.61308e-5, 0.0334532, 0.698932),
    (500.0, 3.83853e-5, 0.0399446, 0.698449),
    (600.0, 5.23191e-5, 0.0460113, 0.702962),
    (900.0, 1.03026e-4, 0.0625432, 0.723951),
]


def test_against_standard_atmosphere_of_an_independent_library() -> None:
    atmosphere = pytest.importorskip("fluids.atmosphere").ATMOSPHERE_1976
    T = np.linspace(255.0, 895.0, 65)
    k = np.array([atmosphere.thermal_conductivity(t) for t in T])
    nu = np.array([atmosphere.viscosity(t) / atmosphere.density(t, 101325.0) for t in T])
    np.testing.assert_allclose(AIR.conductivity(T), k, rtol=2e-4)
    np.testing.assert_allclose(AIR.kinematic_viscosity(T), nu, rtol=2e-4)


@pytest.mark.parametrize(("T", "nu", "k", "Pr"), REFERENCE)
def test_against_reference_equations(T: float, nu: float, k: float, Pr: float) -> None:
    assert AIR.kinematic_viscosity(T) == pytest.approx(nu, rel=0.015 if T <= 500.0 else 0.04)
    assert AIR.conductivity(T) == pytest.approx(k, rel=0.015)
    assert AIR.prandtl(T) == pytest.approx(Pr, rel=0.03 if T <= 500.0 else 0.045)


def test_the_film_of_a_hot_end_at_220_degc() -> None:
    # Film at 395.65 K (220 degC in air of 25 degC), computed by hand from the standard atmosphere's equations.
    assert AIR.kinematic_viscosity(395.65) == pytest.approx(2.5415e-5, rel=1e-4)
    assert AIR.conductivity(395.65) == pytest.approx(0.03335, rel=2e-4)
    assert AIR.prandtl(395.65) == pytest.approx(0.6894, rel=1e-3)


def test_against_the_table_of_a_textbook() -> None:
    # Incropera, Fundamentals of Heat and Mass Transfer, Table A.4, from memory: 300, 400, 600 K.
    T = np.array([300.0, 400.0, 600.0])
    np.testing.assert_allclose(AIR.kinematic_viscosity(T), [15.89e-6, 26.41e-6, 52.69e-6], rtol=0.035)
    np.testing.assert_allclose(AIR.conductivity(T), [26.3e-3, 33.8e-3, 46.9e-3], rtol=0.02)
    np.testing.assert_allclose(AIR.prandtl(T), [0.707, 0.690, 0.685], rtol=0.02)


def test_range_and_sources() -> None:
    for curve in (AIR.conductivity, AIR.kinematic_viscosity, AIR.prandtl):
        assert curve.valid_range == (250.0, 900.0)
        assert AIR.sources[curve.name] == curve.source != ""
