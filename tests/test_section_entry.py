"""The entry problem of a section: series, tables of ducts, a mixed wall, orders of convergence, the balance."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import eigh_tridiagonal
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros
from sections.duct_velocity import power_law
from sections.march import Course, Medium, Passage, constant_medium, march
from sections.profile import profiled
from sections.shapes import annulus, rectangle
from skfem import ElementQuad2, FacetBasis

from meltzone.fem.across.entry import modes_of
from meltzone.fem.across.section import Section, bore_section, quantile, section_of
from meltzone.geometry.cross_section import CrossSection, disc, ring_of_holes
from meltzone.materials.library import polymer

MM = 1e-3
K, DENSITY, HEAT_CAPACITY = 0.18, 1100.0, 2000.0  # W/m/K, kg/m3, J/kg/K
INLET, WALL = 298.15, 493.15
MASS_FLOW = DENSITY * 1e-8
BETA = jn_zeros(0, 400)


def _plug_series(fourier: float) -> tuple[float, float]:
    """Axis and mean of a plug behind a jump of wall temperature (Carslaw & Jaeger, heated cylinder)."""
    decay = np.exp(-(BETA**2) * fourier)
    return float((2.0 / (BETA * j1(BETA)) * decay).sum()), float((4.0 / BETA**2 * decay).sum())


def _way(fourier: float) -> float:
    return fourier / (np.pi * K)


def _on_axis(section: Section, field: np.ndarray) -> float:
    return float(field[np.argmin(np.sum(section.places**2, axis=0))])


def _hydraulic_diameter(cross: CrossSection, section: Section) -> float:
    """Four times the flow's area over its wetted perimeter [m]."""
    wetted = FacetBasis(cross.mesh, ElementQuad2(), facets="wetted", intorder=6)
    return float(4.0 * section.area.sum() / (cross.copies * wetted.dx.sum()))


def _nusselt(cross: CrossSection, exponent: float) -> float:
    """Of the developed temperature, by hydraulic diameter and heated perimeter."""
    section = profiled(cross, exponent)
    rate = modes_of(section, K).rates[0]
    return float(rate * _hydraulic_diameter(cross, section) / (section.wall.sum() * K))


# Nusselt numbers of developed temperature


@pytest.mark.parametrize(
    ("exponent", "expected"),
    [
        (0.0, 5.783185962946785),  # first zero of J0, squared
        (1.0, 3.6567934577632),  # OEIS A282581
        (0.5, 3.94942),  # power law: eigenvalues of the radial equation by 4000 cells
        (1.0 / 3.0, 4.17532),
        (0.25, 4.35445),
    ],
)
def test_circle(exponent: float, expected: float) -> None:
    assert _nusselt(disc(MM, cells=12), exponent) == pytest.approx(expected, rel=3e-6)


@pytest.mark.parametrize(
    ("ratio", "expected"),
    [(1.0, 2.976), (2.0, 3.391), (4.0, 4.439)],  # Shah & London 1978, rectangular ducts, from memory
)
def test_rectangle(ratio: float, expected: float) -> None:
    assert _nusselt(rectangle(MM, ratio * MM), 1.0) == pytest.approx(expected, rel=1e-3)


def test_friction_of_the_square() -> None:
    """Fanning f Re = 14.227 (Shah & London 1978), here 2 D^2 over the mean of the unit solution."""
    cross = rectangle(MM, MM)
    section = profiled(cross, 1.0)
    # share = u dA / integral; laplace(u) = -1 gives integral u = mean(u) A, found from the weak form's own energy
    profile = section.share / section.area  # u over its integral [1/m2]
    unknowns, *_ = np.linalg.lstsq(section.values.toarray(), profile, rcond=None)
    energy = float(unknowns @ section.conduction(np.ones(section.area.size)) @ unknowns)  # = 1 / integral of u
    mean = 1.0 / (energy * section.area.sum())
    assert 0.5 * _hydraulic_diameter(cross, section) ** 2 / mean == pytest.approx(14.227, rel=1e-4)


