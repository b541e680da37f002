"""The section of a hot end as polygons, glued and meshed with triangles by a general-purpose mesher; lengths in mm."""

from __future__ import annotations

import math
from dataclasses import dataclass

import ngsolve as ng
from netgen import occ

from meltzone.geometry.arrangement import Arrangement

Point = tuple[float, float]
ON_LINE = 1e-6  # an edge's middle closer than this to a named line belongs to it [mm]


@dataclass(frozen=True)
class NamedLine:
    """A straight line of the section that carries a face or a contact; `size` is the triangle size along it [mm]."""

    name: str
    start: Point
    end: Point
    size: float | None = None

    def holds(self, r: float, z: float) -> bool:
        """Whether (r, z) lies on the line, ends excluded."""
        (r0, z0), (r1, z1) = self.start, self.end
        length = math.hypot(r1 - r0, z1 - z0)
        off = ((r - r0) * (z1 - z0) - (z - z0) * (r1 - r0)) / length
        along = ((r - r0) * (r1 - r0) + (z - z0) * (z1 - z0)) / length
        return abs(off) < ON_LINE and 0.0 < along < length


@dataclass(frozen=True)
class Levels:
    """Heights and radii of the section that its polygons share [mm]."""

    land: float
    cone: float
    tip_cone: float
    shoulder: float
    bottom: float
    joint: float
    filled: float
    top: float
    neck_top: float
    end: float
    orifice: float
    filament: float
    bore: float
    neck: float
    pitch: float
    hexagon: float
    tip: float
    block: float
    heater_inner: float
    heater_outer: float
    sleeve: float
    sleeve_bottom: float

    @classmethod
    def of(cls, a: Arrangement) -> Levels:
        """Work them out from the dimensions of the parts alone."""
        n, b, h = a.nozzle, a.block, a.heat_break
        cone_height = (n.bore - n.orifice) / 2.0 / math.tan(n.cone_angle / 2.0)
        top = n.exposed + b.height
        gap = (n.bore - a.filament.diameter) / 2.0
        pitch_radius = (n.thread.diameter - 0.649519 * n.thread.pitch) / 2.0  # ISO 724: d2 = d - 0.649519 P
        equal_area = math.sqrt(math.sqrt(3.0) / 2.0 / math.pi)  # radius of a hexagon's circle over its flats
        sleeve = a.sleeve
        sleeve_share = 0.5 if sleeve and sleeve.round else equal_area
        metres = {
            "land": n.land,
            "cone": n.land + cone_height,
            "tip_cone": n.tip_cone_height,
            "shoulder": n.tip_cone_height + n.hexagon_height,
            "bottom": n.exposed,
            "joint": n.length,
            "filled": top - min(4.0 * gap, (top - n.length) / 2.0),
            "top": top,
            "neck_top": top + h.neck_length,
            "end": top + h.neck_length + h.cooled_length,
            "orifice": n.orifice / 2.0,
            "filament": a.filament.diameter / 2.0,
            "bore": n.bore / 2.0,
            "neck": h.neck_diameter / 2.0,
            "pitch": pitch_radius,
            "hexagon": n.hexagon * equal_area,
            "tip": n.tip_diameter / 2.0,
            "block": math.sqrt(b.width * b.depth / math.pi),
            "heater_inner": b.heater_radius - b.heater_width / 2.0,
            "heater_outer": b.heater_radius + b.heater_width / 2.0,
            "sleeve": sleeve.width * sleeve_share if sleeve else 0.0,
            "sleeve_bottom": n.exposed - sleeve.height if sleeve else n.exposed,
        }
        return cls(**{name: 1e3 * value for name, value in metres.items()})


def polygons(at: Levels, sleeved: bool) -> list[tuple[str, list[Point]]]:
    """Corners of every part, anticlockwise; the passage is cut where its velocity has a kink, its cone being "converging"."""
    passage = [
        [(0, 0), (at.orifice, 0), (at.orifice, at.land), (0, at.land)],
        [(0, at.land), (at.orifice, at.land), (at.bore, at.cone), (0, at.cone)],
        [(0, at.cone), (at.bore, at.cone), (at.bore, at.joint), (0, at.joint)],
        [(0, at.joint), (at.bore, at.joint), (at.bore, at.filled), (0, at.filled)],
        _box(0, at.filament, at.filled, at.top),
        _box(at.filament, at.bore, at.filled, at.top),
        _box(0, at.filament, at.top, at.end),
    ]
    nozzle = [(at.orifice, 0), (at.tip, 0), (at.hexagon, at.tip_cone), (at.hexagon, at.shoulder)]
    nozzle += [(at.pitch, at.shoulder), (at.pitch, at.joint), (at.bore, at.joint), (at.bore, at.cone)]
    nozzle += [(at.orifice, at.land)]
    heat_break = [(at.bore, at.joint), (at.pitch, at.joint), (at.pitch, at.top), (at.neck, at.top)]
    heat_break += [(at.neck, at.neck_top), (at.pitch, at.neck_top), (at.pitch, at.end), (at.bore, at.end)]
    parts = [("polymer", corners) for corners in passage]
    parts[1] = ("converging", passage[1])
    parts += [("gap", _box(at.filament, at.bore, at.top, at.end)), ("nozzle", nozzle), ("heatbreak", heat_break)]
    parts += [("block", _box(at.pitch, at.heater_inner, at.bottom, at.top))]
    parts += [("heater", _box(at.heater_inner, at.heater_outer, at.bottom, at.top))]
    if at.block - at.heater_outer > ON_LINE:
        parts += [("block", _box(at.heater_outer, at.block, at.bottom, at.top))]
    if sleeved:
        parts += [("sleeve", _box(at.pitch, at.sleeve, at.sleeve_bottom, at.bottom))]
    return parts


