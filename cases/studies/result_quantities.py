"""The numbers of a result, declared once: records, tables, sweeps, comparisons and pages pick from them by their paths."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from meltzone.cases.inputs.printed_line import line_words, short_words
from meltzone.cases.studies.masses import masses
from meltzone.cases.studies.printing import WORKING_WORDS, lines_of, speed_at, working_flow
from meltzone.cases.studies.quantities import Quantity, with_ends
from meltzone.cases.studies.results import CUBIC_MM, MM, Result
from meltzone.cases.studies.wording import JUDGED, Judged
from meltzone.fem.balance import EnergyBalance
from meltzone.fem.degradation import Degradation
from meltzone.fem.inputs import Criterion
from meltzone.fem.limits import LIMITS, Limit
from meltzone.fem.ooze import FIRST, Ooze
from meltzone.fem.sensor import reads_low
from meltzone.fem.usual_feeder import USUAL_GRIP
from meltzone.geometry.printed_line import PrintedLine
from meltzone.materials.units import ZERO_CELSIUS

if TYPE_CHECKING:
    from meltzone.fem.slow_flow.feeding import Feeding

MEGA = 1e-6  # Pa to MPa
GRAM = 1e3  # kg to g
# The tables in which a quantity may stand: cases side by side, the notebook's, the state at the ceiling, comparisons, sweeps
CASES, GLANCE, AT_CEILING, COMPARED, SWEPT = "cases", "glance", "at ceiling", "compared", "swept"
EVERYWHERE = frozenset((CASES, GLANCE, AT_CEILING, COMPARED, SWEPT))
LISTED = frozenset((CASES, GLANCE, SWEPT))
PUSHED = "; null where the case gives no grip or the polymer's card lacks viscosity or plateau modulus."


def _balance(read: Callable[[EnergyBalance], Any]) -> Callable[[Result], Any]:
    return lambda result: None if result.field is None else read(result.field.balance)


def _pushed(read: Callable[[Feeding], float]) -> Callable[[Result], float | None]:
    return lambda result: None if result.pushed is None else MEGA * read(result.pushed)


def _melt_zone(result: Result) -> float | None:
    return None if result.melt_zone is None else result.melt_zone[1] - result.melt_zone[0]


def _reads_low(result: Result) -> float | None:
    if result.field is None or result.problem.operation.sensor_contact is None:
        return None
    return reads_low(result.problem, result.field.sensor)


def _in_part(result: Result, part: str) -> float | None:
    extremes = {} if result.field is None else result.field.part_extremes
    return extremes[part][1] - ZERO_CELSIUS if part in extremes else None


def _widest(result: Result) -> list[dict[str, Any]]:
    found = () if result.band is None else result.band.widest
    return [{"noun": each.noun, "range": each.words, "known": each.known, "share": each.share} for each in found]


def _by_limit(limit: Limit) -> Quantity[Result]:
    return Quantity(
        f"ceilings.{limit.name}_mm3_per_s", "mm3/s", limit.meaning, lambda r: r.ceiling_of(limit.name),
        f"{limit.name} ceiling", 1, LISTED | {COMPARED}, rare=limit.name not in ("melt", "power"),
    )  # fmt: skip


def _by_criterion(name: Criterion, words: Judged) -> Quantity[Result]:
    shown = {"core": LISTED, "mean": frozenset((GLANCE, SWEPT))}.get(name, frozenset((SWEPT,)))
    return Quantity(
        f"state.temperature_{name}_degC", "degC", words.meaning,
        lambda r: None if r.field is None else r.field.judged_by(name) - ZERO_CELSIUS, words.heading, shown=shown,
    )  # fmt: skip


CEILINGS: tuple[Quantity[Result], ...] = (
    Quantity("ceilings.governs", "", ", ".join(f'"{name}"' for name in LIMITS) + ', or "none" where nothing can flow; null '
        "where a flow was asked for.", lambda r: r.governs, "governs", shown=frozenset((CASES, SWEPT))),
    *with_ends(Quantity("ceilings.flow_mm3_per_s", "mm3/s", "The flow ceiling: the least of the ceilings.",
        lambda r: r.flow_ceiling, "flow ceiling", 2, frozenset((CASES, SWEPT)), band=lambda r: r.band and r.band.bounds)),
    Quantity("ceilings.widest", "words; -", "What makes the band widest: `noun`, `range`, how that is `known`, its `share` of "
        "the variance.", lambda r: _widest(r)),  # noqa: PLW0108 - it stands below
    Quantity("ceilings.narrowed_percent", "%", "By how much the tolerances that the case states narrow the band; null where it "
        "states none.", lambda r: r.band and r.band.narrowed),
    Quantity("ceilings.outside", "", "What lies outside all that the model was compared with, each with the nearest evidence.",
        lambda r: list(r.outside)),
    *(_by_limit(limit) for limit in LIMITS.values()),
    Quantity("ceilings.usual_feeder_mm3_per_s", "mm3/s", f"Flow at which a usual feeder of {USUAL_GRIP:g} N would stop; it "
        "governs only where the case gives its grip. Null with one, without data on the card's polymer, or with grip to spare.",
        lambda r: r.usual_feeder and r.usual_feeder[0], "usual feeder", 1, frozenset((COMPARED,)), rare=True),
    Quantity("ceilings.usual_feeder_low_mm3_per_s", "mm3/s", "Lower end of what usual grips and the card leave it.",
        lambda r: r.usual_feeder and r.usual_feeder[1], "usual feeder, low", 1),
    Quantity("ceilings.usual_feeder_high_mm3_per_s", "mm3/s", "Upper end.", lambda r: r.usual_feeder and r.usual_feeder[2],
        "usual feeder, high", 1),
    Quantity("ceilings.reasons", "", "Why there is no ceiling, by the ceiling's name, for those that are null.",
        lambda r: r.reasons),
    Quantity("ceilings.mesh_error_percent", "%", "By how much the ceiling moves on the next finer mesh; null if not sought.",
        lambda r: r.mesh_error, "ceiling on the next finer mesh", 2),
)  # fmt: skip


def _speeds(flow: Callable[[Result], float | None]) -> Callable[[Result], list[float | None]]:
    return lambda r: [speed_at(flow(r), line) for line in lines_of(r.case)]


PRINTING: tuple[Quantity[Result], ...] = (
    Quantity("printing.flow_to_use_mm3_per_s", "mm3/s", f"Flow to use: {WORKING_WORDS}; null without one.", working_flow,
        "flow to use", 1),
    Quantity("printing.lines", "", "The printed lines of the case, layer height x width.",
        lambda r: [line_words(line) for line in lines_of(r.case)]),
    HIGHEST := Quantity("printing.highest_speeds_mm_per_s", "mm/s", "Print speed at the flow ceiling, line by line.",
        _speeds(lambda r: r.flow_ceiling), digits=0),
    FOR_USE := Quantity("printing.speeds_to_use_mm_per_s", "mm/s", "Print speed at the flow to use, line by line.",
        _speeds(working_flow), digits=0),
)  # fmt: skip


def by_line(line: PrintedLine) -> tuple[Quantity[Result], Quantity[Result]]:
    """Print speed of a `line` at the ceiling, and to use, as tables show them; records hold lists over all lines."""
    words = short_words(line)
    return (
        replace(HIGHEST, read=lambda r: speed_at(r.flow_ceiling, line), heading=f"highest speed, {words}"),
        replace(FOR_USE, read=lambda r: speed_at(working_flow(r), line), heading=f"speed to use, {words}"),
    )


STATE: tuple[Quantity[Result], ...] = (
    Quantity("state.flow_mm3_per_s", "mm3/s", "Flow of the state described below: at the ceiling, or as asked for. Mass flow "
        "over the solid filament's density at 23 degC.", lambda r: r.flow, "flow", 2, frozenset((GLANCE,))),
    Quantity("state.heater_power_W", "W", "Heater power that holds the setpoint.", lambda r: r.power, "heater",
        shown=LISTED),
    Quantity("state.heater_rating_W", "W", "Power of the heater when fully on.", lambda r: r.problem.operation.rating,
        "heater's rating", 0),
    Quantity("state.feeding_force_N", "N", f"Force on the filament{PUSHED}", lambda r: r.feeding_force,
        "feeding force", shown=frozenset((AT_CEILING, SWEPT)), rare=True),
    Quantity("state.feeding_grip_N", "N", "Force at which the feeder slips.", lambda r: r.problem.operation.grip,
        "feeder's grip"),
    Quantity("state.pressure_bore_MPa", "MPa", "Pressure spent in the bore; null as above.", _pushed(lambda p: p.bore),
        "pressure in the bore", 2),
    Quantity("state.pressure_channels_MPa", "MPa", "Pressure spent in the channels of a divided length and at their entry.",
        _pushed(lambda p: p.channels + p.dividing), "pressure in the channels", 2),
    Quantity("state.pressure_cone_MPa", "MPa", "Pressure spent on shear in the cone.", _pushed(lambda p: p.cone),
        "pressure of shear in the cone", 2),
    Quantity("state.pressure_stretching_MPa", "MPa", "Pressure spent on drawing entangled chains, in the cone and wherever the "
        "bore narrows.", _pushed(lambda p: p.stretching), "pressure of drawing chains", 2),
    Quantity("state.pressure_land_MPa", "MPa", "Pressure spent in the orifice's capillary.", _pushed(lambda p: p.land),
        "pressure in the capillary", 2),
    *(_by_criterion(name, words) for name, words in JUDGED.items()),
    Quantity("state.temperature_wall_degC", "degC", "Bore wall, metal side, at the end of the melt zone.", lambda r: r.wall,
        "bore wall", shown=frozenset((GLANCE, SWEPT))),
    Quantity("state.temperature_sensor_degC", "degC", "At the sensor point.", lambda r: r.sensor, "sensor"),
    Quantity("state.sensor_reads_low_K", "K", "By how much the sensor reads less than the metal around it; null without a "
        "contact of its own.", _reads_low, "sensor reads low by", rare=True, shown=frozenset((AT_CEILING, SWEPT))),
    Quantity("state.temperature_tip_degC", "degC", "Nozzle's face beside the orifice.", lambda r: r.tip, "tip", shown=LISTED),
    Quantity("state.temperature_heat_sink_degC", "degC", "Hottest point of a heat sink that is a part; null where its "
        "temperature is given.", lambda r: _in_part(r, "heat sink"), "heat sink", rare=True,
        shown=frozenset((AT_CEILING, SWEPT))),
    Quantity("state.melt_zone_end_mm", "mm", "End of the melt zone, the orifice's capillary's entry, above the nozzle's face.",
        lambda r: r.melt_zone and r.melt_zone[0]),
    Quantity("state.melt_zone_begin_mm", "mm", "Where the bore wall first exceeds the flow temperature, above the nozzle's "
        "face.", lambda r: r.melt_zone and r.melt_zone[1]),
)  # fmt: skip


def _left(read: Callable[[Ooze], float]) -> Callable[[Ooze | None], float | None]:
    return lambda ooze: None if ooze is None else CUBIC_MM * read(ooze)


# Of any state: records of cases hold them for their field, comparisons for the working flow
OOZE: tuple[Quantity[Ooze | None], ...] = (
    Quantity("rest.ooze_first_seconds_mm3", "mm3", f"The most that can leave within {FIRST:g} s of a stop: the melt expands as "
        "it warms to the wall, and its weight drives it.", _left(lambda o: o.first_seconds), f"ooze within {FIRST:g} s", 2),
    Quantity("rest.ooze_per_minute_mm3", "mm3", "The same within a minute.", _left(lambda o: o.per_minute),
        "ooze within a minute", 2),
    Quantity("rest.ooze_expansion_mm3", "mm3", "Of it, all that the melt's expansion gives.", _left(lambda o: o.expansion)),
    Quantity("rest.ooze_weight_mm3_per_min", "mm3/min", "Flow that the molten column's weight drives at the card's viscosity "
        "at rest; null where the card has none.",
        lambda o: None if o is None or o.weight_flow is None else 60.0 * CUBIC_MM * o.weight_flow),
    Quantity("rest.retraction_mm", "mm", "Length of filament whose volume is that of the capillary and the cone above it.",
        lambda o: None if o is None else MM * o.retraction, "retraction that empties the cone", 2),
)  # fmt: skip


def _spoiled(read: Callable[[Degradation], float | None]) -> Callable[[Degradation | None], float | None]:
    return lambda found: None if found is None else read(found)


# Of any state, as the ooze
DEGRADATION: tuple[Quantity[Degradation | None], ...] = (
    Quantity("degradation.slow_hot_time_s", "s", "Time of the outermost twentieth of the flow in the melt zone above the "
        "polymer's degradation temperature.", _spoiled(lambda d: d.hot_time), "outermost 5 % above degrading"),
    Quantity("degradation.margin_K", "K", "How far the hottest wall that melt touches is below the degradation temperature.",
        _spoiled(lambda d: d.margin), "hottest wall below degrading"),
    Quantity("degradation.slow_dose_percent", "%", "Share of its induction time that the outermost twentieth spends in the "
        "melt zone; null where the card has none.", _spoiled(lambda d: None if d.dose is None else 100.0 * d.dose),
        "induction time spent by the outermost 5 %", rare=True),
    Quantity("degradation.longest_pause_s", "s", "Induction time at the hottest wall, to which melt at rest comes; null where "
        "the card has none.", _spoiled(lambda d: d.pause), "induction time in a pause", 0, rare=True),
)  # fmt: skip
SPOILING: tuple[Quantity[Result], ...] = tuple(each.lifted(lambda r: r.degradation) for each in DEGRADATION)
REST: tuple[Quantity[Result], ...] = tuple(each.lifted(lambda r: r.ooze) for each in OOZE)

POLYMER: tuple[Quantity[Result], ...] = (
    Quantity("polymer.flow_temperature_degC", "degC", "Above it the polymer yields to the feeder; the melt ceiling is judged "
        "by it.", lambda r: r.problem.materials.polymer.flow_temperature - ZERO_CELSIUS, "flow temperature"),
    Quantity("polymer.softening_temperature_degC", "degC", "Above it the filament's skin wets the bore.",
        lambda r: r.problem.materials.polymer.softening_temperature - ZERO_CELSIUS, "softening temperature"),
    Quantity("polymer.density_kg_per_m3", "kg/m3", "Density of the solid filament at 23 degC, by which flow and mass are "
        "exchanged.", lambda r: r.problem.materials.polymer.reference_density),
)  # fmt: skip

BALANCE: tuple[Quantity[Result], ...] = (
    Quantity("balance.heater_W", "W", "Heat in: the heater.", _balance(lambda b: b.heater)),
    Quantity("balance.melt_W", "W", "Heat out: what the polymer carries away through the orifice.", _balance(lambda b: b.melt)),
    Quantity("balance.faces_W", "W", "Heat out: through each face to the air, by name, in the order of the VTU file's numbers.",
        _balance(lambda b: dict(b.faces))),
    Quantity("balance.cold_end_W", "W", "Heat out: into the heat sink.", _balance(lambda b: b.cold_end)),
    Quantity("balance.inlet_W", "W", "Heat out: up the cold filament by conduction.", _balance(lambda b: b.inlet)),
    Quantity("balance.closure_W", "W", "Heater less all of the above: what the solve leaves unaccounted for.",
        _balance(lambda b: b.imbalance)),
)  # fmt: skip

STUCK_ON: Quantity[Result] = Quantity(
    "safety.stuck_on_sensor_degC", "degC", "At the sensor with the heater at its full rating, nothing flowing, the jet off and "
    "the heat sink cold; null beyond the tables of the losses.", lambda r: r.stuck_on and r.stuck_on.sensor - ZERO_CELSIUS,
    "sensor, heater stuck on", 0,
)  # fmt: skip

MESH: tuple[Quantity[Result], ...] = (
    Quantity("mesh.level", "", "Mesh level.", lambda r: r.problem.level, "mesh level", 2),
    Quantity("mesh.cells", "", "Number of cells.", lambda r: r.system.space.section.mesh.nelements, "cells"),
    Quantity("mesh.unknowns", "", "Number of unknown temperatures.", lambda r: r.system.space.size,
        "unknown temperatures"),
    Quantity("mesh.factorisations", "", "Matrix factorisations spent on the answer.", lambda r: r.factorisations,
        "factorisations", shown=frozenset((SWEPT,))),
)  # fmt: skip

MASSES: tuple[Quantity[Result], ...] = (
    Quantity("masses.mass_g", "g", "Mass of all solid parts as modelled, cold; without heater, sensor, screws and polymer.",
        lambda r: sum(_masses(r).values()), "mass", shown=frozenset((COMPARED, SWEPT))),
    Quantity("masses.parts_g", "g", "The same part by part.", lambda r: _masses(r)),  # noqa: PLW0108 - it stands below
)  # fmt: skip


def _masses(result: Result) -> dict[str, float]:
    return {part: GRAM * kilograms for part, kilograms in masses(result.problem, result.system.space).items()}


# Of the state at a ceiling, without a place in the record of a case: comparisons show it
SETPOINT: Quantity[Result] = Quantity(
    "setpoint_degC", "degC", "The setpoint.", lambda r: r.problem.operation.setpoint - ZERO_CELSIUS, "setpoint"
)
MELT_ZONE: Quantity[Result] = Quantity(
    "melt_zone_mm", "mm", "Length of the melt zone at the ceiling.", _melt_zone, "melt zone",
    shown=frozenset((AT_CEILING,)), rare=True,
)  # fmt: skip

RESULT = (
    SETPOINT,
    MELT_ZONE,
    *CEILINGS,
    *PRINTING,
    *STATE,
    *REST,
    *SPOILING,
    *POLYMER,
    *BALANCE,
    STUCK_ON,
    *MASSES,
    *MESH,
)


def shown_in(table: str) -> list[Quantity[Result]]:
    """The quantities that stand in a `table` without being asked for, the flow first."""
    return sorted((each for each in RESULT if table in each.shown), key=lambda each: each.name != "flow_mm3_per_s")
