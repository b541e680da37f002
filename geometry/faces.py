"""What each edge of the section is: a face to the air with its orientation and true area, a contact, an end of the flow."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeVar

import numpy as np

from meltzone.geometry.arrangement import OUTER, Arrangement
from meltzone.geometry.block import Box
from meltzone.geometry.lengths import SAME
from meltzone.geometry.outer import Measures, Orientation
from meltzone.geometry.stack import VOID, nozzle_wraps

FACING: Mapping[str, Orientation] = MappingProxyType({"side": "side", "bottom": "down", "top": "up"})
Part = TypeVar("Part")

# The air's boundary layer is millimetres thick: a lower side face has none of its own, and vanishes with its area [m]
LEAST_HEIGHT = 0.2e-3

CONTACT_NAMES = (
    "bore", "thread", "shoulder", "block face", "wrap", "boot", "liner", "blocks", "tip joint", "body joint",
    *(name for outer in OUTER.values() for name in outer.contacts),
)  # fmt: skip


@dataclass(frozen=True)
class FaceKind:
    """A face that there can be: its `part`, its `orientation`, and what gives its `measures` in an arrangement."""

    part: str
    orientation: Orientation
    measures: Callable[[Arrangement], Measures]


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
    def of(cls, arrangement: Arrangement, name: str) -> ExposedFace:
        """Describe the face `name` of `arrangement`."""
        kind = FACES[name]
        length, width, ratio = kind.measures(arrangement)
        if kind.orientation == "side":
            length = max(length, LEAST_HEIGHT)
        return cls(name, kind.part, kind.orientation, length, width, ratio)


@dataclass(frozen=True, eq=False)
class ContactFaces:
    """A contact `name` between the parts `first` and `second`: facets of both sides, paired, each of shape (n,)."""

    name: str
    first: str
    second: str
    facets_first: np.ndarray
    facets_second: np.ndarray


def soldered(arrangement: Arrangement) -> frozenset[str]:
    """Names of the contacts that there are none of where parts are soldered, or of one piece."""
    joints = {"tip joint": arrangement.tip, "body joint": arrangement.break_body, "shoulder": arrangement.heat_break}
    return frozenset(name for name, part in joints.items() if part is not None and part.soldered)


def contact_name(first: str, second: str, horizontal: bool, bonded: frozenset[str] = frozenset()) -> str | None:
    """Name of the contact between two parts, or None where they are one piece of heat path, as by the contacts `bonded`.

    The gas gap is bonded to filament, heat break and liner: its resistance is its own.
    """
    name = _contact_between({first, second}, first, second, horizontal)
    return None if name in bonded else name


def _contact_between(pair: set[str], first: str, second: str, horizontal: bool) -> str | None:
    if "wrap" in pair:
        return "boot" if pair & {"block", "second block"} else "wrap"
    for part in (name for name in OUTER if name in pair):
        return OUTER[part].contact(second if part == first else first, horizontal)
    if "liner" in pair and not pair & {"polymer", "gap"}:
        return "liner"
    if pair & {"nozzle", "tip"} and pair & {"heat break", "break body"}:
        return "shoulder"
    if pair in ({"nozzle", "tip"}, {"heat break", "break body"}):
        return "tip joint" if "tip" in pair else "body joint"
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
        name = contact_name(first, second, horizontal, soldered(arrangement))
        return None if name is None else ("contact", name, first, second)
    part = first or second
    if z > arrangement.top - SAME:
        return ("end", "inlet") if part == "polymer" else ("end", "insulated top")
    if part == "polymer":
        return ("end", "outlet") if horizontal else None
    orientation: Orientation = "side" if not horizontal else ("up" if first else "down")
    name = _face_name(arrangement, part, orientation, z)
    return ("end", name) if name == "cold joint" else ("exposed", name)


def _face_name(a: Arrangement, part: str, orientation: Orientation, z: float) -> str:
    if (part, orientation) == ("heat sink", "side"):
        return "cold joint"
    if part in ("heat break", "break body") and z > a.block_top + a.heat_break.neck_length + SAME:
        return "cold joint"
    if (part, orientation) == ("nozzle", "side") and z < a.nozzle.shoulder:
        return "nozzle cone" if z < a.nozzle.tip_cone_height else "nozzle hexagon"
    return _BY_SIDE[part, orientation]


# Measures: correlation length and cross-flow width [m], true over modelled area [-] ------------------------------------------


def _nozzle_cone(a: Arrangement) -> Measures:
    return a.nozzle.tip_cone_height, a.nozzle.tip_diameter / 2.0 + a.nozzle.hexagon_radius, 1.0


def _nozzle_thread(a: Arrangement) -> Measures:
    thread, smooth = a.nozzle.thread, a.nozzle.exposed_thread == "smooth"
    bare = a.block_bottom - a.nozzle.shoulder - (a.sleeve.height if a.sleeve else 0.0)
    return bare, thread.diameter, thread.exposed_area_ratio if smooth else 1.0


def _on_neck(a: Arrangement) -> Measures:
    neck = a.heat_break.neck_diameter
    return neck / 4.0, neck, 1.0


def _box_side(a: Arrangement, box: Box) -> Measures:
    """The air that rises along one block's side goes on along the other's: both have the length of the whole stack."""
    return a.block_top - a.block_bottom, box.width, box.side_area_ratio


def _box_face(box: Box, hidden: Box | None = None) -> Measures:
    """An upper or lower face; of one that the `hidden` block covers what is left bare."""
    bare = box.area if hidden is None else abs(box.area - hidden.area)
    return max(bare / box.perimeter, SAME), box.width, 1.0


def _wrap_side(a: Arrangement) -> Measures:
    """Boot and wrap as one face: the boot's height if there is one; area of the box with its boot, and of the round wrap."""
    pieces, true, round_ = nozzle_wraps(a), 0.0, 0.0
    length = pieces[-1][2] - pieces[0][1]
    if "block" in _there(a.wrap).covers:
        length = a.block_top - _skin_bottom(a)
    for outline, modelled, height in _wrap_slabs(a):
        true, round_ = true + outline * height, round_ + modelled * height
    return length, _wrap_width(a), true / round_


