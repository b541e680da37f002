"""Entry problems of a plug: wall at a temperature or behind a film, and the flow ceiling that follows."""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.optimize import brentq

from meltzone.fem.contact import JointLaw
from meltzone.fem.newton import Condition, State, bordered
from meltzone.fem.surroundings import LossCurve
from meltzone.fem.system import System

from . import series
from .checks import Check, group, worst
from .solving import INNER_SHARE, assemble, constant, linear_loss, plain_polymer, solved
from .tube import COLD, HOT, RADIUS, RHO_C, K, Tube, heated, theta, tube

PLUG_ROWS = np.array(  # Fo, theta centre, theta mean, Nu local
    [
        [0.01, 1.000000, 0.784526, 13.0687],
        [0.02, 0.999993, 0.701436, 9.8839],
        [0.03, 0.999532, 0.640231, 8.5224],
        [0.05, 0.987099, 0.547879, 7.2385],
        [0.08, 0.917715, 0.447078, 6.4372],
        [0.10, 0.848355, 0.394176, 6.1789],
        [0.125, 0.753972, 0.338608, 5.9963],
        [0.15, 0.661834, 0.291863, 5.8983],
        [0.20, 0.501487, 0.217852, 5.8167],
        [0.25, 0.376835, 0.162991, 5.7930],
        [0.30, 0.282487, 0.122028, 5.7860],
        [0.40, 0.158489, 0.068431, 5.7834],
        [0.50, 0.088890, 0.038379, 5.7832],
        [1.00, 0.004932, 0.002130, 5.7832],
    ]
)


@cache
def plug_solution() -> tuple[Tube, np.ndarray]:
    """The plug at constant wall temperature on the stations of the table."""
    pipe = tube(PLUG_ROWS[:, 0])
    return pipe, heated(pipe)[1]


@group("plug", "Plug flow into a tube at constant wall temperature")
def plug_checks() -> list[Check]:
    """U R/alpha = 2000, so that axial conduction changes the figures by less than 1e-5. Wall and inlet temperature
    jump at the corner, which belongs to the wall; the first cells there are 3e-4 R wide and 1e-6 in Fo long.
    """
    pipe, temperature = plug_solution()
    fo, core, mean, nusselt = PLUG_ROWS.T
    where = [f"Fo {v:g}" for v in fo]
    found = pipe.nusselt(temperature)
    return [
        worst(
            "plug-core", "temperature of the axis, theta", series.PLUG, where, core, theta(pipe.core(temperature)), 5e-5
        ),
        worst("plug-mean", "mean temperature, theta", series.PLUG, where, mean, theta(pipe.mean(temperature)), 1e-4),
        worst("plug-nu", "local Nusselt number", series.PLUG, where, nusselt, found, 5e-4, measure="relative"),
        Check(
            "plug-nu-end",
            "asymptote of the Nusselt number",
            "first zero of J0 squared",
            5.783186,
            float(found[-1]),
            2e-4,
        ),
    ]


@group("flow-ceiling", "The flow ceiling of a plug, found by the solver's bordered iteration")
def ceiling_checks() -> list[Check]:
    """k 0.18 W/m/K, 1100 kg/m3, 2000 J/kg/K, 20 mm, wall 220 degC, inlet 25 degC. The flow is an unknown of the same
    iteration, closed by the core or the mean at the tube's end. A bore radius of 20 micrometres makes axial
    conduction vanish: by the series the answer does not depend on the radius; a second radius shows it.
    """
    source = "inverse of the plug series (Carslaw & Jaeger ch. 7, chapter from memory)"
    answers = {
        "core": {150: 19.8915, 160: 18.0258, 180: 14.4654, 200: 10.8169},
        "mean": {150: 44.5846, 160: 36.4423, 180: 24.4388, 200: 15.5764},
    }
    rows = []
    for criterion, table in answers.items():
        for degrees, flow in table.items():
            found = dimensional_ceiling(20e-6, criterion, degrees + 273.15)
            claim = f"flow at which the {criterion} leaves at {degrees} degC"
            rows.append(
                Check(
                    f"ceiling-{criterion}-{degrees}",
                    claim,
                    source,
                    flow,
                    found * 1e9,
                    1e-4,
                    "mm3/s",
                    measure="relative",
                )
            )
    other = dimensional_ceiling(40e-6, "core", 180 + 273.15)
    rows.append(
        Check(
            "ceiling-radius",
            "core 180 degC, twice the radius",
            source,
            14.4654,
            other * 1e9,
            2e-4,
            "mm3/s",
            measure="relative",
        )
    )
    return [*rows, _inner_row(), *_heat_rows()]


