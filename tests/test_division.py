"""Splitting, joining and the equivalent passage: areas by sampling, layers and means kept, closed forms of holes as tubes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.special import j0, j1
from sections.chain_march import wall_conductance

from meltzone.fem.across.chain import ChainSections, DividedBore, LinearChain, PlugProperties
from meltzone.fem.across.division import EquivalentPassage, equivalent_passage
from meltzone.fem.across.rearrange import Ring, along_radius, join, sorted_inwards, split
from meltzone.fem.across.section import bore_section, section_of
from meltzone.geometry.cross_section import disc, ring_of_holes
from meltzone.geometry.errors import GeometryError

MM = 1e-3
THREE = Ring(3, 0.5 * MM, 0.8 * MM, 1.0 * MM)
OUTER = 2.4 * MM
PLA = PlugProperties(0.195, 1240.0 * 1955.0, 110.0, 12000.0)
BORE = DividedBore(THREE, OUTER, 6 * MM, 6 * MM, 2 * MM)


# Splitting and joining


def test_share_of_a_hole_inside_a_radius_by_sampling() -> None:
    rng = np.random.default_rng(20)
    distance, turn = THREE.hole * np.sqrt(rng.random(400_000)), 2.0 * np.pi * rng.random(400_000)
    from_axis = np.hypot(THREE.ring + distance * np.cos(turn), distance * np.sin(turn))
    for radius in (0.4 * MM, 0.7 * MM, 0.9 * MM, 1.2 * MM):
        expected = np.mean(from_axis < radius)
        assert THREE.share_inside(np.array([radius]))[0] == pytest.approx(expected, abs=2e-3)


@given(
    count=st.integers(2, 12),
    filled=st.floats(0.1, 0.95),
    share=st.floats(1e-6, 1.0 - 1e-6),
)
def test_radius_of_a_share_and_back(count: int, filled: float, share: float) -> None:
    ring = Ring(count, filled * MM * np.sin(np.pi / count), 1.0 * MM, 1.0 * MM)
    assert ring.share_inside(ring.radius_of(np.array([share])))[0] == pytest.approx(share, abs=1e-5)


def test_shares_grow_as_the_arcs_do() -> None:
    """d(share)/dr = 2 r half_angle / (pi a^2): what keeps areas in proportion along the arc."""
    r = np.linspace(0.35, 1.25, 19) * MM
    step = 1e-7
    slope = (THREE.share_inside(r + step) - THREE.share_inside(r - step)) / (2.0 * step)
    np.testing.assert_allclose(slope, 2.0 * r * THREE.half_angle(r) / (np.pi * THREE.hole**2), rtol=1e-6)


@pytest.mark.parametrize("ring", [THREE, Ring(2, 0.5 * MM, 0.7 * MM, MM), Ring(7, 0.25 * MM, 0.8 * MM, MM)])
def test_split_and_joined_a_round_stream_is_what_it_was(ring: Ring) -> None:
    cross = ring_of_holes(ring.count, ring.hole, ring.ring, OUTER)
    hole, bore = section_of(cross, 110.0, 12000.0), bore_section(ring.bore)
    sector = section_of(disc(ring.bore, 2 * ring.count))
    steep = 100.0 * (bore.places[0] / ring.bore) ** 4
    divided = split(ring, bore, hole) @ steep
    joined = join(ring, cross.mesh, hole, sector) @ divided
    for section, field in ((hole, divided), (sector, joined)):
        assert section.mean(field) == pytest.approx(bore.mean(steep), rel=1e-12)
    expected = 100.0 * (np.hypot(*sector.points) / ring.bore) ** 4
    off = sector.values @ joined - expected
    assert np.sqrt(sector.share @ off**2) < 0.05
    assert np.abs(off).max() < 1.0
    # the cold axis lies on the inner side of the holes, the hot skin on the outer one
    warmth = hole.values @ divided
    distance = np.hypot(*hole.points)
    assert distance[np.argmin(warmth)] < ring.ring - 0.9 * ring.hole
    assert distance[np.argmax(warmth)] > ring.ring + 0.9 * ring.hole


def test_joining_keeps_the_order_along_the_arc() -> None:
    """What lies on the hole's wall lies on the half wedge's ray behind it, what lies on its middle line on that of the hole."""
    cross = ring_of_holes(3, THREE.hole, THREE.ring, OUTER)
    hole, sector = section_of(cross, 110.0, 12000.0), section_of(disc(THREE.bore, 6))
    turn = np.arctan2(hole.places[1], hole.places[0]) / np.maximum(THREE.half_angle(np.hypot(*hole.places)), 1e-9)
    joined = join(THREE, cross.mesh, hole, sector) @ np.clip(turn, 0.0, 1.0)
    radius, angle = np.hypot(*sector.places), np.arctan2(sector.places[1], sector.places[0])
    inside = (radius > 0.3 * MM) & (radius < 0.9 * MM)
    np.testing.assert_allclose(joined[inside], angle[inside] / (np.pi / 3), atol=0.03)


def test_sorted_inwards_is_monotone_and_keeps_the_distribution() -> None:
    cross = ring_of_holes(3, THREE.hole, THREE.ring, OUTER)
    hole, bore = section_of(cross, 110.0, 12000.0), bore_section(THREE.bore)
    field = 1e3 * hole.places[0] ** 2 / MM + hole.places[1]
    line = sorted_inwards(hole, field, bore, THREE.bore)
    assert bore.mean(line) == pytest.approx(hole.mean(field), rel=1e-12)
    spread = np.ptp(hole.values @ field)
    assert np.diff(line[np.argsort(bore.places[0])]).min() > -0.01 * spread
    for share in (0.1, 0.5, 0.9):
        edge = along_radius(bore, np.array([np.sqrt(share) * THREE.bore])) @ line
        assert edge[0] == pytest.approx(hole.coldest(field, share), abs=0.006 * spread)


# The chain and its equivalent


def test_first_mode_of_holes_gives_the_film_back() -> None:
    """Webs that conduct perfectly leave the contact alone: N a / R times it on the bore's wall, no resistance."""
    perfect = ChainSections(BORE.ring, BORE.outer, PlugProperties(0.195, 2.4e6, 1e9, 3000.0), cells=16)
    film = 3000.0 * perfect.contact_ratio
    assert perfect.contact_ratio == pytest.approx(1.5)
    assert perfect.divided_film == pytest.approx(film, rel=1e-4)
    assert abs(perfect.web_resistance) < 1e-4 / film


