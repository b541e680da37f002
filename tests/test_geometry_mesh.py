"""The mesh of a section: no inverted cell, no gap, every tag in its place, volumes and areas as the drawing gives them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support import ARRANGEMENTS, KINDS, LONG_NOZZLE, arrangements, problem_for

from meltzone.fem.discretise import law_of
from meltzone.fem.inputs import SOLID_PARTS
from meltzone.fem.space import Space
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.covers import Wrap
from meltzone.geometry.faces import CONTACT_NAMES, FACES, contact_name
from meltzone.geometry.mesh import SectionMesh, build_section, cells_of
from meltzone.geometry.nozzle import Nozzle

COARSE = -1.0
EVERY = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
TAGS = {"inlet", "outlet", "melt zone end", "cold joint", "insulated top"}


# closed forms -----------------------------------------------------------------------------------------------------------


def cylinder(radius: float, height: float) -> float:
    return math.pi * radius**2 * height


def frustum(r1: float, r2: float, height: float) -> float:
    return math.pi * height / 3.0 * (r1**2 + r1 * r2 + r2**2)


def lateral(r1: float, r2: float, height: float) -> float:
    return math.pi * (r1 + r2) * math.hypot(height, r2 - r1)


def disc(width: float, depth: float) -> float:
    """Radius of the disc of the area of a rectangle."""
    return math.sqrt(width * depth / math.pi)


def annulus(inner: float, outer: float) -> float:
    return math.pi * (outer**2 - inner**2)


def ridges(a: Arrangement) -> int:
    """Whole thread ridges on the bare length."""
    bare = a.block_bottom - a.nozzle.shoulder - (a.sleeve.height if a.sleeve else 0.0)
    return int(bare / a.nozzle.thread.pitch + 1e-9) if a.nozzle.exposed_thread == "rings" else 0


def ridge(a: Arrangement) -> list[tuple[float, float, float]]:
    """Frustums (r1, r2, height) of one pitch: crest P/8, flanks 17 P/48 each, root P/6 (from the basic profile, ISO 68-1)."""
    p, crest, root = a.nozzle.thread.pitch, a.nozzle.thread.crest_radius, a.nozzle.thread.root_radius
    return [(crest, crest, p / 8), (crest, root, 17 * p / 48), (root, root, p / 6), (root, crest, 17 * p / 48)]


def extra_of_ridges(a: Arrangement) -> float:
    """Volume that the ridges add to the pitch cylinder."""
    whole = sum(frustum(*f) for f in ridge(a))
    return ridges(a) * (whole - cylinder(a.nozzle.thread.pitch_radius, a.nozzle.thread.pitch))


Pieces = list[tuple[float, float, float]]


def passage_pieces(a: Arrangement) -> tuple[Pieces, Pieces, Pieces]:
    """Frustums (r below, r above, height) of the passage: in the nozzle, above it in the block, and above the block.

    The shoulder of a step is as high as the radii differ and lies in the wider part.
    """
    n, top = a.nozzle, a.block_top
    orifice, upper = n.orifice / 2, n.bore / 2
    lower = upper if n.lower_bore is None else n.lower_bore / 2
    steps = [(n.length, upper, a.heat_break.bore / 2)]
    if a.liner:
        inner, end = a.liner.inner_diameter / 2, n.length if a.liner.end is None else top - a.liner.end
        steps = [(end, upper, inner)] if end - n.length < 1e-6 else [*steps, (end, a.heat_break.bore / 2, inner)]
    heights, radii = [0.0, n.land], [orifice, orifice]

    def to(z: float, r: float) -> None:
        heights.append(z)
        radii.append(r)

    to(n.land + (lower - orifice) / math.tan(n.cone_angle / 2), lower)
    if n.lower_bore_length is not None:
        end = heights[-1] + n.lower_bore_length
        steps = steps if n.taper_length else [(end, lower, upper), *steps]
        if n.taper_length:
            to(end, lower)
            to(end + n.taper_length, upper)
    for z, below, above in steps:
        to(min(z, z + above - below), below)
        to(max(z, z + above - below), above)
    to(a.top, radii[-1])
    found: list[Pieces] = []
    for low, high in ((0.0, n.length), (n.length, top), (top, a.top)):
        z = np.unique([low, high, *(h for h in heights if low < h < high)])
        r = np.interp(z, heights, radii)
        found.append(list(zip(r[:-1], r[1:], np.diff(z), strict=True)))
    return found[0], found[1], found[2]


def volume_of(pieces: Pieces) -> float:
    return sum(frustum(*piece) for piece in pieces)


def bare_pieces(a: Arrangement) -> Iterable[tuple[float, float, float]]:
    """Outside below the block, as (radius, lower, upper): hexagon, thread, sleeve."""
    n = a.nozzle
    sleeve_bottom = a.block_bottom - (a.sleeve.height if a.sleeve else 0.0)
    yield n.hexagon_radius, n.tip_cone_height, n.shoulder
    yield n.thread.pitch_radius, n.shoulder, sleeve_bottom
    if a.sleeve:
        yield a.sleeve.radius, sleeve_bottom, a.block_bottom


def wrap_volume(a: Arrangement) -> float:
    """Slab by slab: from what is bare outwards to the farthest of boot and wrap."""
    assert a.wrap
    t, total = a.wrap.thickness, 0.0
    skin = max(a.block_bottom - t, a.nozzle.tip_cone_height) if "block" in a.wrap.covers else a.block_bottom
    for radius, lower, upper in bare_pieces(a):
        for z0, z1 in ((lower, min(upper, skin)), (max(lower, skin), upper)):
            outer = radius + t if "nozzle" in a.wrap.covers else radius
            if z0 >= skin:
                outer = max(outer, a.block.radius + t)
            total += annulus(radius, outer) * max(z1 - z0, 0.0)
    # ridges stand in the wrap wherever it covers the thread
    lower, upper = a.nozzle.shoulder, a.nozzle.shoulder + ridges(a) * a.nozzle.thread.pitch
    if "nozzle" in a.wrap.covers or skin <= lower:
        total -= extra_of_ridges(a)
    elif skin < upper:
        total = math.nan  # the boot's skin ends inside a ridge: left out
    if "block" in a.wrap.covers:
        total += annulus(a.block.radius, a.block.radius + t) * a.block.height
        if a.second_block:
            above = disc(a.second_block.width, a.second_block.depth)
            total += annulus(above, above + t) * a.second_block.height
    return total


def passage_radius(a: Arrangement, level: float) -> float:
    """Radius of the passage at a `level` where one of its pieces begins."""
    z = 0.0
    for r1, _, height in (piece for pieces in passage_pieces(a) for piece in pieces):
        if abs(z - level) < 1e-8:
            return r1
        z += height
    raise AssertionError("no piece begins there")


def volume_below(a: Arrangement, level: float) -> float:
    """Volume of the passage below `level`, by its pieces."""
    total, z = 0.0, 0.0
    for r1, r2, height in (piece for pieces in passage_pieces(a) for piece in pieces):
        within = min(max(level - z, 0.0), height)
        total += frustum(r1, r1 + (r2 - r1) * within / height, within) if within else 0.0
        z += height
    return total


def volumes(a: Arrangement) -> dict[str, float]:
    n, h = a.nozzle, a.heat_break
    pitch, rod = n.thread.pitch_radius, a.filament.diameter / 2
    above = h.neck_length + h.cooled_length
    below_joint, above_joint, above_block = map(volume_of, passage_pieces(a))
    found = {
        "nozzle": frustum(n.tip_diameter / 2, n.hexagon_radius, n.tip_cone_height)
        + cylinder(n.hexagon_radius, n.hexagon_height)
        + cylinder(pitch, n.length - n.shoulder)
        + extra_of_ridges(a)
        - below_joint,
        "polymer": below_joint + above_joint + cylinder(rod, above),
        "gap": above_block - cylinder(rod, above),
        "block": annulus(pitch, disc(a.block.width, a.block.depth)) * a.block.height,
        "heat break": cylinder(pitch, a.engaged)
        + cylinder(pitch, h.cooled_length)
        + cylinder(h.neck_diameter / 2, h.neck_length)
        - above_joint
        - above_block,
        "heater": annulus(a.block.heater_inner, a.block.heater_outer) * (a.block_top - a.block_bottom),
    }
    if a.second_block:
        second = a.second_block
        found["second block"] = annulus(pitch, disc(second.width, second.depth)) * second.height
    if a.sleeve:
        found["sleeve"] = annulus(pitch, a.sleeve.radius) * a.sleeve.height
    if a.wrap:
        found["wrap"] = wrap_volume(a)
    if a.liner:
        length = a.top - a.liner_end
        inside = below_joint + above_joint + above_block - volume_below(a, a.liner_end)
        found["liner"] = cylinder(a.liner.outer_diameter / 2, length) - inside
        found["heat break"] -= found["liner"]
    return found


# what the mesh holds ----------------------------------------------------------------------------------------------------


def measured_volumes(section: SectionMesh) -> dict[str, float]:
    """Revolved volume of every part by the exact formula for a polygon (Pappus), independent of any quadrature."""
    r, z = section.mesh.p[:, section.mesh.t]
    r2, z2 = np.roll(r, -1, axis=0), np.roll(z, -1, axis=0)
    cross = r * z2 - r2 * z
    moment = 2.0 * math.pi * np.sum((r + r2) * cross, axis=0) / 6.0
    return {name: float(moment[cells].sum()) for name, cells in section.mesh.subdomains.items()}


def measured_area(section: SectionMesh, name: str) -> float:
    r, z = section.mesh.p[:, section.mesh.facets[:, section.mesh.boundaries[name]]]
    return float(np.sum(math.pi * r.sum(axis=0) * np.hypot(*(np.diff(x, axis=0)[0] for x in (r, z)))))


def jacobians(section: SectionMesh) -> np.ndarray:
    """Determinant of every cell's map at the 16 quadrature points and the corners, (n, 25) [m2]."""
    x = np.concatenate([[0.0, 1.0], (np.polynomial.legendre.leggauss(4)[0] + 1.0) / 2.0])
    s, t = (g.ravel() for g in np.meshgrid(x, x))
    p = section.mesh.p[:, section.mesh.t]  # (2, 4, n), anticlockwise
    by_s = (p[:, 1] - p[:, 0])[..., None] * (1 - t) + (p[:, 2] - p[:, 3])[..., None] * t
    by_t = (p[:, 3] - p[:, 0])[..., None] * (1 - s) + (p[:, 2] - p[:, 1])[..., None] * s
    return by_s[0] * by_t[1] - by_s[1] * by_t[0]


