"""Half a hot end as solids, glued and meshed with tetrahedra by a general-purpose mesher; lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass, replace

import ngsolve as ng
from netgen import occ
from triangles import ON_LINE, Levels, NamedLine, Point, named_lines, polygons

from meltzone.geometry.arrangement import Arrangement

ACROSS = 0.05  # a face's middle closer than this to a plane lies on it [mm]
NECK = 0.4  # size along the neck, whose wall is thin [mm]
INSIDE = "inside"  # faces that carry nothing


@dataclass(frozen=True)
class Layout:
    """Where a rectangular block has its holes: both run along the depth, through the block; common practice, no source.

    The cartridge's hole of `cartridge` diameter lies `reach` from the nozzle's axis, the sensor's of `sensor` diameter on the
    side `sensor_side` of it, -1 across from the cartridge and 1 on its side, at `sensor_reach`. The block's middle lies
    `offset` from the nozzle's axis towards the cartridge. `levels` above the block's lower face are those of the cartridge and
    of the sensor. All [mm].
    """

    reach: float
    sensor_reach: float
    levels: tuple[float, float]
    cartridge: float = 6.0
    sensor: float = 3.0
    sensor_side: int = -1
    offset: float = 2.0

    @classmethod
    def of(cls, a: Arrangement, **changes: float) -> Layout:
        """The case's distances from the axis; the cartridge at half height."""
        block = a.block
        reaches = {"reach": 1e3 * block.heater_radius, "sensor_reach": 1e3 * block.sensor_radius}
        return cls(**(reaches | {"levels": (5e2 * block.height, 1e3 * block.sensor_level)} | changes))  # type: ignore[arg-type]


def _solids(a: Arrangement, at: Levels, layout: Layout | None, fine: float) -> list[occ.Solid]:
    """The filament fills the bore up to its end; the gas around it is a contact there."""
    passage: list[tuple[str, list[Point]]] = [
        part for part in polygons(at, False) if part[0] in ("polymer", "converging")
    ]
    box = [(0.0, at.joint), (at.bore, at.joint), (at.bore, at.top), (0.0, at.top)]
    above = [(0.0, at.top), (at.bore, at.top), (at.bore, at.end), (0.0, at.end)]
    parts = [*passage[:3], ("polymer", box), ("cold", above)]
    round_block = () if layout else ("block", "heater")
    parts += [part for part in polygons(at, False) if part[0] in ("nozzle", "heatbreak", *round_block)]
    solids = [_revolved(name, corners, fine) for name, corners in parts]
    if layout is not None:
        solids.append(_block(a, at, layout))
    return solids


def _revolved(name: str, corners: list[Point], fine: float) -> occ.Solid:
    plane = occ.WorkPlane(occ.Axes((0, 0, 0), n=-occ.Y, h=occ.X)).MoveTo(*corners[0])
    for corner in [*corners[1:], corners[0]]:
        plane = plane.LineTo(*corner)
    solid = plane.Face().Revolve(occ.Axis((0, 0, 0), occ.Z), 180)
    solid.mat(name.replace("converging", "polymer").replace("cold", "polymer"))
    solid.solids.maxh = {"polymer": 1.2 * fine, "converging": 0.6 * fine, "cold": 2.0 * fine, "heatbreak": 1.2}.get(
        name, 2.5
    )
    return solid


def _block(a: Arrangement, at: Levels, layout: Layout) -> occ.Solid:
    low, high, depth = *_sides(a, layout), 5e2 * a.block.depth
    solid = occ.Box((low, 0, at.bottom), (high, depth, at.top))
    solid -= occ.Cylinder((0, 0, at.bottom - 1), occ.Z, at.pitch, at.top - at.bottom + 2)
    for x, level, diameter in _holes(layout):
        solid -= occ.Cylinder((x, -1, at.bottom + level), occ.Y, diameter / 2.0, depth + 2)
    solid.mat("block")
    solid.solids.maxh = 2.5
    return solid


def _sides(a: Arrangement, layout: Layout) -> tuple[float, float]:
    half = 5e2 * a.block.width
    return layout.offset - half, layout.offset + half


def _holes(layout: Layout) -> tuple[tuple[float, float, float], ...]:
    return (
        (layout.reach, layout.levels[0], layout.cartridge),
        (layout.sensor_side * layout.sensor_reach, layout.levels[1], layout.sensor),
    )


def _lines(at: Levels, fine: float) -> list[NamedLine]:
    """Those of the section, with the filament as wide as its bore."""
    kept = [line for line in named_lines(at, False, fine) if line.name not in ("inlet", "bond")]
    return [
        NamedLine("inlet", (0, at.end), (at.bore, at.end)),
        NamedLine("gas", (at.bore, at.top), (at.bore, at.end)),
        *kept,
    ]


def tetrahedra(a: Arrangement, layout: Layout | None, fine: float) -> ng.Mesh:
    """Unstructured tetrahedra of the half y > 0, z along the axis, `fine` [mm] at the bore wall; `layout` None for a disc.

    Faces carry the names of the section's lines; besides, "cartridge" and "sensor" are the walls of the holes.
    """
    if a.sleeve is not None or a.wrap is not None or a.nozzle.exposed_thread != "smooth":
        raise NotImplementedError("sleeves, wraps and resolved threads are left to the section")
    at = Levels.of(a)
    shape = occ.Glue(_solids(a, at, layout, fine))
    wide = at if layout is None else replace(at, block=_sides(a, layout)[1])
    lines = _lines(wide, fine)
    for face in shape.faces:
        face.name = _name_of(face, a, at, layout, lines)
        if "bore" in face.name:
            face.maxh = fine
        elif face.name in ("neck", "gas"):
            face.maxh = NECK
    mesh = ng.Mesh(occ.OCCGeometry(shape).GenerateMesh(maxh=2.5, grading=0.4))
    mesh.Curve(3)
    return mesh


def _name_of(face: occ.Face, a: Arrangement, at: Levels, layout: Layout | None, lines: list[NamedLine]) -> str:
    """From the line that generates it, or where it lies on a rectangular block; INSIDE within and on the half's plane."""
    middle = face.center
    if abs(middle.y) < ON_LINE:
        return INSIDE
    if layout is not None:
        hole = [
            name
            for name, (x, level, _) in zip(("cartridge", "sensor"), _holes(layout), strict=True)
            if abs(middle.x - x) < ACROSS and abs(middle.z - at.bottom - level) < ACROSS
        ]
        if hole:
            return hole[0]
        low, high = _sides(a, layout)
        sides = (abs(middle.x - low), abs(middle.x - high), abs(middle.y - 5e2 * a.block.depth))
        if min(sides) < ON_LINE:
            return "block side"
    for edge in face.edges:
        here = edge.center
        if abs(here.y) < ON_LINE and here.x > ON_LINE:
            for line in lines:
                if line.holds(here.x, here.z):
                    return line.name
    return INSIDE
