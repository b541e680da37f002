"""Polymers: enthalpy, melting peak, viscosity, and the shipped numbers against what is known of them from outside."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meltzone.materials import library
from meltzone.materials.polymer import CrossWLF, Polymer

ZERO = 273.15
POLYMERS = library.names("polymer")


@pytest.fixture(params=POLYMERS)
def polymer(request: pytest.FixtureRequest) -> Polymer:
    return library.polymer(request.param)


def test_all_nine_are_there() -> None:
    assert set(POLYMERS) == {"pla", "petg", "abs", "asa", "pc", "pa6", "pa12", "pp", "tpu"}


def test_enthalpy_slope_is_the_derivative(polymer: Polymer) -> None:
    T = np.linspace(250.0, 650.0, 4001)
    step = 1e-3
    numeric = (polymer.enthalpy(T + step) - polymer.enthalpy(T - step)) / (2 * step)
    np.testing.assert_allclose(polymer.enthalpy_slope(T), numeric, rtol=2e-6)


def test_enthalpy_rises_and_is_zero_at_the_reference(polymer: Polymer) -> None:
    T = np.linspace(250.0, 650.0, 2000)
    assert (np.diff(polymer.enthalpy(T)) > 0).all()
    assert polymer.enthalpy(296.15) == pytest.approx(0.0, abs=1e-9)


def test_area_of_the_melting_peak_is_the_melting_enthalpy(polymer: Polymer) -> None:
    # Gauss-Legendre quadrature of the slope, outside the module; the peak is a polynomial of fourth degree.
    nodes, weights = np.polynomial.legendre.leggauss(8)
    half = polymer.melting_width / 2.0
    T = polymer.melting_peak + half * nodes
    area = half * (weights * (polymer.enthalpy_slope(T) - polymer.heat_capacity(T))).sum()
    assert area == pytest.approx(polymer.melting_enthalpy, rel=1e-10, abs=1e-10)
    feet = np.array([polymer.melting_peak - half, polymer.melting_peak + half])
    np.testing.assert_allclose(polymer.enthalpy_slope(feet), polymer.heat_capacity(feet))


@given(st.sampled_from(POLYMERS), st.floats(200.0, 700.0), st.floats(0.1, 100.0))
def test_hotter_holds_more_heat(name: str, temperature: float, step: float) -> None:
    polymer = library.polymer(name)
    gain = float(polymer.enthalpy(temperature + step) - polymer.enthalpy(temperature))
    assert gain >= 0.99 * 800.0 * step  # no polymer's heat capacity lies below 0.8 J/g/K above 200 K


def test_temperatures_stand_in_their_natural_order(polymer: Polymer) -> None:
    assert polymer.decomposition_temperature is not None
    assert (
        polymer.softening_temperature
        < polymer.flow_temperature
        < polymer.degradation_temperature
        < polymer.decomposition_temperature
    )


def test_tables_reach_as_far_as_it_is_heated(polymer: Polymer) -> None:
    low, high = polymer.valid_range
    assert low <= ZERO
    assert high >= 320.0 + ZERO


def test_melt_is_thinner_packed_and_holds_more_than_the_solid(polymer: Polymer) -> None:
    cold, hot = 23.0 + ZERO, 280.0 + ZERO
    assert polymer.density(hot) < polymer.density(cold)
    assert polymer.heat_capacity(hot) > polymer.heat_capacity(cold)


# Ranges of published property pages (room temperature): conductivity [W/m/K], heat capacity [J/kg/K], density [kg/m3].
# PLA: Zmeskal et al. 2020, AIP Conf. Proc. 2305, 020022 (0.12, 1200) and a property page (0.13; 1240 to 1300); PC, PA6,
# TPU: property pages; ABS, PP: Crawford, Plastics Engineering, Table 1.8 widened by 10 %; the others from memory.
ROOM = {
    "pla": ((0.12, 0.13), (1200, 1200), (1240, 1300)),
    "petg": ((0.19, 0.21), (1200, 1300), (1250, 1290)),
    "abs": ((0.15, 0.25), (1170, 1430), (1040, 1060)),
    "asa": ((0.17, 0.18), (1250, 1350), (1060, 1080)),
    "pc": ((0.19, 0.21), (1170, 1500), (1200, 1240)),
    "pa6": ((0.22, 0.33), (1590, 1700), (1120, 1150)),
    "pa12": ((0.22, 0.25), (1650, 1750), (1000, 1020)),
    "pp": ((0.17, 0.22), (1700, 2200), (900, 915)),
    "tpu": ((0.20, 0.25), (1450, 1700), (1100, 1250)),
}
# Melts at 240 degC (PC 300, PP 230): heat capacity from memory, density too, but for PC and PP: Danner and High, Handbook
# of Polymer Solution Thermodynamics, Tait: 1 / (7.9165e-4 + 4.4201e-7 t + 2.8583e-10 t^2) = 1052.7 at 300 degC and
# 1 / (1.2033e-3 + 4.8182e-7 t + 7.7589e-10 t^2) = 737.9 at 230 degC.
MELT = {
    "pla": (240, (2060, 2060), (1070, 1080)),
    "petg": (240, (1900, 2000), (1120, 1140)),
    "abs": (240, (2100, 2400), (930, 970)),
    "asa": (240, (2150, 2250), (940, 990)),
    "pc": (300, (1950, 2100), (1052, 1054)),
    "pa6": (245, (2600, 2700), (960, 980)),
    "pa12": (240, (2450, 2550), (840, 860)),
    "pp": (230, (2600, 2800), (737, 739)),
}


@pytest.mark.parametrize("name", ROOM)
def test_room_temperature_numbers_lie_in_published_ranges(name: str) -> None:
    polymer = library.polymer(name)
    for curve, (low, high) in zip(
        (polymer.conductivity, polymer.heat_capacity, polymer.density), ROOM[name], strict=True
    ):
        assert low * (1 - 1e-9) <= curve(296.15) <= high * (1 + 1e-9), curve.name


@pytest.mark.parametrize("name", MELT)
def test_melt_numbers(name: str) -> None:
    celsius, heat, density = MELT[name]
    polymer = library.polymer(name)
    assert heat[0] <= polymer.heat_capacity(celsius + ZERO) <= heat[1]
    assert density[0] <= polymer.density(celsius + ZERO) <= density[1]


def test_pla_through_glass_transition_and_melting() -> None:
    pla = library.polymer("pla")
    # Resin maker's data, from memory: 1.955 J/g/K at 100, 2.06 at 190 degC; 0.197 W/m/K at 109, 0.195 at 190 degC.
    np.testing.assert_allclose(pla.heat_capacity(np.array([100.0, 190.0]) + ZERO), [1955, 2060])
    np.testing.assert_allclose(pla.conductivity(np.array([109.0, 190.0]) + ZERO), [0.197, 0.195])
    assert 1200 <= pla.heat_capacity(50 + ZERO) <= 1400
    # Net melting enthalpy 5 to 20 J/g from the filaments of doi 10.2478/msp-2023-0015.
    assert 5e3 <= pla.melting_enthalpy <= 20e3
    assert pla.reference_density == pytest.approx(1240)


def test_pla_heat_capacity_against_the_equation_of_its_liquid() -> None:
    # Pyda, Bopp & Wunderlich 2004, J. Chem. Thermodyn. 36, 731-742, from memory: 120.17 + 0.076 T J/K per mole of 72.06
    # g.
    T = np.array([100.0, 150.0, 190.0]) + ZERO
    liquid = (120.17 + 0.076 * T) / 72.06e-3
    pla = library.polymer("pla")
    np.testing.assert_allclose(pla.heat_capacity(T), liquid, rtol=0.06)


def test_heat_to_melt_pla_is_that_found_in_practice() -> None:
    # Common practice, no source: about 10 W melt 20 mm3/s of PLA at 210 degC (its core stays some 30 K below).
    pla = library.polymer("pla")
    mean = 190.0 + ZERO
    power = 20e-9 * pla.reference_density * float(pla.enthalpy(mean))
    assert power == pytest.approx(10.0, rel=0.25)


def test_a_viscosity_without_a_publication_says_so(polymer: Polymer) -> None:
    assert polymer.viscosity is not None
    assert any(
        word in polymer.sources["viscosity"] for word in ("unconfirmed", "from memory", "second hand", "assumed")
    )
    low, high = polymer.ranges["viscosity"]
    assert low < 1.0 < high


def test_a_plateau_modulus_lies_in_its_range(polymer: Polymer) -> None:
    if polymer.plateau_modulus is None:
        return
    low, high = polymer.ranges["plateau_modulus"]
    assert low <= polymer.plateau_modulus <= high
    # rho R T / M_e: between half a kilogramme and twenty a mole between entanglements
    assert 0.5 < 1000.0 * 8.314 * 480.0 / polymer.plateau_modulus < 20.0
    assert "from memory" in polymer.sources["plateau_modulus"]


def test_abs_meets_its_power_law() -> None:
    # Osswald et al. 2018, doi 10.1016/j.addma.2018.04.030, Table 2 (second hand)
    rate, kelvin = np.meshgrid(np.geomspace(1.0, 1e3, 13), ZERO + np.linspace(180.0, 270.0, 10))
    wanted = 6434.0 * rate ** (0.378 - 1.0) * np.exp(-0.0185 * (kelvin - ZERO - 250.0))
    law = library.polymer("abs").viscosity
    assert law is not None
    assert np.abs(np.log(law(rate, kelvin) / wanted)).max() < 0.2


def test_a_measured_pla_lies_in_the_range_of_the_card() -> None:
    # Thumsorn et al. 2022, doi 10.3390/polym14132721, Table 3: 555 Pa s at 210 degC and 0.2 1/s
    pla = library.polymer("pla")
    assert pla.viscosity is not None
    low, high = pla.ranges["viscosity"]
    here = float(pla.viscosity(0.2, 210.0 + ZERO))
    assert low * here < 555.0 < high * here


def test_pla_viscosity_lies_among_published_fits() -> None:
    # Materials 2023, 16, 7664, Table 1: Cross fits of PLA filaments have eta0 from 1480 to 9460 Pa s.
    law = library.polymer("pla").viscosity
    assert law is not None
    assert 1480.0 < float(law.zero_shear(210.0 + ZERO)) < float(law.zero_shear(190.0 + ZERO)) < 9460.0


# numbers of the order of a moulding ABS, made up to test the law's limits
MOULDING_ABS = CrossWLF(n=0.348, tau_star=23_000.0, D1=1e13, D2=373.15, A1=30.0, A2=51.6)


def test_cross_wlf_limits() -> None:
    law = MOULDING_ABS
    assert law(0.0, law.D2) == pytest.approx(law.D1)
    T = 239.0 + ZERO
    rest = float(law.zero_shear(T))
    # Where the shear stress of the resting melt equals tau*, the viscosity is half that at rest (Cross 1965).
    assert law(law.tau_star / rest, T) == pytest.approx(rest / 2)
    # At high rates a power law: slope n - 1 in the logarithms.
    rates = np.array([1e7, 1e8])
    slope = np.diff(np.log(law(rates, T))) / np.diff(np.log(rates))
    assert slope[0] == pytest.approx(law.n - 1.0, abs=2e-3)


def test_cross_law_reaches_the_power_law_of_a_moulding_abs() -> None:
    # Kazmer, Injection Mold Design Engineering, second hand: K = 17,070 Pa s^n, n = 0.348 at 239 degC, eta0 = 2,210 Pa
    # s, 120 Pa s at 2,000 1/s. tau* follows from K = eta0^n tau*^(1 - n).
    n, K, rest = 0.348, 17_070.0, 2210.0
    law = CrossWLF(n=n, tau_star=(K / rest**n) ** (1.0 / (1.0 - n)), D1=rest, D2=512.15, A1=20.0, A2=51.6)
    assert law(2000.0, 512.15) == pytest.approx(120.0, rel=0.10)
    assert law(1e6, 512.15) == pytest.approx(K * 1e6 ** (n - 1.0), rel=0.01)


@given(st.floats(0.0, 1e6), st.floats(0.0, 1e6), st.floats(300.0, 600.0), st.floats(0.0, 100.0))
def test_viscosity_falls_with_rate_and_with_heat(rate: float, more: float, temperature: float, step: float) -> None:
    law = MOULDING_ABS
    assert law(rate + more, temperature) <= law(rate, temperature) * (1 + 1e-12)
    assert law(rate, temperature + step) <= law(rate, temperature) * (1 + 1e-12)
