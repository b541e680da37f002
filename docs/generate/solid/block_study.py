"""A rectangular block with its cartridge and sensor in their holes against the disc that the model takes for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, replace

import numpy as np
from galerkin import Triangulated
from solid import Round, Solid, SolidState
from solid_shape import Layout

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.fem.discretise import discretise
from meltzone.fem.field import Field
from meltzone.fem.limits import melt_ceiling
from meltzone.fem.problem import Problem

CASES = ("short-block", "long-block")
LEVELS = 6  # along the bore, from the inner cone to the block's upper face
BESIDE = 0.02  # how far outside the bore's wall the metal is read [mm]
CUBIC_MM, ZERO = 1e9, 273.15
SAME = "disc"


def layouts(problem: Problem) -> dict[str, Layout | None]:
    """By what is said of them: the disc, the usual block, and others that differ from it in one thing."""
    a = problem.arrangement
    usual = Layout.of(a)
    cartridge, sensor = usual.levels
    low = replace(usual, levels=(cartridge, 2.5))
    found: dict[str, Layout | None] = {
        SAME: None,
        "rectangle": usual,
        "nozzle in the block's middle": replace(usual, offset=0.0),
        "sensor 2.5 mm above the lower face": low,
    }
    if 1e3 * a.block.height > 2.0 * usual.cartridge:
        found["cartridge 5.5 mm above the lower face"] = replace(usual, levels=(5.5, sensor))
    return found


def block_figures(say: object = print) -> dict[str, object]:
    """Of both cases: the axisymmetric model, and every layout in three dimensions, each at its own melt ceiling."""
    return {case: {"rows": list(_rows(case, say)), "height": _height(case)} for case in CASES}


def _height(case: str) -> float:
    return 1e3 * problem_of(load_case(case)).arrangement.block.height


def _rows(case: str, say: object) -> Iterator[dict[str, object]]:
    problem = problem_of(load_case(case))
    problem = replace(problem, operation=replace(problem.operation, profile="plug"))
    ours = melt_ceiling(discretise(problem))
    yield _axisymmetric(ours)
    for name, layout in layouts(problem).items():
        solid = Solid(problem, layout=layout)
        row = _row(name, solid, solid.solved(ours.flow, solid.start(), ceiling=True))
        say(case, name, row["ceiling"], ours.flow * CUBIC_MM, flush=True)  # type: ignore[operator]
        yield row


def _levels(problem: Problem) -> np.ndarray:
    at = Triangulated(problem).at
    return np.linspace(at.cone + 0.1, at.top - 0.1, LEVELS)


def _axisymmetric(ours: Field) -> dict[str, object]:
    heights = _levels(ours.problem)
    walls = np.interp(1e-3 * heights, ours.axis.wall_z, ours.axis.wall)
    return {
        "layout": "",
        "ceiling": CUBIC_MM * ours.flow,
        "power": ours.power,
        "tip": ours.tip - ZERO,
        "levels": [float(z) for z in heights],
        "walls": [asdict(Round(*[float(t) - ZERO] * 3)) for t in walls],
    }


def _row(name: str, solid: Solid, state: SolidState) -> dict[str, object]:
    at, heights = solid.at, _levels(solid.problem)
    walls = [
        solid.around(state.temperature, "nozzle" if z < at.joint else "heatbreak", at.bore + BESIDE, float(z))
        for z in heights
    ]
    tip = solid.around(state.temperature, "nozzle", at.orifice + BESIDE, 1e-3)
    return {
        "layout": name,
        "ceiling": CUBIC_MM * state.flow,
        "power": state.power,
        "tip": tip.mean - ZERO,
        "levels": [float(z) for z in heights],
        "walls": [{key: value - ZERO for key, value in asdict(wall).items()} for wall in walls],
        "unknowns": solid.unknowns,
        "judged": {"least": state.judged.least - state.judged.mean, "most": state.judged.most - state.judged.mean},
    }