def _inner_row() -> Check:
    """Flow at which the edge of the innermost tenth of a plug's flow, r = sqrt(0.1) R, leaves at 180 degC."""
    fourier = brentq(lambda fo: float(series.plug(fo, np.sqrt(INNER_SHARE))) - 40.0 / 195.0, 0.05, 1.0)
    expected = np.pi * 0.18 / 2.2e6 * 20e-3 / fourier * 1e9
    found = dimensional_ceiling(20e-6, "inner", 180 + 273.15) * 1e9
    claim = "flow at which the edge of the innermost tenth leaves at 180 degC"
    return Check("ceiling-inner-180", claim, series.PLUG, expected, found, 1e-4, "mm3/s", measure="relative")


@cache
def _dimensional(radius: float) -> tuple[Tube, System, np.ndarray]:
    """The dimensional case: tube of 20 mm, its system, and a start."""
    length, alpha = 20e-3, 0.18 / 2.2e6
    middle = 30e-9 / (np.pi * alpha)  # Newton starts above the answers
    pipe = tube(np.array([0.05, 0.1, 0.2, 0.3, 0.4]), radius=radius, peclet=length / 0.4 / radius)
    system = assemble(
        pipe.space.section,
        {"polymer": constant(0.18)},
        pipe.wall_and_inlet(),
        polymer=plain_polymer(0.18, 1100.0, 2000.0),
        stream=pipe.stream,
        space=pipe.space,
        inlet_temperature=298.15,
    )
    start = np.full(pipe.space.size, 298.15)
    start[pipe.wall()] = 493.15
    return pipe, system, solved(system, start, middle * np.pi * alpha)


def dimensional_ceiling(radius: float, criterion: str, target: float) -> float:
    """Flow [m3/s] at which core or mean leaves the 20 mm tube at `target` [K]."""
    _, system, start = _dimensional(radius)
    measure = {str(name): found for name, found in system.judged.items()}[criterion]
    return bordered(system, State(start, 30e-9, 0.0), ("flow",), (Condition(measure, target),)).flow


def _heat_rows() -> list[Check]:
    """Core, mean and heat into the polymer at three given flows."""
    rows = []
    table = {5: (219.1827, 219.6471, 2.14112), 10: (204.0219, 213.1013, 4.13823), 20: (149.4329, 189.4866, 7.23741)}
    _, system, start = _dimensional(20e-6)
    for flow, (core, mean, heat) in table.items():
        temperature = solved(system, start, flow * 1e-9)
        leaving = system.judged["mean"].of(temperature)
        carried = system.density * flow * 1e-9 * 2000.0 * (leaving - 298.15)
        axis = system.judged["core"].of(temperature) - 273.15
        rows += [
            Check(f"plug-{flow}-core", f"core at {flow} mm3/s", series.PLUG, core, axis, 0.01, "degC"),
            Check(f"plug-{flow}-mean", f"mean at {flow} mm3/s", series.PLUG, mean, leaving - 273.15, 0.01, "degC"),
            Check(
                f"plug-{flow}-heat",
                f"heat into the polymer at {flow} mm3/s",
                series.PLUG,
                heat,
                carried,
                1e-4,
                "W",
                "relative",
            ),
        ]
    return rows


