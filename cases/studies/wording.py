"""What the solver's answers and faults say to people: their numbers in the units people use, one sentence each."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

from meltzone.fem import faults
from meltzone.fem.ceiling import Ceilings
from meltzone.fem.faults import NoConvergence
from meltzone.fem.field import Field
from meltzone.fem.inputs import Criterion, Operation
from meltzone.fem.limits import LIMITS
from meltzone.fem.runaway import StuckOn
from meltzone.fem.usual_feeder import USUAL_GRIP, USUAL_GRIPS, UsualStall
from meltzone.materials.units import ZERO_CELSIUS

CUBIC_MM = 1e9  # in a cubic metre
MOST_OVERSHOOT = 1.0  # what a field may leave its bounds by without a word [K]


class Judged(NamedTuple):
    """What a criterion looks at: in a sentence, over a column, and where that is; `percent` stands for the innermost share."""

    sentence: str
    heading: str
    meaning: str


JUDGED: Mapping[Criterion, Judged] = MappingProxyType(
    {
        "core": Judged("the core (the axis)", "core", "On the axis at the end of the melt zone."),
        "inner": Judged(
            "the innermost {percent:.3g} % of the flow",
            "innermost share",
            "At the edge of the innermost share of the flow, at the end of the melt zone.",
        ),
        "mean": Judged("the mean temperature", "mean", "Flow-weighted mean at the end of the melt zone."),
    }
)


def judged_words(operation: Operation) -> str:
    """The criterion in words."""
    return JUDGED[operation.criterion].sentence.format(percent=100.0 * operation.inner_share)


def _celsius(kelvin: float, digits: int = 0) -> str:
    return f"{kelvin - ZERO_CELSIUS:.{digits}f} degC"


SENTENCES: dict[type[NoConvergence], Callable[[Any], str]] = {
    faults.SetpointTooLow: lambda f: (
        f"no melt ceiling: the setpoint of {_celsius(f.setpoint, 1)} does not exceed the polymer's flow temperature of "
        f"{_celsius(f.flow_temperature, 1)}"
    ),
    faults.NeverMelts: lambda f: (
        f"no melt ceiling: at the end of the melt zone {judged_words(f.operation)} reaches {_celsius(f.warmest, 1)} at most, "
        f"below the flow temperature of {_celsius(f.flow_temperature, 1)}, at any flow"
    ),
    faults.RatingToSpare: lambda f: (
        f"the rating of {f.rating:g} W is not used up: the heater gives {f.at_melt:.1f} W at the melt ceiling and less than "
        f"{f.bound:.0f} W at {f.multiple:g} times that flow"
    ),
    faults.RatingNotReached: lambda f: (
        f"the rating of {f.rating:g} W is not used up: even at {CUBIC_MM * f.flow:.0f} mm³/s the heater gives {f.power:.1f} W"
    ),
    faults.HeaterTooWeak: lambda f: (
        f"the heater is too weak: holding {_celsius(f.setpoint)} without any flow takes {f.idle:.1f} W of a rating of "
        f"{f.rating:g} W"
    ),
    faults.GripToSpare: lambda f: (
        f"the grip of {f.grip:g} N is not used up: pushing takes {f.at_melt:.1f} N at the melt ceiling and {f.far:.1f} N at "
        f"{f.multiple:g} times that flow"
    ),
    faults.NothingFlows: lambda f: _joined(f.faults),
    faults.NoSignChange: lambda f: f"no change of sign up to {CUBIC_MM * f.flow:.0f} mm³/s",
    faults.GripNotMet: lambda f: f"no convergence to a flow at which pushing takes {f.grip:g} N",
    faults.GripOutOfReach: lambda f: (
        f"no flow meets a feeding force of {f.grip:.0f} N: at {CUBIC_MM * f.flow:.2f} mm³/s it is {f.force:.1f} N"
    ),
    faults.FlowNotAgreed: lambda f: (
        f"temperatures and slow flow of the melt do not come to agree: from turn {f.turns - 1} to {f.turns} the flow still "
        f"moves by {f.by_flow:.1e} of itself and the temperatures by up to {f.by_heat:.1e} K"
    ),
    faults.StepNotSolved: lambda f: f"no convergence in a step of {f.length:.2g} s",
    faults.WorkingFlowTooHigh: lambda f: (
        f"the working flow of {CUBIC_MM * f.flow:g} mm³/s does not melt through: {f.criterion} temperature "
        f"{_celsius(f.judged, 1)}, flow temperature {_celsius(f.flow_temperature)}"
    ),
    faults.BeyondLosses: lambda f: (
        f"heater stuck on: {f.power:g} W would heat it beyond {_celsius(f.limit)}, where the losses to the air are not "
        "tabulated"
    ),
}


def reason(fault: NoConvergence) -> str:
    """Why there is no answer."""
    sentence = SENTENCES.get(type(fault))
    return str(fault) if sentence is None else sentence(fault)


def reasons(found: Ceilings) -> dict[str, str]:
    """Why there is none, for each ceiling that there is not."""
    return {name: reason(fault) for name, fault in found.faults.items()}


def usual_words(usual: UsualStall | str) -> str:
    """Where a usual feeder would stop, or why that is not known."""
    if isinstance(usual, str):
        return usual
    low, high = USUAL_GRIPS
    flow, least, most = (CUBIC_MM * each for each in (usual.flow, usual.low, usual.high))
    return (
        f"a usual feeder of {USUAL_GRIP:g} N, {low:g} to {high:g} N, would stop at {flow:.1f} mm³/s, {least:.1f} to "
        f"{most:.1f}; it governs only where the case gives its grip"
    )


def _joined(by_name: dict[str, NoConvergence]) -> str:
    return "; ".join(reason(fault) for name, fault in by_name.items() if name in ("melt", "power"))


def statement(found: Ceilings) -> str:
    """What governs, in a sentence."""
    operation, polymer = found.problem.operation, found.problem.materials.polymer
    if found.governs == "none":
        return _joined(dict(found.faults))
    if found.governs == "power":
        return f"the heater's rating of {operation.rating:g} W is used up before the melt limit is reached"
    if found.governs == "force":
        return f"pushing takes the feeder's grip of {operation.grip:g} N before the melt limit is reached"
    if found.governs != "melt":
        return LIMITS[found.governs].said
    return f"{judged_words(operation)} leaves the melt zone at the flow temperature of {_celsius(polymer.flow_temperature)}"


def field_warnings(field: Field) -> tuple[str, ...]:
    """What a reader of `field` must know: overshoot on coarse cells, properties beyond their tables."""
    found = []
    if field.overshoot > MOST_OVERSHOOT:
        found.append(
            f"the field leaves its physical bounds by {field.overshoot:.1f} K: "
            f"refine the mesh (largest cell Peclet number {field.cell_peclet:.0f})"
        )
    label = field.problem.materials.polymer.label
    for curve, (low, high) in field.beyond_tables:
        first, last = curve.backed_range
        known = "stated" if curve.measured_range is None else "measured"
        found.append(
            f"{label}: {curve.name.replace('_', ' ')} is {known} for {first - ZERO_CELSIUS:.0f} to {_celsius(last)}, used from "
            f"{low - ZERO_CELSIUS:.0f} to {_celsius(high)}"
        )
    return (*found, *_viscosity_beyond(field))


def _viscosity_beyond(field: Field) -> Iterator[str]:
    """Where the melt is hotter, colder or sheared faster than its viscosity was measured; nothing for a law without data."""
    polymer, orifice = field.problem.materials.polymer, field.problem.arrangement.nozzle.orifice
    law = polymer.viscosity
    if law is None or law.temperatures is None or law.rates is None:
        return
    (low, high), hottest = law.temperatures, field.part_extremes["polymer"][1]
    fastest = 32.0 * field.flow / (math.pi * orifice**3)  # at the capillary's wall, as of a Newtonian melt
    if polymer.flow_temperature < low - 1.0 or hottest > high + 1.0:
        yield (
            f"{polymer.label}: viscosity is measured for {low - ZERO_CELSIUS:.0f} to {_celsius(high)}, used from "
            f"{polymer.flow_temperature - ZERO_CELSIUS:.0f} to {_celsius(hottest)}"
        )
    if fastest > law.rates[1] * 1.01:
        yield f"{polymer.label}: viscosity is measured up to {law.rates[1]:.3g} 1/s, the orifice shears at {fastest:.3g} 1/s"


def beyond_words(stuck: StuckOn) -> tuple[str, ...]:
    """What was used beyond the range it is stated for, with the heater stuck on."""
    parts = (
        f"{part}: conductivity stated up to {_celsius(stated)}, held from there to {_celsius(hottest)}"
        for part, (stated, hottest) in stuck.beyond_tables.items()
    )
    if stuck.losses_beyond is None:
        return tuple(parts)
    return (*parts, f"losses to the air are carried on beyond {_celsius(stuck.losses_beyond)} by extrapolation")
