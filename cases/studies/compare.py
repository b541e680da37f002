"""Variants side by side: ceilings, gains on the first, how hot and how long at one working flow, fan penalty, safety."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.schema_outside import JET_SPEED
from meltzone.cases.studies.bands.gain import GainBand, gain_band
from meltzone.cases.studies.cautions import Margin, hottest_points, margins_of
from meltzone.cases.studies.completing import with_stuck_on, with_usual
from meltzone.cases.studies.printing import WORKING_WORDS, PrintTime, lines_of, print_time, volume_of, working_flow
from meltzone.cases.studies.results import CUBIC_MM, Result
from meltzone.cases.studies.run import CaseLike, ceiling, flow_of, loaded_case
from meltzone.fem.ceiling import ceilings_of
from meltzone.fem.degradation import Degradation, degradation_of
from meltzone.fem.discretise import in_surroundings
from meltzone.fem.faults import NoConvergence
from meltzone.fem.field import Field
from meltzone.fem.inputs import Surroundings
from meltzone.fem.ooze import Ooze, ooze_of
from meltzone.fem.progress import Reporter
from meltzone.fem.residence import Residence, residence_of
from meltzone.fem.steady import solve_at_flow
from meltzone.materials.units import ZERO_CELSIUS

Bounds = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Variant:
    """One case of a comparison: its `result` at the ceiling, `gain` on the first case [%], and `gained`, that with its band.

    `other_fan` is the flow ceiling [mm3/s] with the jet the other way round, None where nothing melts then; `working` the
    state at the working flow, None where no steady state was found, `time` what a volume of plastic takes. What does not
    exist is None.
    """

    result: Result
    gain: float | None
    gained: GainBand | None
    other_fan: float | None
    working: Field | None
    time: PrintTime | None = None

    @property
    def name(self) -> str:
        """The case's name."""
        return self.result.case.name

    @property
    def interval(self) -> Bounds | None:
        """Both ends of the band of the gain [%]."""
        return None if self.gained is None else (self.gained.low, self.gained.high)

    @property
    def fan(self) -> bool:
        """Whether the case itself has the jet on."""
        return self.result.problem.surroundings.jet_speed > 0.0

    @property
    def fan_change(self) -> float | None:
        """Ceiling with the jet over the ceiling without, less one [%]."""
        own = self.result.flow_ceiling
        if not own or not self.other_fan:
            return None
        blown, still = (own, self.other_fan) if self.fan else (self.other_fan, own)
        return 100.0 * (blown / still - 1.0)

    @cached_property
    def wall(self) -> Bounds | None:
        """Coolest and hottest point of the bore wall from the block's upper face to the capillary, at the ceiling [degC]."""
        field = self.result.field
        if field is None:
            return None
        a, profile = field.problem.arrangement, field.axis
        inside = (profile.wall_z >= a.nozzle.land - 1e-9) & (profile.wall_z <= a.block_top + 1e-9)
        here = profile.wall[inside] - ZERO_CELSIUS
        return float(here.min()), float(here.max())

    @cached_property
    def residence(self) -> Residence | None:
        """Hot volumes and residence times at the working flow."""
        return None if self.working is None else residence_of(self.working)

    @cached_property
    def ooze(self) -> Ooze | None:
        """The most that can leave after a stop out of the working flow."""
        return None if self.working is None else ooze_of(self.working)

    @cached_property
    def degradation(self) -> Degradation | None:
        """What the slowest melt goes through at the working flow."""
        return None if self.working is None else degradation_of(self.working)

    @property
    def hot_volume(self) -> float | None:
        """Polymer above its flow temperature at the working flow [mm3]."""
        return None if self.residence is None else CUBIC_MM * self.residence.hot

    @property
    def soft_volume(self) -> float | None:
        """Polymer above its softening temperature at the working flow [mm3]."""
        return None if self.residence is None else CUBIC_MM * self.residence.soft

    @property
    def margins(self) -> tuple[Margin, ...]:
        """Every part at the ceiling, or at the setpoint where there is none, against its material's limit."""
        return margins_of(self.result.problem, hottest_points(self.result.problem, self.result.field))

    @property
    def margins_stuck(self) -> tuple[Margin, ...]:
        """Every part with the heater stuck on against its material's limit; empty where that was not found."""
        stuck = self.result.stuck_on
        return () if stuck is None else margins_of(self.result.problem, stuck.hottest)


@dataclass(frozen=True, eq=False)
class Comparison:
    """The `variants` in the order given; `flow` is the working flow [mm3/s] and `chosen` says how it was chosen.

    `volume` is what is to be extruded [mm3], None where that was not asked for.
    """

    variants: tuple[Variant, ...]
    flow: float | None
    chosen: str
    volume: float | None = None


def compare(
    cases: Sequence[CaseLike],
    flow: str | None = None,
    overrides: Mapping[str, Any] | None = None,
    report: Reporter | None = None,
    volume: str | None = None,
) -> Comparison:
    """Solve every case at its ceiling, at its ceiling with the jet the other way, at the working flow, and stuck on.

    The working `flow` is a text such as "8 mm^3/s", or a print speed of the first case's line; without it, the flow to use with
    the smallest ceiling. With a `volume` such as "100 cm^3" every variant has the time for it. Gains have bands in which
    cancels what the cases share. Raises CaseError.
    """
    say = report or (lambda _: None)
    loaded = [loaded_case(case, None if isinstance(case, Case) else overrides) for case in cases]
    asked = None if flow is None else flow_of(flow, lines_of(loaded[0]))
    wanted = None if volume is None else volume_of(volume)
    results = []
    for case in loaded:
        say(f"{case.name}: ceilings")
        results.append(ceiling(case))
    rate, chosen = _working_flow(results, asked)
    variants = []
    for result in results:
        say(f"{result.case.name}: fan, working flow, heater stuck on")
        time = None if wanted is None else print_time(wanted, result, results[0])
        variants.append(replace(_variant(result, results[0], rate), time=time))
    return Comparison(tuple(variants), None if rate is None else CUBIC_MM * rate, chosen, wanted)


def _working_flow(results: Sequence[Result], asked: float | None) -> tuple[float | None, str]:
    """The working flow [m3/s] and how it was chosen."""
    if asked is not None:
        return asked, "as asked for"
    usable = [(flow, result.case.name) for result in results if (flow := working_flow(result))]
    if not usable:
        return None, "none, since nothing melts"
    flow, name = min(usable, key=lambda each: each[0])
    return flow / CUBIC_MM, f"{WORKING_WORDS} of {name}, the smallest"


def _variant(result: Result, first: Result, rate: float | None) -> Variant:
    working = None
    gain = None if result is first else result.gain_on(first)
    gained = None if gain is None else gain_band(result.band, first.band)
    if rate is not None:
        try:
            working = solve_at_flow(result.system, rate, result.field.state if result.field else None)
        except NoConvergence:
            working = None
    other = ceilings_of(in_surroundings(result.system, other_fan(result)))
    return Variant(
        with_usual(with_stuck_on(result)), gain, gained, CUBIC_MM * other.flow if other.field else None, working
    )


def other_fan(result: Result) -> Surroundings:
    """The surroundings with the part-cooling jet the other way round: off, or on at the speed that the case gives."""
    outside, table = result.problem.surroundings, result.case.model.surroundings
    return replace(outside, jet_speed=0.0 if outside.jet_speed > 0.0 else table.jet_speed or JET_SPEED)