def check_sound(section: SectionMesh) -> None:
    """Everything that must hold of every mesh."""
    mesh, a = section.mesh, section.arrangement
    det = jacobians(section)
    assert det.min() > 0.0
    assert np.all(det.min(axis=1) > 0.02 * det.max(axis=1))
    # every cell belongs to exactly one part; every tag holds something; names are the known ones
    owners = np.concatenate([mesh.subdomains[part] for part in section.parts])
    assert np.array_equal(np.sort(owners), np.arange(mesh.nelements))
    assert all(cells.size for cells in mesh.subdomains.values())
    assert all(facets.size for facets in mesh.boundaries.values())
    assert set(mesh.boundaries) >= TAGS
    assert {face.name for face in section.exposed} <= set(FACES)
    assert {contact.name for contact in section.contacts} <= set(CONTACT_NAMES)
    assert all(face.length > 0 and face.width > 0 and 0.5 < face.area_ratio < 2.0 for face in section.exposed)
    check_contacts(section)
    check_outside(section)
    expected, found = volumes(a), measured_volumes(section)
    assert set(found) == set(expected)
    for part, volume in expected.items():
        if not math.isnan(volume):
            assert found[part] == pytest.approx(volume, rel=1e-12 if part == "polymer" else 1e-11), part


def check_contacts(section: SectionMesh) -> None:
    """Both sides of every contact hold the same points, different nodes, and cells of the parts named."""
    mesh = section.mesh
    for contact in section.contacts:
        assert contact.facets_first.size == contact.facets_second.size > 0
        first, second = (mesh.facets[:, f] for f in (contact.facets_first, contact.facets_second))
        for nodes in zip(first.T, second.T, strict=True):
            here, there = ({tuple(mesh.p[:, i]) for i in pair} for pair in nodes)
            assert here == there
        assert not np.any(np.all(np.sort(first, axis=0) == np.sort(second, axis=0), axis=0))
        for facets, part in ((contact.facets_first, contact.first), (contact.facets_second, contact.second)):
            assert np.all(mesh.f2t[1, facets] == -1)
            assert np.isin(mesh.f2t[0, facets], mesh.subdomains[part]).all()