def _box(r0: float, r1: float, z0: float, z1: float) -> list[Point]:
    return [(r0, z0), (r1, z0), (r1, z1), (r0, z1)]


def named_lines(at: Levels, sleeved: bool, fine: float) -> list[NamedLine]:
    """Faces to the air, contacts and ends; the names of faces are those of the loss correlations' table."""
    shadow = at.sleeve if sleeved else at.pitch
    lines = [
        NamedLine("inlet", (0, at.end), (at.filament, at.end)),
        NamedLine("outlet", (0, 0), (at.orifice, 0), fine / 2.0),
        NamedLine("nozzle tip", (at.orifice, 0), (at.tip, 0)),
        NamedLine("nozzle cone", (at.tip, 0), (at.hexagon, at.tip_cone)),
        NamedLine("nozzle hexagon", (at.hexagon, at.tip_cone), (at.hexagon, at.shoulder)),
        NamedLine("nozzle shoulder", (at.pitch, at.shoulder), (at.hexagon, at.shoulder)),
        NamedLine("block bottom", (shadow, at.bottom), (at.block, at.bottom)),
        NamedLine("block side", (at.block, at.bottom), (at.block, at.top)),
        NamedLine("block top", (at.pitch, at.top), (at.block, at.top)),
        NamedLine("heat break top", (at.neck, at.top), (at.pitch, at.top)),
        NamedLine("neck", (at.neck, at.top), (at.neck, at.neck_top)),
        NamedLine("flange", (at.neck, at.neck_top), (at.pitch, at.neck_top)),
        NamedLine("cold joint", (at.pitch, at.neck_top), (at.pitch, at.end)),
        NamedLine("nozzle bore", (at.orifice, 0), (at.orifice, at.land), fine / 2.0),
        NamedLine("nozzle bore", (at.orifice, at.land), (at.bore, at.cone), fine),
        NamedLine("nozzle bore", (at.bore, at.cone), (at.bore, at.joint), fine),
        NamedLine("heat break bore", (at.bore, at.joint), (at.bore, at.top), fine),
        NamedLine("bond", (at.bore, at.top), (at.bore, at.end)),
        NamedLine("nozzle thread", (at.pitch, at.shoulder), (at.pitch, at.sleeve_bottom)),
        NamedLine("shoulder", (at.bore, at.joint), (at.pitch, at.joint)),
        NamedLine("nozzle to block", (at.pitch, at.bottom), (at.pitch, at.joint)),
        NamedLine("heat break to block", (at.pitch, at.joint), (at.pitch, at.top)),
    ]
    if sleeved:
        lines += [
            NamedLine("sleeve thread", (at.pitch, at.sleeve_bottom), (at.pitch, at.bottom)),
            NamedLine("sleeve face", (at.pitch, at.bottom), (at.sleeve, at.bottom)),
            NamedLine("sleeve side", (at.sleeve, at.sleeve_bottom), (at.sleeve, at.bottom)),
            NamedLine("sleeve bottom", (at.pitch, at.sleeve_bottom), (at.sleeve, at.sleeve_bottom)),
        ]
    return lines


def triangulated(a: Arrangement, fine: float) -> ng.Mesh:
    """Unstructured triangles in (r, z) [mm], `fine` [mm] at the bore wall, growing away from it."""
    if a.wrap is not None or a.nozzle.exposed_thread != "smooth":
        raise NotImplementedError("wraps and resolved threads are left to the shipped mesh")
    at, sleeved = Levels.of(a), a.sleeve is not None
    if at.sleeve_bottom - at.shoulder < ON_LINE:
        raise NotImplementedError("a sleeve that rests on the hexagon is left to the shipped mesh")
    faces = []
    for name, corners in polygons(at, sleeved):
        plane = occ.WorkPlane().MoveTo(*corners[0])
        for corner in [*corners[1:], corners[0]]:
            plane = plane.LineTo(*corner)
        face = plane.Face()
        face.faces.name = name.replace("converging", "polymer")
        face.faces.maxh = {"polymer": 1.6 * fine, "converging": 0.5 * fine, "gap": 0.15}.get(name, 1.2)
        faces.append(face)
    section = occ.Glue(faces)
    lines = named_lines(at, sleeved, fine)
    for edge in section.edges:
        here = edge.center
        edge.name = ""
        for line in lines:
            if line.holds(here.x, here.y):
                edge.name = line.name
                if line.size:
                    edge.maxh = line.size
    return ng.Mesh(occ.OCCGeometry(section, dim=2).GenerateMesh(maxh=1.2, grading=0.25))
