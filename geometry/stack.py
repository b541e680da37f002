"""Parts to outline: a grid of rectangles in (r, z), some of them bent to cones, each painted with its part."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.lengths import SAME
from meltzone.geometry.outer import Ring
from meltzone.geometry.thread import MetricThread

VOID = ""


def within(heights: np.ndarray, low: float, high: float) -> np.ndarray:
    """Which `heights`, of any shape, lie between the levels `low` and `high` or on them; all [m]."""
    return (heights > low - SAME) & (heights < high + SAME)


@dataclass(frozen=True, eq=False)
class Outline:
    """The painted section, coarse: one entry of `paint` for each rectangle between two lines and two levels.

    `levels` [m], shape (n_rows + 1,), upwards from the nozzle's face. `radii` [m], shape (n_rows + 1, n_columns + 1), the
    radius of every line at every level, straight between levels. `straight` [m], (n_columns + 1,), holds the lines' radii
    before bending. `paint` (n_rows, n_columns) holds part names, '' outside; `heated` (n_heaters, n_rows, n_columns) marks the
    heaters.
    """

    levels: np.ndarray
    radii: np.ndarray
    straight: np.ndarray
    paint: np.ndarray
    heated: np.ndarray


@lru_cache(maxsize=64)  # searches, levers and checks ask for the same one many times
def outline(arrangement: Arrangement) -> Outline:
    """Lay the parts of `arrangement` over one another and bend the lines to the nozzle's cones and to the steps of the bore."""
    straight = _merged(_radii_of(arrangement))
    levels = _merged(_levels_of(arrangement))
    paint, heated = _painted(arrangement, straight, levels)
    radii = np.array([_bent(arrangement, straight, z) for z in levels])
    return Outline(levels, radii, straight, paint, heated)


def fill_length(arrangement: Arrangement) -> float:
    """Length below the block's upper face over which the velocity spreads from filament to bore [m]."""
    gap = arrangement.entry_radius - arrangement.filament.diameter / 2.0
    return min(4.0 * gap, arrangement.engaged / 2.0)


def nozzle_wraps(arrangement: Arrangement) -> list[tuple[float, float, float]]:
    """Pieces of bare surface that a nozzle wrap covers: (radius, lower level, upper level) [m]."""
    nozzle, bottom = arrangement.nozzle, arrangement.block_bottom
    sleeve_bottom = bottom - (arrangement.sleeve.height if arrangement.sleeve else 0.0)
    pieces = [(nozzle.hexagon_radius, nozzle.tip_cone_height, nozzle.shoulder)]
    if sleeve_bottom > nozzle.shoulder + SAME:
        pieces.append((nozzle.thread.pitch_radius, nozzle.shoulder, sleeve_bottom))
    if arrangement.sleeve:
        pieces.append((arrangement.sleeve.radius, sleeve_bottom, bottom))
    return pieces


def _radii_of(a: Arrangement) -> list[float]:
    radii = [0.0, a.filament.diameter / 2.0, a.entry_radius, a.heat_break.neck_diameter / 2.0]
    if a.liner:
        radii.append(a.liner.outer_diameter / 2.0)
    radii += [a.nozzle.thread.pitch_radius, a.nozzle.hexagon_radius]
    radii += [*(radius for ring in a.heater_rings for radius in ring[:2]), *(block.box.radius for block in a.blocks)]
    radii += [radius for ring in a.rings for radius in (ring.inner, ring.outer)]
    if a.wrap and "nozzle" in a.wrap.covers:
        radii += [r + a.wrap.thickness for r, _, _ in nozzle_wraps(a)]
    if a.wrap and "block" in a.wrap.covers:
        radii += [block.box.radius + a.wrap.thickness for block in a.blocks]
    return radii


def _levels_of(a: Arrangement) -> list[float]:
    nozzle = a.nozzle
    levels = [*a.wall.levels, nozzle.tip_cone_height, nozzle.shoulder]
    levels += [a.block_bottom, a.joint, a.liner_end, a.block_top - fill_length(a), *(block.top for block in a.blocks)]
    levels += [
        *(level for ring in a.heater_rings for level in ring[2:]),
        *a.divided_levels,
        a.block_top + a.heat_break.neck_length,
        a.top,
    ]
    levels += [level for ring in a.rings for level in (ring.bottom, ring.top)]
    if a.wrap and "block" in a.wrap.covers and a.wrap.thickness < a.block_bottom:
        levels.append(a.block_bottom - a.wrap.thickness)
    if a.tip:
        levels.append(a.tip.height)
    if nozzle.exposed_thread == "rings":
        levels += list(_ring_profile(a)[0])
    return levels


def _merged(values: list[float]) -> np.ndarray:
    ordered = np.sort(np.array(values))
    return ordered[np.concatenate([[True], np.diff(ordered) > SAME])]


