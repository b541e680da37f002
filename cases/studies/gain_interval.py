"""The interval of a gain: what two cases share in their tolerances moves both ceilings alike and drops out of their ratio."""

from __future__ import annotations

import math

from meltzone.cases.inputs.uncertain import uncertain_inputs
from meltzone.cases.studies.interval import NORMAL_95, Interval, linear_interval
from meltzone.cases.studies.results import Result
from meltzone.fem.adjoint import adjoint_of

# What a sensor or a thermometer says: at two settings it errs alike
ONE_INSTRUMENT = ("heater.setpoint", "surroundings.air_temperature", "surroundings.cold_temperature")
LEAST = 0.05  # of a gain [%]: half a digit of what is printed


def gain_interval(result: Result, first: Result) -> tuple[float, float] | None:
    """The 95 % interval of the gain of `result` on `first` [%], to first order; None where neither has tolerances.

    With g = Q / Q_1, dg / g = dQ / Q - dQ_1 / Q_1, summed over the inputs: one key with the same value and tolerance in both
    cases counts as the same unknown, and so does what one instrument reads, whatever it reads; anything else is independent.
    None also where all cancels: a gain is not exact because its tolerances are shared.
    """
    both = [_shares(result), _shares(first)]
    if not all(found is not None for found in both) or not any(both):
        return None
    own, other = (found or {} for found in both)
    variance = sum((own.get(key, 0.0) - other.get(key, 0.0)) ** 2 for key in own | other)
    ratio = (result.flow_ceiling or 0.0) / (first.flow_ceiling or math.nan)
    reach = NORMAL_95 * math.sqrt(variance)
    if 100.0 * reach < LEAST:
        return None
    return 100.0 * (ratio * (1.0 - reach) - 1.0), 100.0 * (ratio * (1.0 + reach) - 1.0)


def _shares(result: Result) -> dict[tuple[str, str], float] | None:
    """Change of the ceiling for one standard deviation of every input, as a share of it; None without a slope."""
    if result.ceilings is None or result.ceilings.field is None or result.governs == "force":
        return None
    if not uncertain_inputs(result.case):
        return {}
    found: Interval | None = linear_interval(result.case, result.ceilings, adjoint_of(result.ceilings))
    return {} if found is None else {_unknown(c.key, c.words): c.change / found.centre for c in found.contributions}


def _unknown(key: str, words: str) -> tuple[str, str]:
    return key, "" if key in ONE_INSTRUMENT else words