def check_outside(section: SectionMesh) -> None:
    """Every facet with one cell is the axis, a face, a contact or an end of the section, and one of these only."""
    mesh = section.mesh
    outside = mesh.boundary_facets()
    on_axis = outside[np.abs(mesh.p[0, mesh.facets[:, outside]]).max(axis=0) < 1e-12]
    tagged = np.concatenate([f for name, f in mesh.boundaries.items() if name != "melt zone end"])
    together = np.concatenate([tagged, on_axis])
    assert np.array_equal(np.sort(together), np.sort(outside))


# tests ------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_everyday_sections_are_sound_and_have_the_drawn_volumes(kind: str) -> None:
    check_sound(build_section(ARRANGEMENTS[kind], 0.0))


@EVERY
@given(arrangements())
def test_any_section_is_sound_and_has_the_drawn_volumes(arrangement: Arrangement) -> None:
    check_sound(build_section(arrangement, COARSE))


@pytest.mark.parametrize("thickness", [0.05e-3, 0.1e-3, 0.2e-3, 0.3e-3])
def test_a_tape_thinner_than_the_ridges_is_sound_or_refused(thickness: float) -> None:
    from meltzone.geometry.errors import GeometryError  # only here

    nozzle = replace(LONG_NOZZLE, exposed_thread="rings")
    try:
        arrangement = Arrangement(nozzle=nozzle, wrap=Wrap(thickness, ("nozzle",)))
    except GeometryError as fault:
        assert fault.key in ("wrap.thickness", "nozzle.exposed_thread")
        return
    assert jacobians(build_section(arrangement, COARSE)).min() > 0.0


