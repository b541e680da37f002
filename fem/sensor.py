"""What the sensor reads against the metal around it: heat that leaves by its leads crosses its contact."""

from __future__ import annotations

from meltzone.fem.problem import Problem


def lost_share(problem: Problem) -> float:
    """Share of the metal's excess over the air that the sensor does not read, R_c/(R_c + R_l) [-]: resistances in series.

    R_c is that of its contact, R_l that along its leads to the air.
    """
    contact, leads = problem.operation.sensor_contact, problem.operation.sensor_leads
    return 0.0 if contact is None else contact / (contact + leads)


def held_metal(problem: Problem) -> float:
    """Temperature of the metal at the sensor when it reads the setpoint [K]."""
    share, air = lost_share(problem), problem.surroundings.air_temperature
    return (problem.operation.setpoint - share * air) / (1.0 - share)


def reads_low(problem: Problem, metal: float) -> float:
    """By how much the sensor reads less than `metal` [K] at its place [K]."""
    return lost_share(problem) * (metal - problem.surroundings.air_temperature)