ROBIN_FO = np.array([0.1, 0.2, 0.3, 0.5, 1.0])
ROBIN_ROWS = {  # Bi: centre and mean at the Fo above
    0.5: ((0.9875, 0.9267, 0.8530, 0.7157, 0.4598), (0.9120, 0.8341, 0.7634, 0.6395, 0.4108)),
    1.0: ((0.9768, 0.8702, 0.7501, 0.5486, 0.2494), (0.8433, 0.7185, 0.6134, 0.4474, 0.2033)),
    5.0: ((0.9265, 0.6714, 0.4572, 0.2076, 0.0287), (0.5974, 0.3962, 0.2660, 0.1205, 0.0166)),
    7.49: ((0.9107, 0.6268, 0.4053, 0.1664, 0.0179), (0.5424, 0.3414, 0.2181, 0.0893, 0.0096)),
    10.0: ((0.9001, 0.6002, 0.3765, 0.1458, 0.0136), (0.5100, 0.3117, 0.1934, 0.0748, 0.0070)),
    100.0: ((0.8555, 0.5127, 0.2923, 0.0941, 0.0055), (0.4068, 0.2273, 0.1288, 0.0414, 0.0024)),
}


def robin_solution(biot: float, through: str) -> tuple[Tube, np.ndarray]:
    """Plug behind a film of `biot`, as a contact to a shell at 400 K or as a face to surroundings at 400 K."""
    film = biot * K / RADIUS
    pipe = tube(ROBIN_FO, shell=through == "contact")
    space = pipe.space
    fixed = space.facet_dofs("inlet")
    start = np.full(space.size, COLD)
    conductors = {"polymer": constant(K)}
    if through == "contact":
        shell = space.dofs_of("shell")
        fixed, start[shell], conductors["shell"] = np.union1d(fixed, shell), HOT, constant(K)
    losses: dict[str, LossCurve] = {} if through == "contact" else {"wall": linear_loss(film, HOT)}
    laws = (JointLaw(film),) if through == "contact" else ()
    polymer = plain_polymer(K, 1000.0, RHO_C / 1000.0)
    system = assemble(space.section, conductors, fixed, losses, laws, polymer, pipe.stream, space=space)
    return pipe, solved(system, start, pipe.flow)


@group("robin", "Plug flow behind a film: contact conductance or film coefficient at the wall")
def robin_checks() -> list[Check]:
    """Bi = h R/k; once through a contact to a metal wall at the wall temperature, once through a face. Bi 7.49 is the
    concentric melt gap of a 1.75 mm filament in a 2 mm bore.
    """
    where: list[str] = []
    centre: list[float] = []
    mean: list[float] = []
    found_centre: list[float] = []
    found_mean: list[float] = []
    apart = 0.0
    for biot, (core_row, mean_row) in ROBIN_ROWS.items():
        pipe, temperature = robin_solution(biot, "contact")
        face_pipe, face_temperature = robin_solution(biot, "face")
        where += [f"Bi {biot:g}, Fo {fo:g}" for fo in ROBIN_FO]
        centre += core_row
        mean += mean_row
        found_centre += list(theta(pipe.core(temperature)))
        found_mean += list(theta(pipe.mean(temperature)))
        apart = max(apart, float(np.abs(pipe.core(temperature) - face_pipe.core(face_temperature)).max()))
    source = "b J1(b) = Bi J0(b), heated cylinder with a surface film (Incropera/Cengel one-term table, from memory)"
    exact = [float(series.plug(fo, 0.0, biot)) for biot in ROBIN_ROWS for fo in ROBIN_FO]
    return [
        worst("robin-core", "axis through a contact, theta to 4 digits", source, where, centre, found_centre, 6e-5),
        worst("robin-mean", "mean through a contact, theta to 4 digits", source, where, mean, found_mean, 6e-5),
        worst(
            "robin-series",
            "axis through a contact, theta by the whole series",
            source,
            where,
            exact,
            found_centre,
            3e-5,
        ),
        Check(
            "robin-face", "contact and face give one field", "identity of the two formulations", 0.0, apart, 1e-9, "K"
        ),
    ]