def flat_sided(a: Arrangement) -> dict[str, float]:
    """True areas of what is no round: boxes and hexagons, by width across the flats."""
    n, six = a.nozzle, 2.0 * math.sqrt(3.0)
    areas = {"nozzle hexagon": six * n.hexagon * n.hexagon_height}
    for name, box in (("block side", a.block), ("second block side", a.second_block or a.block)):
        areas[name] = 2.0 * (box.width + box.depth) * box.height
    if a.sleeve:
        areas["sleeve side"] = (math.pi if a.sleeve.round else six) * a.sleeve.width * a.sleeve.height
    return areas


@EVERY
@given(arrangements())
def test_faces_that_no_wrap_hides_have_the_drawn_areas(arrangement: Arrangement) -> None:
    a = replace(arrangement, wrap=None)
    section = build_section(a, COARSE)
    n, h, pitch = a.nozzle, a.heat_break, a.nozzle.thread.pitch_radius
    bare = a.block_bottom - n.shoulder - (a.sleeve.height if a.sleeve else 0.0)
    rings = ridges(a)
    thread = rings * sum(lateral(*f) for f in ridge(a)) + lateral(pitch, pitch, bare - rings * n.thread.pitch)
    hidden = a.sleeve.radius if a.sleeve else pitch
    buried = bool(a.sleeve) and bare < 1e-8
    expected = {
        "nozzle tip": annulus(n.orifice / 2, n.tip_diameter / 2),
        "nozzle cone": lateral(n.tip_diameter / 2, n.hexagon_radius, n.tip_cone_height),
        "nozzle hexagon": lateral(n.hexagon_radius, n.hexagon_radius, n.hexagon_height),
        "block side": lateral(a.block.radius, a.block.radius, a.block.height),
        "heat break top": annulus(h.neck_diameter / 2, pitch),
        "neck": lateral(h.neck_diameter / 2, h.neck_diameter / 2, h.neck_length),
        "flange": annulus(h.neck_diameter / 2, pitch),
        "cold joint": lateral(pitch, pitch, h.cooled_length),
        "inlet": annulus(0.0, a.filament.diameter / 2),
        "outlet": annulus(0.0, n.orifice / 2),
        "melt zone end": annulus(0.0, n.orifice / 2),
    }
    if a.sleeve:
        expected["sleeve side"] = lateral(hidden, hidden, a.sleeve.height)
    if bare > 1e-8:
        expected["nozzle thread"] = thread
        expected["nozzle shoulder"] = annulus(pitch, n.hexagon_radius)
        expected["block bottom"] = annulus(hidden, a.block.radius)
        if a.sleeve:
            expected["sleeve bottom"] = annulus(pitch, a.sleeve.radius)
    elif buried:
        expected["sleeve bottom"] = annulus(min(n.hexagon_radius, hidden), hidden)
        expected["block bottom"] = annulus(hidden, a.block.radius)
    else:
        expected["block bottom"] = annulus(n.hexagon_radius, a.block.radius)
    if a.sleeve and a.sleeve.radius > a.block.radius:
        expected["sleeve top"] = annulus(a.block.radius, a.sleeve.radius)
        del expected["block bottom"]
    if a.second_block:
        below, above = a.block.radius, disc(a.second_block.width, a.second_block.depth)
        expected["second block top"] = annulus(pitch, above)
        expected["second block side"] = lateral(above, above, a.second_block.height)
        if below > above + 1e-8:
            expected["block top"] = annulus(above, below)
        if above > below + 1e-8:
            expected["second block bottom"] = annulus(below, above)
    else:
        expected["block top"] = annulus(pitch, a.block.radius)
    for name, area in expected.items():
        assert measured_area(section, name) == pytest.approx(area, rel=1e-11), name
    assert {face.name for face in section.exposed} == set(expected) - TAGS
    expected |= flat_sided(a)
    for face in (face for face in section.exposed if face.name != "nozzle thread"):  # has a test of its own
        true = face.area_ratio * measured_area(section, face.name)
        assert true == pytest.approx(expected[face.name], rel=1e-11), face.name


