"""Developed profiles and axial conduction: Graetz's problem, power-law fluids, constant flux, the plug at low Peclet number."""

from __future__ import annotations

import itertools
from functools import cache

import numpy as np

from meltzone.fem.space import Space

from .bodies import at_r, at_z, body, everywhere, growing
from .checks import Check, group, worst
from .solving import assemble, at, constant, linear_loss, plain_polymer, solved
from .tube import ALPHA, COLD, HOT, RADIUS, RHO_C, K, Tube, heated, theta, tube

SHAH = "Shah & London 1978, Laminar Flow Forced Convection in Ducts, table 13 (number from memory); eigen-series"
GRAETZ_ROWS = np.array(  # x*, theta mean, theta centre, Nu local
    [
        [0.001, 0.94032, 1.00000, 10.130],
        [0.002, 0.90736, 1.00000, 8.036],
        [0.005, 0.83622, 1.00000, 6.0015],
        [0.01, 0.75111, 0.99947, 4.9161],
        [0.02, 0.62803, 0.97270, 4.1724],
        [0.03, 0.53487, 0.89718, 3.8942],
        [0.05, 0.39530, 0.70124, 3.7100],
        [0.1, 0.18971, 0.34184, 3.6581],
        [0.2, 0.04393, 0.07920, 3.6568],
    ]
)
POWER_LAW = {  # n: Nu at constant wall temperature, Nu at constant flux
    1.0: (3.65679, 4.36364),
    0.75: (3.76343, 4.50114),
    0.5: (3.94942, 4.74576),
    1.0 / 3.0: (4.17532, 5.05263),
    0.25: (4.35445, 5.30526),
    0.0: (5.78319, 8.0),
}
FLUX = 1000.0  # W/m2


@cache
def graetz_solution() -> tuple[Tube, np.ndarray]:
    """The parabola at constant wall temperature on the stations of the table; Fo = 4 x*."""
    pipe = tube(4.0 * GRAETZ_ROWS[:, 0], exponent=1.0)
    return pipe, heated(pipe)[1]


@group("graetz", "Graetz's problem: parabolic profile, constant wall temperature")
def graetz_checks() -> list[Check]:
    """U R/alpha = 2000. The profile is the solver's own stream function with the exponent n = 1; table entries have 4
    to 5 digits.
    """
    pipe, temperature = graetz_solution()
    x, mean, core, nusselt = GRAETZ_ROWS.T
    where = [f"x* {v:g}" for v in x]
    found = pipe.nusselt(temperature)
    return [
        worst("graetz-mean", "mixing-cup temperature, theta", SHAH, where, mean, theta(pipe.mean(temperature)), 5e-5),
        worst("graetz-core", "temperature of the axis, theta", SHAH, where, core, theta(pipe.core(temperature)), 5e-5),
        worst("graetz-nu", "local Nusselt number", SHAH, where, nusselt, found, 1e-3, measure="relative"),
        Check(
            "graetz-nu-end", "asymptote of the Nusselt number", "OEIS A282581", 3.6567934577632, float(found[-1]), 1e-4
        ),
    ]


def developed_nusselt(exponent: float, wall: str) -> float:
    """Nusselt number far downstream, with the wall at a temperature or at a flux."""
    pipe = tube(np.array([1.0, 2.0]), exponent)
    if wall == "temperature":
        return float(pipe.nusselt(heated(pipe)[1])[0])
    space = pipe.space
    polymer = plain_polymer(K, 1000.0, RHO_C / 1000.0)
    losses = {"wall": linear_loss(0.0, COLD, FLUX)}
    system = assemble(
        space.section,
        {"polymer": constant(K)},
        space.facet_dofs("inlet"),
        losses,
        (),
        polymer,
        pipe.stream,
        space=space,
    )
    temperature = solved(system, np.full(space.size, COLD), pipe.flow)
    wall_temperature = at(space, temperature, pipe.radius, -float(pipe.stations[0]))
    return float(2.0 * pipe.radius * FLUX / K / (wall_temperature - pipe.mean(temperature)[0]))


@group("power-law", "Power-law profiles u/U = (3n+1)/(n+1) (1 - (r/R)^((n+1)/n)), far downstream")
def power_law_checks() -> list[Check]:
    """Profiles from the solver's own stream function; constant wall temperature at Fo = 1, and constant wall flux."""
    eigen = (
        "eigen-solve with 4000 cells, error < 1e-5; 3.95 and 4.18 in Skelland 1967, Cho & Hartnett 1982 (from memory)"
    )
    exact = "8 (5n+1)(3n+1)/(31 n^2 + 12 n + 1), energy balance integrated"
    rows = []
    for n, (nu_t, nu_h) in POWER_LAW.items():
        name = "plug" if n == 0.0 else f"n = {n:.3g}"
        key = f"{n:.2f}"
        found_t, found_h = developed_nusselt(n, "temperature"), developed_nusselt(n, "flux")
        rows.append(Check(f"power-law-T-{key}", f"Nu at constant wall temperature, {name}", eigen, nu_t, found_t, 3e-4))
        rows.append(Check(f"power-law-H-{key}", f"Nu at constant flux, {name}", exact, nu_h, found_h, 3e-4))
    return rows