def test_resistance_of_webs_falls_with_their_conductivity() -> None:
    found = [
        ChainSections(BORE.ring, BORE.outer, PlugProperties(0.195, 2.4e6, k_web, 12000.0), cells=16).web_resistance
        for k_web in (16.0, 160.0)
    ]
    assert found[0] == pytest.approx(10.0 * found[1], rel=0.05)
    assert found[0] > 0.0


def test_far_down_the_holes_act_like_n_times_the_length() -> None:
    """One-term decay at Bi = h a / k over N times the length (Carslaw & Jaeger), webs perfect, no bore before or after."""
    properties = PlugProperties(0.195, 2.4e6, 1e9, 3000.0)
    bore = DividedBore(THREE, OUTER, 0.0, 6 * MM, 0.0)
    flow = 8e-9
    chain = LinearChain(ChainSections(bore.ring, bore.outer, properties, cells=16), bore)
    biot = 3000.0 * THREE.hole / 0.195
    root = brentq(lambda x: x * j1(x) - biot * j0(x), 1e-9, 2.4048)
    amplitude = 2.0 * j1(root) / (root * (j0(root) ** 2 + j1(root) ** 2)) * 2.0 * j1(root) / root
    mean = amplitude * np.exp(-(root**2) * np.pi * 3 * 0.195 * 6 * MM / (2.4e6 * flow))
    assert -chain.by_sections(flow, None) == pytest.approx(mean, rel=2e-3)
    assert -chain.by_equivalent(flow, 3.0, None) == pytest.approx(mean, rel=2e-3)


@pytest.mark.parametrize("share", [0.1, None])
def test_the_passage_gives_the_sections_temperature(share: float | None) -> None:
    passage = equivalent_passage(BORE, PLA, share)
    chain = LinearChain(ChainSections(BORE.ring, BORE.outer, PLA), BORE)
    for flow in np.geomspace(passage.flows[0] * 1.2, passage.flows[-1] / 1.2, 5):
        factor, _ = passage.factor(flow)
        assert chain.by_equivalent(flow, factor, share) == pytest.approx(chain.by_sections(flow, share), abs=2e-3)