def _painted(a: Arrangement, straight: np.ndarray, levels: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    column = (straight[1:] + straight[:-1]) / 2.0
    row = (levels[1:] + levels[:-1]) / 2.0
    paint = np.full((row.size, column.size), VOID, dtype=object)
    bore, thread = a.entry_radius, a.nozzle.thread.pitch_radius

    def inside(r0: float, r1: float, z0: float, z1: float) -> tuple[np.ndarray, ...]:
        return np.ix_((row > z0) & (row < z1), (column > r0) & (column < r1))

    if a.wrap and "block" in a.wrap.covers:
        for part, box, bottom, top in a.blocks:
            skin = a.wrap.thickness if part == "block" else 0.0
            paint[inside(thread, box.radius + a.wrap.thickness, bottom - skin, top)] = "wrap"
    if a.wrap and "nozzle" in a.wrap.covers:
        for radius, lower, upper in nozzle_wraps(a):
            paint[inside(radius, radius + a.wrap.thickness, lower, upper)] = "wrap"
    for part, box, bottom, top in a.blocks:
        paint[inside(thread, box.radius, bottom, top)] = part
    # the boot's lower skin ends at the level of the nozzle's face: none of it is painted beside the tip cone
    paint[inside(a.nozzle.hexagon_radius, np.inf, 0.0, a.nozzle.tip_cone_height)] = VOID
    for outer in a.outer:
        for ring in outer.rings(a):
            paint[inside(*ring)] = outer.part
    paint[inside(0.0, a.nozzle.hexagon_radius, 0.0, a.nozzle.shoulder)] = "nozzle"
    paint[inside(0.0, thread, a.nozzle.shoulder, a.joint)] = "nozzle"
    paint[inside(0.0, thread, a.joint, a.block_top)] = "heat break"
    neck_top = a.block_top + a.heat_break.neck_length
    paint[inside(0.0, a.heat_break.neck_diameter / 2.0, a.block_top, neck_top)] = "heat break"
    paint[inside(0.0, thread, neck_top, a.top)] = "heat break"
    for part, ring in _second_metals(a):
        paint[inside(*ring)] = part
    if a.liner:
        paint[inside(0.0, a.liner.outer_diameter / 2.0, a.liner_end, a.top)] = "liner"
    paint[inside(0.0, bore, a.block_top, a.top)] = "gap"
    paint[inside(0.0, bore, 0.0, a.block_top)] = "polymer"
    paint[inside(0.0, a.filament.diameter / 2.0, a.block_top, a.top)] = "polymer"
    heated = np.zeros((len(a.heater_rings), *paint.shape), dtype=bool)
    for marked, ring in zip(heated, a.heater_rings, strict=True):
        marked[inside(*ring)] = True
    return paint, heated


def _second_metals(a: Arrangement) -> Iterator[tuple[str, Ring]]:
    """What is of another metal within nozzle and heat break."""
    if a.tip:
        edge = a.nozzle.hexagon_radius if a.tip.diameter is None else _insert_line(a)
        yield "tip", Ring(0.0, edge, 0.0, a.tip.height)
    if a.break_body:
        for ring in a.break_body.rings(a.heat_break, a.nozzle.thread.pitch_radius, a.joint, a.block_top):
            yield "break body", ring


def _insert_line(a: Arrangement) -> float:
    """The line that goes along an insert's side, before bending [m]: the neck's, which lies within the metal everywhere."""
    return a.heat_break.neck_diameter / 2.0


def _bent(a: Arrangement, straight: np.ndarray, z: float) -> np.ndarray:
    """Radii of the lines at level `z`: those of the passage go with its wall, the metal's share what is left to the outside.

    Above the block, where the filament runs free of the wall, its own line stays where it is; so do those of neck and liner.
    """
    nozzle = a.nozzle
    if z < nozzle.shoulder - SAME:
        straight_edge, bent_edge = nozzle.hexagon_radius, nozzle.outer_radius(z)
    else:
        straight_edge = bent_edge = nozzle.thread.pitch_radius
        if nozzle.exposed_thread == "rings":
            bent_edge = _thread_radius(a, z)
    knots = {0.0: 0.0, a.entry_radius: float(a.wall.radius(z)), straight_edge: bent_edge}
    fixed = [a.filament.diameter / 2.0, a.heat_break.neck_diameter / 2.0] if z > a.block_top - SAME else []
    if a.liner is not None and z > a.liner_end - SAME:
        fixed.append(a.liner.outer_diameter / 2.0)
    knots |= dict(zip(fixed, fixed, strict=True))
    if a.tip is not None and a.tip.diameter is not None and z < a.tip.height + SAME:
        knots[_insert_line(a)] = a.tip.diameter / 2.0
    bent = np.interp(straight, *np.transpose(sorted(knots.items())))
    return np.where(straight > straight_edge + SAME, straight, bent)


def _thread_radius(a: Arrangement, z: float) -> float:
    levels, radii = _ring_profile(a)
    return float(np.interp(z, levels, radii)) if levels.size else a.nozzle.thread.pitch_radius


def _ring_profile(a: Arrangement) -> tuple[np.ndarray, np.ndarray]:
    """Corners of the whole thread ridges that fit the bare length, from its lower end: (levels, radii) [m]."""
    thread: MetricThread = a.nozzle.thread
    upper = a.block_bottom - (a.sleeve.height if a.sleeve else 0.0)
    lower = a.nozzle.shoulder
    count = int((upper - lower) / thread.pitch + 1e-9)
    if count == 0:
        return np.empty(0), np.empty(0)
    z, r = thread.profile()
    # start where the rising flank crosses the pitch cylinder, so that the ridges join the smooth parts without a step
    crossing = float(np.interp(thread.pitch_radius, r[1:3], z[1:3]))
    corners_z = np.array([z[2], z[3], z[4], z[1] + thread.pitch]) - crossing
    corners_r = np.array([r[2], r[3], r[4], r[1]])
    levels = np.concatenate([corners_z + k * thread.pitch for k in range(count)])
    ends = np.array([0.0, count * thread.pitch])
    levels = np.concatenate([ends[:1], levels, ends[1:]])
    radii = np.concatenate([[thread.pitch_radius], np.tile(corners_r, count), [thread.pitch_radius]])
    return lower + levels, radii