@EVERY
@given(arrangements())
def test_a_wrap_has_the_area_of_its_box_and_of_its_rounds(arrangement: Arrangement) -> None:
    a = replace(arrangement, wrap=arrangement.wrap or Wrap())
    assert a.wrap
    section, t = build_section(a, COARSE), a.wrap.thickness
    side = next(face for face in section.exposed if face.name == "wrap side")
    facets = section.mesh.facets[:, section.mesh.boundaries["wrap side"]]
    radius, height = section.mesh.p[0, facets].mean(axis=0), np.abs(np.diff(section.mesh.p[1, facets], axis=0))[0]
    middle = section.mesh.p[1, facets].mean(axis=0)
    outline = 2.0 * math.pi * radius  # round, but for the boots round the blocks
    for part, box, bottom, high in a.blocks:
        low = bottom - t if part == "block" else bottom
        if "block" in a.wrap.covers:
            boot = (abs(radius - box.radius - t) < 1e-9) & (middle > low) & (middle < high)
            outline[boot] = 2.0 * (box.width + box.depth) + 8.0 * t
    true = float(outline @ height)
    assert side.area_ratio * measured_area(section, "wrap side") == pytest.approx(true, rel=1e-9)


def test_every_part_seen_from_every_side_has_a_name_and_every_two_parts_meet_in_a_contact_with_a_law() -> None:
    metal = [part for part in SOLID_PARTS if part != "liner"]  # which the heat break closes in
    assert {(face.part, face.orientation) for face in FACES.values()} == set(product(metal, ("side", "up", "down"))) - {
        ("tip", "up"),  # under the body, which is as wide or wider
        ("break body", "side"),  # in the block or at the heat sink
    }
    met = {contact_name(a, b, flat) for a, b in permutations([*SOLID_PARTS, "polymer"], 2) for flat in (True, False)}
    assert met == set(CONTACT_NAMES)
    problem = problem_for()
    assert all(law_of(problem, name)(np.array([5e-3]), 1e-9)[0] > 0.0 for name in CONTACT_NAMES)
    assert {contact_name("gap", part, False) for part in ("polymer", "heat break", "liner")} == {None}