def test_the_mesh_of_the_passage_is_fine_enough() -> None:
    passage = equivalent_passage(BORE, PLA)
    fine = LinearChain(ChainSections(BORE.ring, BORE.outer, PLA, cells=16, radial=30), BORE)
    for flow in passage.flows[1:-1:2]:
        factor, _ = passage.factor(flow)
        assert fine.by_equivalent(flow, factor, 0.1) == pytest.approx(fine.by_sections(flow, 0.1), abs=2e-3)


@given(flow=st.floats(1e-9, 1e-6))
@settings(max_examples=50, deadline=None)
def test_slope_of_the_factor(flow: float) -> None:
    passage = equivalent_passage(BORE, PLA)
    step = 1e-5 * flow
    slope = (passage.factor(flow + step)[0] - passage.factor(flow - step)[0]) / (2.0 * step)
    assert passage.factor(flow)[1] == pytest.approx(slope, rel=1e-3, abs=1e-4 / flow)


def test_the_factor_is_flat_beyond_its_flows() -> None:
    passage = EquivalentPassage((1e-9, 1e-8, 1e-7), (3.0, 4.0, 4.5), 1.5, 1e-6)
    assert passage.factor(1e-10) == (pytest.approx(3.0), 0.0)
    assert passage.factor(1e-6) == (pytest.approx(4.5), 0.0)
    assert passage.factor(1e-8)[0] == pytest.approx(4.0)
    assert wall_conductance(passage, 12000.0) == pytest.approx(1.0 / (1.0 / 18000.0 + 1e-6))


@pytest.mark.parametrize(
    ("outer", "lengths"), [(0.9, (1, 1, 1)), (2.4, (-1, 1, 1)), (2.4, (1, 0, 1)), (2.4, (1, 1, -1))]
)
def test_a_division_that_cannot_be(outer: float, lengths: tuple[int, int, int]) -> None:
    with pytest.raises(GeometryError):
        DividedBore(THREE, outer * MM, *(length * MM for length in lengths))


@given(
    count=st.integers(2, 12),
    filled=st.floats(0.3, 0.9),
    ring=st.floats(0.5, 1.2),
    lengths=st.tuples(st.floats(0.0, 15.0), st.floats(1.0, 10.0), st.floats(0.0, 5.0)),
    web=st.sampled_from([16.0, 110.0, 380.0]),
    contact=st.floats(200.0, 1e5),
)
@settings(max_examples=20, deadline=None)
def test_any_division_has_a_passage(
    count: int, filled: float, ring: float, lengths: tuple[float, float, float], web: float, contact: float
) -> None:
    hole = filled * ring * np.sin(np.pi / count)
    shape = Ring(count, hole * MM, ring * MM, MM)
    bore = DividedBore(shape, 1.2 * max(ring + hole, 1.0) * MM, *(length * MM for length in lengths))
    passage = equivalent_passage(bore, PlugProperties(0.195, 2.4e6, web, contact))
    assert np.all(np.isfinite(passage.factors))
    assert np.all(np.diff(passage.flows) > 0.0)
    assert wall_conductance(passage, contact) > 0.0


def test_holes_far_out_leave_a_wall_that_conducts() -> None:
    """Two wide holes in stainless steel, their middle outside the bore: the metal that they save would outweigh the contact."""
    bore = DividedBore(Ring(2, 0.9 * MM, 1.2 * MM, MM), 2.52 * MM, 0.0, MM, 0.0)
    properties = PlugProperties(0.195, 2.4e6, 16.0, 30125.0)
    sections = ChainSections(bore.ring, bore.outer, properties)
    assert 1.0 / sections.divided_film - sections.metal < 0.1 / (30125.0 * sections.contact_ratio)
    passage = equivalent_passage(bore, properties)
    assert wall_conductance(passage, 30125.0) == pytest.approx(10.0 * 30125.0 * sections.contact_ratio, rel=1e-9)