def _wrap_slabs(a: Arrangement) -> Iterator[tuple[float, float, float]]:
    """What is seen of the wrap from the side, by height: its outline in plan, that of the model, and how high [m]."""
    wrap = _there(a.wrap)
    t, skin = wrap.thickness, _skin_bottom(a)
    boots = [
        (box.perimeter_over(wrap.reach), 2.0 * np.pi * (box.radius + t), top - bottom)
        for _, box, bottom, top in a.blocks
    ]
    for radius, lower, upper in nozzle_wraps(a):
        around = radius + t if "nozzle" in wrap.covers else radius
        if "nozzle" in wrap.covers:
            below = min(upper, skin) if around < a.block.radius + t else upper
            yield 2.0 * np.pi * around, 2.0 * np.pi * around, max(below - lower, 0.0)
        if around < a.block.radius + t:
            yield *boots[0][:2], max(upper - max(lower, skin), 0.0)
    if "block" in wrap.covers:
        yield from boots


def _skin_bottom(a: Arrangement) -> float:
    """Level of the boot's lower face [m]: nothing lies beside the tip cone; the block's own where there is no boot."""
    wrap = _there(a.wrap)
    if "block" not in wrap.covers:
        return a.block_bottom
    return max(a.block_bottom - wrap.thickness, a.nozzle.tip_cone_height)


def _wrap_face(a: Arrangement) -> Measures:
    wrap, width = _there(a.wrap), _wrap_width(a)
    if "block" not in wrap.covers:
        return width / 4.0, width, 1.0
    return a.block.area_over(wrap.reach) / a.block.perimeter_over(wrap.reach), width, 1.0


def _wrap_width(a: Arrangement) -> float:
    wrap = _there(a.wrap)
    inside = a.block.width if "block" in wrap.covers else 2.0 * max(radius for radius, _, _ in nozzle_wraps(a))
    return inside + 2.0 * (wrap.reach if "block" in wrap.covers else wrap.thickness)


def _there(part: Part | None) -> Part:
    """The part whose face is measured."""
    assert part is not None
    return part


def _outer_face(part: str, facing: Orientation) -> FaceKind:
    return FaceKind(part, facing, lambda a: next(o for o in a.outer if o.part == part).measures(a, facing))


# Every face that can meet the air, whatever the arrangement: a part seen from a side stands here, or is closed in.
FACES: Mapping[str, FaceKind] = MappingProxyType(
    {
        "nozzle tip": FaceKind("nozzle", "down", lambda a: (a.nozzle.tip_diameter / 4.0, a.nozzle.tip_diameter, 1.0)),
        "nozzle cone": FaceKind("nozzle", "side", _nozzle_cone),
        "nozzle hexagon": FaceKind(
            "nozzle", "side", lambda a: (a.nozzle.exposed, a.nozzle.hexagon, a.nozzle.hexagon_area_ratio)
        ),
        "nozzle shoulder": FaceKind("nozzle", "up", lambda a: (a.nozzle.hexagon / 4.0, a.nozzle.hexagon, 1.0)),
        "nozzle thread": FaceKind("nozzle", "side", _nozzle_thread),
        **{f"{part} {side}": _outer_face(part, facing) for part in OUTER for side, facing in FACING.items()},
        "block side": FaceKind("block", "side", lambda a: _box_side(a, a.block)),
        "block bottom": FaceKind("block", "down", lambda a: _box_face(a.block)),
        "block top": FaceKind("block", "up", lambda a: _box_face(a.block, a.second_block)),
        "second block side": FaceKind("second block", "side", lambda a: _box_side(a, _there(a.second_block))),
        "second block bottom": FaceKind("second block", "down", lambda a: _box_face(_there(a.second_block), a.block)),
        "second block top": FaceKind("second block", "up", lambda a: _box_face(_there(a.second_block))),
        "wrap side": FaceKind("wrap", "side", _wrap_side),
        "wrap bottom": FaceKind("wrap", "down", _wrap_face),
        "wrap top": FaceKind("wrap", "up", _wrap_face),
        "neck": FaceKind("heat break", "side", lambda a: (a.heat_break.neck_length, a.heat_break.neck_diameter, 1.0)),
        "flange": FaceKind("heat break", "down", _on_neck),
        "heat break top": FaceKind("heat break", "up", _on_neck),
        "nozzle end face": FaceKind("tip", "down", lambda a: (a.nozzle.tip_diameter / 4.0, a.nozzle.tip_diameter, 1.0)),
        "nozzle end cone": FaceKind("tip", "side", _nozzle_cone),
        "body flange": FaceKind("break body", "down", _on_neck),
        "body top": FaceKind("break body", "up", _on_neck),
    }
)
_BY_SIDE = {(kind.part, kind.orientation): name for name, kind in FACES.items()}
