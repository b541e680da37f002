"""What a program for a machine never exceeds: the setpoint that polymer and parts stand, a flow not far beyond the ceiling."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.studies.cautions import hottest_points, margins_of, part_name
from meltzone.cases.studies.machine.words import Line, moves, setpoints
from meltzone.cases.studies.results import CUBIC_MM, Result
from meltzone.materials.units import FLOW, TEMPERATURE, ZERO_CELSIUS, show

BEYOND = (
    1.6  # of the upper end of the predicted ceiling's band: as far as anything is commanded; common practice, no source
)
POLYMER = "polymer"  # the part of the section that is filament
ROUNDED = 1e-3  # of a flow: what the digits of a file may add


@dataclass(frozen=True)
class MachineLimits:
    """The highest `setpoint` [K] with the part that sets it, the highest `flow` [m3/s]."""

    setpoint: float
    part: str
    flow: float


def highest_flow(result: Result) -> float:
    """The highest flow that a program may command [m3/s]: `BEYOND` times the upper end of the ceiling's band.

    The one place that says so; without a band the ceiling itself counts. Raises ValueError for a result without a ceiling.
    """
    if result.flow_ceiling is None:
        raise ValueError("no ceiling")
    upper = result.flow_ceiling if result.band is None else max(result.band.high, result.flow_ceiling)
    return BEYOND * upper / CUBIC_MM


def limits_of(result: Result) -> MachineLimits:
    """The limits for programs of the case of `result`; raises CaseError where its setpoint is beyond what its parts stand.

    The polymer's limit counts for the setpoint itself; a part counts at the hottest point that it reaches at the ceiling, and
    stands a setpoint as far from its limit as that is now.
    """
    setpoint = result.problem.operation.setpoint
    margins = margins_of(result.problem, hottest_points(result.problem, result.field))
    known = [
        (m.limit if m.part == POLYMER else m.limit - m.temperature + setpoint, part_name(m.part))
        for m in margins
        if m.limit is not None
    ]
    highest, part = min(known, default=(setpoint, "setpoint"))
    if setpoint > highest:
        expected = f"at most {show(highest, TEMPERATURE)} for a program that heats by itself: the {part} stands no more"
        hint = "Lower the setpoint, or choose materials that stand it; the makers' data sheets count."
        raise CaseError(result.case.file, None, "heater.setpoint", show(setpoint, TEMPERATURE), expected, hint)
    return MachineLimits(highest, part, highest_flow(result))


def checked(lines: Sequence[Line], limits: MachineLimits, area: float, where: str) -> tuple[Line, ...]:
    """The `lines` of a program for a filament of the cross section `area` [m2], none of which exceeds the `limits`.

    Raises CaseError, called `where`, for one that does.
    """
    hottest = max(setpoints(lines), default=0.0) + ZERO_CELSIUS
    fastest = max((move.fed * area / move.time for move in moves(lines) if move.fed), default=0.0)
    if hottest > limits.setpoint + 1e-9:
        found, most = show(hottest, TEMPERATURE), show(limits.setpoint, TEMPERATURE)
        raise CaseError(where, None, "setpoint", found, f"at most {most}: {limits.part}", "Lower the setpoint.")
    if fastest > (1.0 + ROUNDED) * limits.flow:
        expected = f"at most {show(limits.flow, FLOW)}, {BEYOND:g} times the upper end of the predicted ceiling's band"
        raise CaseError(where, None, "flow", show(fastest, FLOW), expected, "Ask for lower flows.")
    return tuple(lines)
