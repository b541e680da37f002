"""Meshes across the flow: areas and perimeters of circles, one orientation inside every cell, joints that pair."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sections.shapes import annulus, rectangle
from skfem import Basis, ElementQuad2, FacetBasis

from meltzone.geometry.cross_section import CrossSection, disc, ring_of_holes
from meltzone.geometry.errors import GeometryError

MM = 1e-3
SECTIONS = {
    "two holes": ring_of_holes(2, 0.5 * MM, 0.8 * MM, 2.4 * MM),
    "three holes": ring_of_holes(3, 0.5 * MM, 0.8 * MM, 2.4 * MM),
    "twelve holes": ring_of_holes(12, 0.2 * MM, 0.9 * MM, 2.4 * MM),
    "disc": disc(1.0 * MM),
    "narrow sector": disc(1.0 * MM, 24, 6),
    "insert": annulus(0.5 * MM, 1.0 * MM, True),
    "torpedo": annulus(0.5 * MM, 1.0 * MM, False),
    "rectangle": rectangle(1.0 * MM, 2.0 * MM),
}
FLOW_AREA = {
    "two holes": 2 * np.pi * 0.5**2,
    "three holes": 3 * np.pi * 0.5**2,
    "twelve holes": 12 * np.pi * 0.2**2,
    "disc": np.pi,
    "narrow sector": np.pi,
    "insert": 0.75 * np.pi,
    "torpedo": 0.75 * np.pi,
    "rectangle": 2.0,
}


def _area(section: CrossSection, part: str | None = None) -> float:
    basis = Basis(section.mesh, ElementQuad2(), elements=part, intorder=6)
    return float(section.copies * basis.dx.sum())


def _length(section: CrossSection, tag: str) -> float:
    facets = FacetBasis(section.mesh, ElementQuad2(), facets=tag, intorder=6)
    return float(section.copies * facets.dx.sum())


@pytest.mark.parametrize("name", SECTIONS)
def test_area_of_the_flow_is_that_of_the_shape(name: str) -> None:
    assert _area(SECTIONS[name], "polymer") == pytest.approx(FLOW_AREA[name] * MM**2, rel=5e-6)


# wetted perimeters [mm]
PERIMETER = {
    "two holes": 2 * 2 * np.pi * 0.5,
    "three holes": 3 * 2 * np.pi * 0.5,
    "twelve holes": 12 * 2 * np.pi * 0.2,
    "disc": 2 * np.pi,
    "narrow sector": 2 * np.pi,
    "insert": 3 * np.pi,
    "torpedo": 3 * np.pi,
    "rectangle": 6.0,
}


@pytest.mark.parametrize("name", SECTIONS)
def test_the_wetted_perimeter_is_that_of_the_shape(name: str) -> None:
    assert _length(SECTIONS[name], "wetted") == pytest.approx(PERIMETER[name] * MM, rel=1e-5)


@pytest.mark.parametrize("name", SECTIONS)
def test_no_cell_overlaps_itself(name: str) -> None:
    basis = Basis(SECTIONS[name].mesh, ElementQuad2(), intorder=8)
    determinant = basis.mapping.detDF(basis.X)
    assert np.all(np.sign(determinant) == np.sign(determinant[:, :1]))
    assert (np.abs(determinant).min(axis=1) / np.abs(determinant).max(axis=1)).min() > 0.05


@pytest.mark.parametrize("name", ["two holes", "three holes", "twelve holes", "insert"])
def test_both_sides_of_a_joint_have_their_own_nodes_at_the_same_places(name: str) -> None:
    mesh = SECTIONS[name].mesh
    sides = [FacetBasis(mesh, ElementQuad2(), facets=tag) for tag in ("contact polymer", "contact web")]
    places = [np.asarray(side.global_coordinates()) for side in sides]
    np.testing.assert_allclose(places[0], places[1], rtol=0.0, atol=1e-15)
    vertices = [mesh.facets[:, mesh.boundaries[tag]] for tag in ("contact polymer", "contact web")]
    assert not np.intersect1d(*vertices).size


@given(
    count=st.integers(2, 12),
    filled=st.floats(0.2, 0.9),
    ring=st.floats(0.6, 1.4),
    beyond=st.floats(1.1, 3.0),
    cells=st.sampled_from([4, 8, 12]),
)
@settings(max_examples=30, deadline=None)
def test_any_ring_of_holes_is_meshed(count: int, filled: float, ring: float, beyond: float, cells: int) -> None:
    hole = filled * ring * np.sin(np.pi / count)
    outer = beyond * (ring + hole)
    section = ring_of_holes(count, hole, ring, outer, cells)
    assert _area(section, "polymer") == pytest.approx(count * np.pi * hole**2, rel=3e-3)
    assert _area(section) == pytest.approx(np.pi * outer**2, rel=2e-2)
    again = ring_of_holes(count, hole, ring, outer, cells)
    assert np.array_equal(section.mesh.doflocs, again.mesh.doflocs)
    assert np.array_equal(section.mesh.t, again.mesh.t)


def test_area_converges_with_the_fourth_power_of_the_cells() -> None:
    exact = 3 * np.pi * (0.5 * MM) ** 2
    coarse, fine = (
        abs(_area(ring_of_holes(3, 0.5 * MM, 0.8 * MM, 2.4 * MM, n), "polymer") / exact - 1) for n in (8, 16)
    )
    assert np.log2(coarse / fine) == pytest.approx(4.0, abs=0.2)


@pytest.mark.parametrize(
    ("arguments", "key"),
    [
        ((1, 0.3, 0.8, 2.4), "holes"),
        ((13, 0.1, 0.8, 2.4), "holes"),
        ((3, 0.7, 0.8, 2.4), "hole radius"),
        ((3, -0.1, 0.8, 2.4), "hole radius"),
        ((3, 0.5, 0.8, 1.3), "outer radius"),
    ],
)
def test_holes_that_cannot_be(arguments: tuple[int, float, float, float], key: str) -> None:
    with pytest.raises(GeometryError) as caught:
        ring_of_holes(*arguments)
    assert caught.value.key == key


def test_a_torpedo_wider_than_the_bore() -> None:
    with pytest.raises(GeometryError, match="torpedo radius"):
        annulus(1.0 * MM, 0.9 * MM, True)


def test_cells_that_do_not_divide() -> None:
    with pytest.raises(ValueError, match="multiple of four"):
        ring_of_holes(3, 0.3 * MM, 0.8 * MM, 2.4 * MM, 10)
    with pytest.raises(ValueError, match="even number"):
        disc(1.0 * MM, 3)