@EVERY
@given(arrangements())
def test_contacts_have_the_drawn_areas(arrangement: Arrangement) -> None:
    a = replace(arrangement, wrap=None)
    section, n = build_section(a, COARSE), a.nozzle
    pitch, bore = n.thread.pitch_radius, passage_pieces(a)[1][0][0]
    in_nozzle, in_heat_break, _ = (sum(lateral(*piece) for piece in pieces) for pieces in passage_pieces(a))
    on_nozzle = a.liner is not None and a.liner_end == a.joint
    expected = {
        "bore: nozzle to polymer": in_nozzle,
        "shoulder: nozzle to heat break": annulus(a.liner.outer_diameter / 2 if a.liner and on_nozzle else bore, pitch),
        "thread: heat break to block": lateral(pitch, pitch, a.nozzle.exposed + a.block.height - n.length),
    }
    if a.second_block:
        second = a.second_block
        expected["thread: heat break to second block"] = lateral(pitch, pitch, second.height)
        expected["blocks: block to second block"] = annulus(
            pitch, min(a.block.radius, disc(second.width, second.depth))
        )
    if a.liner is None or a.liner_end > a.block_top:
        expected["bore: heat break to polymer"] = in_heat_break
    if a.liner:
        outer, length = a.liner.outer_diameter / 2, a.top - a.liner_end
        ledge = annulus(passage_radius(a, a.liner_end), outer)
        beside = "liner: heat break to liner"
        expected[beside] = lateral(outer, outer, length) + (0.0 if on_nozzle else ledge)
        if on_nozzle:
            expected["liner: liner to nozzle"] = ledge
            expected["bore: liner to polymer"] = in_heat_break
    if a.sleeve:
        expected["sleeve thread: sleeve to nozzle"] = lateral(pitch, pitch, a.sleeve.height)
        expected["sleeve face: sleeve to block"] = annulus(pitch, min(a.sleeve.radius, a.block.radius))
    for name, area in expected.items():
        contact, sides = name.split(": ")
        first, second = sides.split(" to ")
        # levels closer than 10 nm are drawn as one
        assert measured_area(section, name) == pytest.approx(area, rel=1e-11, abs=2.0 * np.pi * bore * 1e-8), name
        assert measured_area(section, f"{contact}: {second} to {first}") == measured_area(section, name), name
    # where the hexagon is flush with the block its face touches too, whatever that contact is called
    flush = annulus(pitch, n.hexagon_radius) if abs(a.block_bottom - n.shoulder) < 1e-8 else 0.0
    touching = sum(
        measured_area(section, name) for name in section.mesh.boundaries if name.endswith(": block to nozzle")
    )
    assert touching == pytest.approx(lateral(pitch, pitch, n.length - n.exposed) + flush, rel=1e-11)


def test_a_flush_hexagon_is_no_thread() -> None:
    a = Arrangement(nozzle=Nozzle(exposed=4.5e-3))
    section, pitch = build_section(a, COARSE), a.nozzle.thread.pitch_radius
    thread = lateral(pitch, pitch, a.nozzle.length - a.nozzle.exposed)
    assert measured_area(section, "thread: block to nozzle") == pytest.approx(thread, rel=1e-11)


def test_wrapped_faces_carry_the_outside_of_the_wrap() -> None:
    a = ARRANGEMENTS["boot"]
    section, t = build_section(a, 0.0), a.wrap.thickness if a.wrap else 0.0
    outer = a.block.radius + t
    assert measured_area(section, "wrap side") == pytest.approx(lateral(outer, outer, a.block.height + t), rel=1e-12)
    bottom = annulus(a.nozzle.hexagon_radius, outer)
    assert measured_area(section, "wrap bottom") == pytest.approx(bottom, rel=1e-12)
    assert "block side" not in section.mesh.boundaries
    assert "block bottom" not in section.mesh.boundaries
    side = next(face for face in section.exposed if face.name == "wrap side")
    true = 2 * (a.block.width + a.block.depth + 4 * t) * (a.block.height + t)
    assert side.area_ratio * measured_area(section, "wrap side") == pytest.approx(true, rel=1e-12)