AXIAL_X = (0.5, 1.0, 2.0, 5.0)  # x/R
AXIAL_ROWS = {  # Pe: centre and mean at the x/R above
    1.0: ((0.528979, 0.219856, 0.031980), (0.271638, 0.098655, 0.013832)),
    5.0: ((0.835018, 0.578890, 0.229863, 0.012611), (0.450573, 0.266304, 0.099722, 0.005445)),
    20.0: ((0.998235, 0.978809, 0.845205, 0.384237), (0.677166, 0.553996, 0.398795, 0.166378)),
    100.0: ((1.0, 1.0, 0.999987, 0.986724), (0.846275, 0.785086, 0.701835, 0.548136)),
}


def axial_solution(peclet: float) -> tuple[Tube, np.ndarray]:
    """Plug with axial conduction at U R/alpha = `peclet`, followed to x/R = 12."""
    stations = np.array([*AXIAL_X, 12.0])
    near = growing(3e-4, 1.35, stations[0], 0.08)
    pieces = [np.linspace(a, b, int(np.ceil((b - a) / 0.1)) + 1)[1:] for a, b in itertools.pairwise(stations)]
    x = np.concatenate([near, *pieces]) * RADIUS
    r = (1.0 - growing(3e-4, 1.35, 1.0, 0.08))[::-1] * RADIUS
    length = float(x[-1])
    faces = {"wall": ("polymer", at_r(RADIUS)), "inlet": ("polymer", at_z(0.0)), "outlet": ("polymer", at_z(-length))}
    section = body(r, -x[::-1], everywhere("polymer"), faces)
    space = Space(section)
    stream = (space.points[0] / RADIUS) ** 2
    pipe = Tube(space, stream, RADIUS, length, np.array(AXIAL_X) * RADIUS)
    polymer = plain_polymer(K, 1000.0, RHO_C / 1000.0)
    system = assemble(
        section, {"polymer": constant(K)}, pipe.wall_and_inlet(), polymer=polymer, stream=stream, space=space
    )
    start = np.full(space.size, COLD)
    wall = pipe.wall()
    start[wall] = np.where(space.points[1, wall] == 0.0, (HOT + COLD) / 2.0, HOT)
    return pipe, solved(system, start, np.pi * RADIUS * ALPHA * peclet)


@group("axial", "Plug flow with axial conduction")
def axial_checks() -> list[Check]:
    """Half-infinite tube, inlet at T_in, wall at T_w from x = 0. The temperature jumps at the corner; its node takes
    the mean, and the first cells there are 3e-4 R, so the jump's effect stays below the tolerance from x/R = 0.5
    on.
    """
    source = "separation of variables with gamma = Pe/2 (sqrt(1 + 4 b^2/Pe^2) - 1)"
    where: list[str] = []
    expected_core: list[float] = []
    expected_mean: list[float] = []
    core: list[float] = []
    mean: list[float] = []
    for peclet, (core_row, mean_row) in AXIAL_ROWS.items():
        pipe, temperature = axial_solution(peclet)
        n = len(core_row)
        where += [f"Pe {peclet:g}, x/R {x:g}" for x in AXIAL_X[:n]]
        expected_core += core_row
        expected_mean += mean_row
        core += list(theta(pipe.core(temperature))[:n])
        mean += list(theta(pipe.mean(temperature))[:n])
    rows = [
        worst("axial-core", "temperature of the axis, theta", source, where, expected_core, core, 2e-5),
        worst("axial-mean", "mean temperature, theta", source, where, expected_mean, mean, 2e-5),
    ]
    return [*rows, _exponential(10.0, "even"), _exponential(1000.0, "graded")]


def _exponential(peclet: float, spacing: str) -> Check:
    """Largest error of the 1-D profile between T = 0 at the inlet and T = 1 at the outlet, U L/alpha = `peclet`."""
    length = 1e-2
    x = np.linspace(0.0, 1.0, 21) if spacing == "even" else 1.0 - growing(2e-4, 1.35, 1.0, 0.1)[::-1]
    faces = {"inlet": ("polymer", at_z(0.0)), "outlet": ("polymer", at_z(-length))}
    section = body(np.linspace(0.0, RADIUS, 3), (-length * x)[::-1], everywhere("polymer"), faces)
    space = Space(section)
    ends = np.union1d(space.facet_dofs("inlet"), space.facet_dofs("outlet"))
    stream = (space.points[0] / RADIUS) ** 2
    polymer = plain_polymer(K, 1000.0, RHO_C / 1000.0)
    system = assemble(section, {"polymer": constant(K)}, ends, polymer=polymer, stream=stream, space=space)
    start = np.full(space.size, 300.0)
    start[space.facet_dofs("outlet")] = 301.0
    found = solved(system, start, np.pi * RADIUS**2 * peclet * ALPHA / length) - 300.0
    position = -space.points[1] / length
    exact = (np.exp(peclet * (position - 1.0)) - np.exp(-peclet)) / (1.0 - np.exp(-peclet))
    apart = float(np.abs(found - exact).max())
    claim = f"largest error of a unit step, {spacing} cells, U L/alpha = {peclet:g}"
    return Check(
        f"exponential-{peclet:g}", claim, "(e^(Ux/a) - 1)/(e^(UL/a) - 1), exact in one dimension", 0.0, apart, 1e-3
    )
