"""What each edge of the section is: a face to the air with its orientation and true area, a contact, an end of the flow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.stack import SAME, VOID, nozzle_wraps

Orientation = Literal["side", "up", "down"]

CONTACT_NAMES = ("bore", "thread", "shoulder", "block face", "sleeve thread", "sleeve face", "wrap", "liner", "blocks")
FACE_NAMES = (
    "nozzle tip",
    "nozzle cone",
    "nozzle hexagon",
    "nozzle shoulder",
    "nozzle thread",
    "sleeve side",
    "sleeve bottom",
    "block side",
    "block bottom",
    "block top",
    "second block side",
    "second block bottom",
    "second block top",
    "wrap side",
    "wrap bottom",
    "wrap top",
    "neck",
    "flange",
    "heat break top",
)


@dataclass(frozen=True)
class ExposedFace:
    """A face to the air: its `part`, `orientation`, the length of the correlations [m], true over modelled area [-].

    `length` is the height of a side face or area over perimeter of a horizontal one; `width` [m] is what a cross flow sees.
    """

    name: str
    part: str
    orientation: Orientation
    length: float
    width: float
    area_ratio: float

    @classmethod
    def of(cls, arrangement: Arrangement, name: str, orientation: Orientation) -> ExposedFace:
        """Describe the face `name` of `arrangement`."""
        length, width, ratio = _measures(arrangement, name)
        return cls(name, part_of_face(name), orientation, length, width, ratio)


@dataclass(frozen=True, eq=False)
class ContactFaces:
    """A contact `name` between the parts `first` and `second`: facets of both sides, paired, each of shape (n,)."""

    name: str
    first: str
    second: str
    facets_first: np.ndarray
    facets_second: np.ndarray


def part_of_face(name: str) -> str:
    """The part that carries the face `name`."""
    if name in ("neck", "flange", "heat break top"):
        return "heat break"
    return "second block" if name.startswith("second block ") else name.split(maxsplit=1)[0]


def contact_name(first: str, second: str, horizontal: bool) -> str | None:
    """Name of the contact between two parts, or None where they are one piece of heat path.

    The gas gap is bonded to filament, heat break and liner: its resistance is its own.
    """
    pair = {first, second}
    if "wrap" in pair:
        return "wrap"
    if "sleeve" in pair:
        return "sleeve face" if horizontal or "block" in pair else "sleeve thread"
    if "liner" in pair and not pair & {"polymer", "gap"}:
        return "liner"
    if pair == {"nozzle", "heat break"}:
        return "shoulder"
    if pair == {"block", "nozzle"} and horizontal:
        return "block face"
    if pair == {"block", "second block"}:
        return "blocks"
    if pair & {"block", "second block"}:
        return "thread"
    if "polymer" in pair and "gap" not in pair:
        return "bore"
    return None


def classify(arrangement: Arrangement, sides: tuple[str, str], horizontal: bool, r: float, z: float) -> tuple | None:
    """Tag of the edge at (r, z) between the cells `sides` (lower and upper, or inner and outer); None for a bond, the axis."""
    first, second = sides
    if VOID not in sides:
        name = contact_name(first, second, horizontal)
        return None if name is None else ("contact", name, first, second)
    part = first or second
    if z > arrangement.top - SAME:
        return ("end", "inlet") if part == "polymer" else ("end", "insulated top")
    if part == "polymer":
        return ("end", "outlet") if horizontal else None
    orientation: Orientation = "side" if not horizontal else ("up" if first else "down")
    name = _face_name(arrangement, part, orientation, z)
    return ("end", name) if name == "cold joint" else ("exposed", name, orientation)


def _face_name(a: Arrangement, part: str, orientation: Orientation, z: float) -> str:
    if part == "heat break":
        if z > a.block_top + a.heat_break.neck_length + SAME:
            return "cold joint"
        return {"down": "flange", "up": "heat break top", "side": "neck"}[orientation]
    if part == "nozzle":
        if orientation == "down":
            return "nozzle tip"
        if orientation == "up":
            return "nozzle shoulder"
        if z < a.nozzle.tip_cone_height:
            return "nozzle cone"
        return "nozzle hexagon" if z < a.nozzle.shoulder else "nozzle thread"
    return f"{part} " + {"side": "side", "up": "top", "down": "bottom"}[orientation]


def _measures(a: Arrangement, name: str) -> tuple[float, float, float]:
    """Correlation length and cross-flow width [m], and area ratio [-], of each face."""
    nozzle, block, neck = a.nozzle, a.block, a.heat_break.neck_diameter
    thread = nozzle.thread
    bare_thread = a.block_bottom - nozzle.shoulder - (a.sleeve.height if a.sleeve else 0.0)
    smooth = nozzle.exposed_thread == "smooth"
    sleeve = a.sleeve
    table: dict[str, tuple[float, float, float]] = {
        "nozzle tip": (nozzle.tip_diameter / 4.0, nozzle.tip_diameter, 1.0),
        "nozzle cone": (nozzle.tip_cone_height, nozzle.tip_diameter / 2.0 + nozzle.hexagon_radius, 1.0),
        "nozzle hexagon": (nozzle.exposed, nozzle.hexagon, nozzle.hexagon_area_ratio),
        "nozzle shoulder": (nozzle.hexagon / 4.0, nozzle.hexagon, 1.0),
        "nozzle thread": (max(bare_thread, SAME), thread.diameter, thread.exposed_area_ratio if smooth else 1.0),
        "block bottom": (block.width * block.depth / block.perimeter, block.width, 1.0),
        "neck": (a.heat_break.neck_length, neck, 1.0),
        "flange": (neck / 4.0, neck, 1.0),
        "heat break top": (neck / 4.0, neck, 1.0),
    }
    table |= _block_measures(a)
    if sleeve:
        table["sleeve side"] = (sleeve.height, sleeve.width, sleeve.side_area_ratio)
        table["sleeve bottom"] = (sleeve.width / 4.0, sleeve.width, 1.0)
    if a.wrap:
        table |= _wrap_measures(a)
    return table[name]


def _block_measures(a: Arrangement) -> dict[str, tuple[float, float, float]]:
    """Sides and upper faces of the blocks; of the faces between them what one block leaves bare of the other.

    The air that rises along one side goes on along the other: both have the length of the whole stack.
    """
    table, height = {}, a.block_top - a.block_bottom
    for part, box, _, _ in a.blocks:
        table[f"{part} side"] = (height, box.width, box.side_area_ratio)
        table[f"{part} top"] = (box.width * box.depth / box.perimeter, box.width, 1.0)
    if a.second_block:
        below, above = a.block, a.second_block
        bare = abs(below.width * below.depth - above.width * above.depth)
        table["block top"] = (max(bare / below.perimeter, SAME), below.width, 1.0)
        table["second block bottom"] = (max(bare / above.perimeter, SAME), above.width, 1.0)
    return table


def _wrap_measures(a: Arrangement) -> dict[str, tuple[float, float, float]]:
    assert a.wrap is not None
    t, block = a.wrap.thickness, a.block
    if "block" in a.wrap.covers:
        perimeters = [box.perimeter + 8.0 * t for _, box, _, _ in a.blocks]
        heights = [top - bottom + (t if part == "block" else 0.0) for part, _, bottom, top in a.blocks]
        rounds = [2.0 * np.pi * (box.radius + t) for _, box, _, _ in a.blocks]
        width, height = block.width + 2.0 * t, sum(heights)
        side_ratio = float(np.dot(perimeters, heights) / np.dot(rounds, heights))
        plan = width * (block.depth + 2.0 * t) / perimeters[0]
    else:
        pieces = nozzle_wraps(a)
        width = 2.0 * (max(radius for radius, _, _ in pieces) + t)
        height, side_ratio, plan = pieces[-1][2] - pieces[0][1], 1.0, width / 4.0
    return {"wrap side": (height, width, side_ratio), "wrap bottom": (plan, width, 1.0), "wrap top": (plan, width, 1.0)}
