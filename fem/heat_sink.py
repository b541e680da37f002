"""What the heat sink takes: a temperature that is given, or fins in the air of their own fan, or a resistance to a coolant."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from meltzone.fem.problem import Problem
from meltzone.geometry.heat_sink import HeatSink
from meltzone.materials.air import Air


@dataclass(frozen=True)
class SinkLaw:
    """Heat flux h (T - `reference`) over the surface that the heat sink cools: `conductance` h [W/m2/K], `reference` [K]."""

    conductance: float
    reference: float


def sink_law(problem: Problem) -> SinkLaw:
    """The law on the joint of the heat break, or on the side of the heat sink's core where that is a part.

    A heat sink that is a part stands in the air of the case, or is cooled to its coolant's temperature.
    """
    outside, sink = problem.surroundings, problem.arrangement.heat_sink
    if sink is None:
        return SinkLaw(problem.contacts.cold_joint, outside.cold_temperature)
    side = math.pi * sink.core_diameter * problem.arrangement.heat_break.cooled_length
    reference = outside.air_temperature if outside.sink_coolant is None else outside.sink_coolant
    return SinkLaw(sink_conductance(problem, sink) / side, reference)


def sink_conductance(problem: Problem, sink: HeatSink) -> float:
    """From the core of `sink` to what cools it [W/K]: a resistance that is given, or fins and core in the fan's air."""
    outside = problem.surroundings
    if outside.sink_resistance is not None:
        return 1.0 / outside.sink_resistance
    film = finned_film(sink, problem.materials.air, outside.air_temperature, outside.sink_speed)
    metal = float(problem.materials.solid_of("heat sink").conductivity(np.array(outside.air_temperature)))
    return film * (fin_efficiency(sink, film, metal) * sink.fin_area + sink.bare_area)


def finned_film(sink: HeatSink, air: Air, temperature: float, speed: float) -> float:
    """Film coefficient on round fins in cross flow at `speed` [m/s] between them, in air at `temperature` [K]; [W/m2/K].

    Nu = 0.134 Re^0.681 Pr^(1/3) (s/l)^0.2 (s/t)^0.1134 by the core's diameter; s is the gap, l the length, t the thickness of a
    fin. Source: Briggs and Young 1963, Chem. Eng. Prog. Symp. Ser. 59(41):1-10 (from memory), banks of tubes, 1e3 < Re < 2e4.
    """
    here = np.array(temperature)
    reynolds = speed * sink.core_diameter / float(air.kinematic_viscosity(here))
    shape = (sink.gap / sink.fin_length) ** 0.2 * (sink.gap / sink.fin_thickness) ** 0.1134
    nusselt = 0.134 * reynolds**0.681 * float(air.prandtl(here)) ** (1.0 / 3.0) * shape
    return nusselt * float(air.conductivity(here)) / sink.core_diameter


def fin_efficiency(sink: HeatSink, film: float, conductivity: float) -> float:
    """Mean over root excess temperature of a round fin of even thickness: tanh(m psi)/(m psi) [-].

    psi = (r_o - r_i) (1 + 0.35 ln(r_o/r_i)), m^2 = 2 h/(k t), r_o with half the thickness for the edge. Source: Schmidt 1949,
    Refrig. Eng. 57:351-357 (from memory), within 1 % of the Bessel functions.
    """
    inner, outer = sink.core_diameter / 2.0, sink.fin_diameter / 2.0 + sink.fin_thickness / 2.0
    psi = (outer - inner) * (1.0 + 0.35 * math.log(outer / inner))
    x = psi * math.sqrt(2.0 * film / (conductivity * sink.fin_thickness))
    return math.tanh(x) / x