def _annulus_by_differences(inner: float, cells: int) -> float:
    """Nusselt number of parabolic flow round an insulated core, heated outside, by finite volumes; outer radius 1."""
    edges = np.linspace(inner, 1.0, cells + 1)
    r = 0.5 * (edges[1:] + edges[:-1])
    width = (1.0 - inner) / cells
    u = 1.0 - r**2 + (inner**2 - 1.0) * np.log(r) / np.log(inner)
    conductance = edges[1:-1] / width
    diagonal = np.zeros(cells)
    diagonal[:-1] += conductance
    diagonal[1:] += conductance
    diagonal[-1] += 2.0 / width
    root = np.sqrt(u * r * width)
    rate = eigh_tridiagonal(diagonal / root**2, -conductance / (root[1:] * root[:-1]), select="i", select_range=(0, 0))
    return float(rate[0][0] * np.sum(u * r * width) * 2.0 * (1.0 - inner))


@pytest.mark.parametrize("inner", [0.1, 0.25, 0.5])
def test_annulus_round_an_insulated_torpedo(inner: float) -> None:
    """Against the radial equation by finite volumes, extrapolated; 4.4293 at a ratio of 0.5 from memory of Shah & London."""
    coarse, fine = (_annulus_by_differences(inner, cells) for cells in (1000, 2000))
    expected = fine + (fine - coarse) / 3.0
    assert _nusselt(annulus(inner * MM, MM, False), 1.0) == pytest.approx(expected, rel=3e-5)
    if inner == 0.5:
        assert expected == pytest.approx(4.4293, abs=1e-4)


def test_a_torpedo_that_conducts_nothing_is_insulated_and_one_that_conducts_stores_nothing() -> None:
    bare, idle = (
        profiled(annulus(0.5 * MM, MM, insert), 1.0, web_conductivity=380.0, contact=1e4) for insert in (False, True)
    )
    assert modes_of(idle, K).rates[0] == pytest.approx(modes_of(bare, K).rates[0], rel=1e-8)


@pytest.mark.parametrize("biot", [0.5, 5.0, 100.0])
def test_plug_behind_a_film(biot: float) -> None:
    """First two roots of x J1(x) = Bi J0(x) (Carslaw & Jaeger, cylinder with surface exchange)."""
    film = biot * K / MM
    found = modes_of(section_of(disc(MM), film=film), K).rates / (np.pi * K)
    line = modes_of(bore_section(MM, film, cells=40), K).rates / (np.pi * K)
    for bracket in ((1e-9, 2.4048), (3.8317, 5.5201)):
        root = brentq(lambda x: x * j1(x) - biot * j0(x), *bracket)
        assert np.abs(found - root**2).min() < 1e-5 * root**2
        assert np.abs(line - root**2).min() < 1e-5 * root**2


@pytest.mark.parametrize("count", [2, 5, 12])
def test_holes_in_metal_that_conducts_perfectly_are_tubes_side_by_side(count: int) -> None:
    """Exponent beta1^2 pi N k z / (rho c Q), whatever the holes' diameter."""
    for hole in (0.1 * MM, 0.15 * MM):
        section = section_of(ring_of_holes(count, hole, 0.9 * MM, 2.0 * MM), 1e9, 1e12)
        assert modes_of(section, K).rates[0] == pytest.approx(5.783186 * np.pi * count * K, rel=1e-5)


def test_a_joint_on_the_hole_s_wall_is_a_film() -> None:
    hole, contact = 0.3 * MM, 3000.0
    rate = modes_of(section_of(ring_of_holes(3, hole, 0.8 * MM, 2.0 * MM), 1e9, contact), K).rates[0]
    root = brentq(lambda x: x * j1(x) - contact * hole / K * j0(x), 1e-9, 2.4048)
    assert rate == pytest.approx(root**2 * np.pi * 3 * K, rel=1e-5)


# The entry


@pytest.mark.parametrize("fourier", [0.02, 0.05, 0.1, 0.3])
def test_plug_by_modes(fourier: float) -> None:
    section = section_of(disc(MM))
    excess = modes_of(section, K).advanced(-np.ones(section.size), _way(fourier))
    axis, mean = _plug_series(fourier)
    assert -_on_axis(section, excess) == pytest.approx(axis, abs=2e-6)
    assert -section.mean(excess) == pytest.approx(mean, abs=2e-6)


# x* = (x/D)/(Re Pr); series by 30-digit arithmetic, as Shah & London 1978 print to fewer digits
GRAETZ = {0.005: (0.83622, 1.0), 0.01: (0.75111, 0.99947), 0.03: (0.53487, 0.89718), 0.1: (0.18971, 0.34184)}