def test_true_areas_of_block_and_hexagon() -> None:
    section = build_section(Arrangement(), COARSE)
    true = {face.name: face.area_ratio * measured_area(section, face.name) for face in section.exposed}
    assert true["block side"] == pytest.approx(2 * (23e-3 + 16e-3) * 11.5e-3, rel=1e-12)
    assert true["nozzle hexagon"] == pytest.approx(2 * math.sqrt(3) * 7e-3 * 2.5e-3, rel=1e-12)


def test_smooth_and_ringed_thread_offer_the_same_area() -> None:
    smooth = build_section(ARRANGEMENTS["long nozzle"], COARSE)
    ringed = build_section(ARRANGEMENTS["rings"], COARSE)
    whole = replace(LONG_NOZZLE, exposed=LONG_NOZZLE.shoulder + 9e-3)  # nine pitches and no rest
    for section in (smooth, ringed):
        assert measured_area(section, "nozzle thread") > 0
    smooth = build_section(Arrangement(nozzle=whole), COARSE)
    ringed = build_section(Arrangement(nozzle=replace(whole, exposed_thread="rings")), COARSE)
    ratio = next(face.area_ratio for face in smooth.exposed if face.name == "nozzle thread")
    assert next(face.area_ratio for face in ringed.exposed if face.name == "nozzle thread") == 1.0
    area = measured_area(smooth, "nozzle thread")
    assert measured_area(ringed, "nozzle thread") == pytest.approx(ratio * area, rel=1e-12)


@EVERY
@given(arrangements(), st.sampled_from([-1.0, 0.0, 0.5]))
def test_same_input_gives_the_same_mesh_bit_for_bit(arrangement: Arrangement, level: float) -> None:
    one, two = build_section(arrangement, level), build_section(replace(arrangement), level)
    assert np.array_equal(one.mesh.p, two.mesh.p)
    assert np.array_equal(one.mesh.t, two.mesh.t)
    assert list(one.mesh.boundaries) == list(two.mesh.boundaries)
    assert all(np.array_equal(f, two.mesh.boundaries[name]) for name, f in one.mesh.boundaries.items())


@pytest.mark.parametrize("kind", KINDS)
def test_level_one_has_ten_thousand_unknowns_and_levels_double(kind: str) -> None:
    sizes = [Space(build_section(ARRANGEMENTS[kind], level)).size for level in (1.0, 2.0, 3.0)]
    assert 8000 < sizes[0] < 17000
    # lines that the parts demand are there at every level, so a level up is a little less than twice
    assert 1.5 < sizes[1] / sizes[0] < 2.3
    assert 1.6 < sizes[2] / sizes[1] < 2.3


@EVERY
@given(arrangements(), st.sampled_from([-1.0, 0.5]))
def test_the_cells_of_a_mesh_are_told_before_it_is_built(arrangement: Arrangement, level: float) -> None:
    section = build_section(arrangement, level)
    assert cells_of(arrangement, level) == section.mesh.nelements
    assert Space(section).size == pytest.approx(4 * section.mesh.nelements, rel=0.2)


def test_cells_are_finest_at_the_bore_wall() -> None:
    section = build_section(Arrangement(), 1.0)
    mesh, polymer = section.mesh, section.mesh.subdomains["polymer"]
    r, z = mesh.p[:, mesh.t[:, polymer]]
    row = (z.min(axis=0) < 8e-3) & (z.max(axis=0) > 8e-3)
    width, place = np.ptp(r[:, row], axis=0), r[:, row].max(axis=0)
    assert width[place.argmax()] < 0.5 * width[place.argmin()]


def test_steep_and_flat_cones_of_a_wide_nozzle_are_sound() -> None:
    for angle in (45.0, 90.0, 140.0):
        check_sound(build_section(Arrangement(nozzle=Nozzle(cone_angle=math.radians(angle))), COARSE))