@pytest.mark.parametrize("star", GRAETZ)
def test_graetz_series_by_modes_and_by_marching(star: float) -> None:
    fine, coarse = profiled(disc(MM), 1.0), profiled(disc(MM, 8, 8), 1.0)
    excess = modes_of(fine, K).advanced(-np.ones(fine.size), _way(4.0 * star))
    marched = (_heated(coarse, star * 4.0, 60).end - WALL) / (WALL - INLET)
    mean, axis = GRAETZ[star]
    for section, field, within in ((fine, excess, 1.2e-5), (coarse, marched, 1e-4)):
        assert -section.mean(field) == pytest.approx(mean, abs=within)
        assert -_on_axis(section, field) == pytest.approx(axis, abs=within)


def _heated(section: Section, fourier: float, steps: int, medium: Medium | None = None) -> Course:
    passage = Passage(section, medium or constant_medium(K, HEAT_CAPACITY), MASS_FLOW)
    length = fourier * MASS_FLOW * HEAT_CAPACITY / (np.pi * K)
    return march(passage, np.full(section.size, INLET), WALL, length, steps)


def test_march_is_of_second_order() -> None:
    section = bore_section(MM, cells=40)
    _, mean = _plug_series(0.15)
    errors = [abs((WALL - section.mean(_heated(section, 0.15, n).end)) / (WALL - INLET) - mean) for n in (20, 40, 80)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    np.testing.assert_allclose(orders, 2.0, atol=0.1)


def test_rates_are_of_fourth_order_in_the_cells() -> None:
    """Quadratic elements: eigenvalues converge with twice the order of the energy norm, four."""
    errors = [modes_of(section_of(disc(MM, cells=n)), K).rates[0] / (np.pi * K) - 5.783185962946785 for n in (4, 8, 16)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all(orders > 3.8)


def test_a_bore_by_its_radius_is_the_disc() -> None:
    flat, line = section_of(disc(MM)), bore_section(MM)
    ends = [_heated(section, 0.1, 10, polymer("pla")).end for section in (flat, line)]
    assert flat.mean(ends[0]) == pytest.approx(line.mean(ends[1]), abs=1e-3)
    assert _on_axis(flat, ends[0]) == pytest.approx(_on_axis(line, ends[1]), abs=2e-2)


@pytest.mark.parametrize("film", [np.inf, 5000.0])
@pytest.mark.parametrize("exponent", [0.0, 1.0])
def test_what_the_flow_gains_went_through_the_wall(film: float, exponent: float) -> None:
    cross = ring_of_holes(3, 0.5 * MM, 0.8 * MM, 2.4 * MM, 8)
    section = profiled(cross, exponent, 110.0, 12000.0, film)
    passage = Passage(section, polymer("petg"), MASS_FLOW)
    course = march(passage, np.full(section.size, INLET), lambda z: WALL - 2e3 * z, 8 * MM, 12)
    assert abs(course.imbalance) < 1e-9
    assert course.heat[-1] > 1.0


def test_heat_through_a_held_wall_is_the_integral_of_the_flux() -> None:
    """Nu k (T_wall - T_mean) pi over the developed stretch, integrated: what the last mode alone gives."""
    section = bore_section(MM)
    modes = modes_of(section, K)
    start = WALL - 100.0 * modes.shapes[:, 0] / np.abs(modes.shapes[0, 0])
    passage = Passage(section, constant_medium(K, HEAT_CAPACITY), MASS_FLOW)
    course = march(passage, start, WALL, 5 * MM, 80)
    fall = np.exp(-modes.rates[0] * 5 * MM / (MASS_FLOW * HEAT_CAPACITY))
    expected = MASS_FLOW * HEAT_CAPACITY * (WALL - section.mean(start)) * (1.0 - fall)
    assert course.heat[-1] == pytest.approx(expected, rel=1e-5)


def test_coldest_share_of_a_known_distribution() -> None:
    values = np.linspace(0.0, 1.0, 1001)[::-1]
    assert quantile(values, np.full(1001, 1 / 1001), 0.1) == pytest.approx(0.1, abs=1e-3)


def test_a_power_law_needs_an_exponent_above_zero() -> None:
    with pytest.raises(ValueError, match="more than 0"):
        power_law(None, np.zeros(0), 0.0)
