"""What is shown and written of a transient: the answer, its times, where the heat went, the history."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from meltzone.cases.outputs.delimited import delimited
from meltzone.cases.outputs.files import Files
from meltzone.cases.outputs.grid import Column, Grid, Row, number, words
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.page import Answer, Block, Cautions, Head, Page, Picture, Words
from meltzone.cases.outputs.quantities import as_json, by_source, chosen, named, nested
from meltzone.cases.outputs.record_head import LAST, case_head, in_words
from meltzone.cases.outputs.transient_figure import transient_figure
from meltzone.cases.studies.quantities import Quantity
from meltzone.cases.studies.results import CUBIC_MM
from meltzone.cases.studies.transient import Timed, filament_length
from meltzone.fem.field import Field
from meltzone.fem.in_time.history import Moment
from meltzone.fem.in_time.unsteady import QUANTITIES, Burst, Response, WarmUp
from meltzone.materials.units import ZERO_CELSIUS

RECORD, TABLE, PICTURE, REPORT = "transient.json", "history.csv", "transient.png", "report.html"
OURS = (RECORD, TABLE, PICTURE, REPORT)
FORM = 1  # raised when a key changes its name, its unit or its meaning
SHOWN = 7  # times of a history in tables


def _if(kind: type, read: Callable[[Any], Any]) -> Callable[[Timed], Any]:
    return lambda timed: read(timed.found) if isinstance(timed.found, kind) else None


def _flow(value: float | None) -> float | None:
    return None if value is None else CUBIC_MM * value


KEYS: tuple[Quantity[Timed], ...] = (
    *case_head(FORM, lambda t: t.case),
    Quantity("kind", "", '"warm-up", "response" or "burst"; the tables of the other two hold nulls.', lambda t: t.kind),
    Quantity("answer", "", "The outcome in a sentence.", lambda t: t.statement),
    Quantity("warm_up.reached_s", "s", "Sensor within 1 K of the setpoint, from cold with the heater fully on; null if never.",
             _if(WarmUp, lambda w: w.reached), "sensor within 1 K of the setpoint"),
    Quantity("warm_up.melted_s", "s", "The judged temperature first passes the flow temperature, nothing flowing.",
             _if(WarmUp, lambda w: w.melted), "polymer at the end of the melt zone at its flow temperature"),
    Quantity("warm_up.ready_s", "s", "The later of the two.", _if(WarmUp, lambda w: w.ready)),
    Quantity("response.changes", "s; mm3/s", "The steady start and every step: `time_s`, `flow_mm3_per_s`, `fan`.",
             _if(Response, lambda r: [_change(change) for change in r.changes])),
    Quantity("response.before", "degC; W", "Steady state before the first step: `power_W` and temperatures.",
             _if(Response, lambda r: _state(r.before))),
    Quantity("response.after", "degC; W", "Steady state long after the last step; null where none was found.",
             _if(Response, lambda r: _state(r.after))),
    Quantity("response.settling_63_percent_s", "s", "Time from the last step until 63 % of the way to the steady end is "
             "covered for good, by quantity; null where a quantity hardly moves or the history is too short.",
             _if(Response, lambda r: {name: r.settling(name, 0.632) for name in QUANTITIES})),
    Quantity("response.settling_95_percent_s", "s", "The same for 95 %.",
             _if(Response, lambda r: {name: r.settling(name, 0.95) for name in QUANTITIES})),
    Quantity("burst.working_flow_mm3_per_s", "mm3/s", "Flow of the steady state before the burst.",
             _if(Burst, lambda b: _flow(b.working))),
    Quantity("burst.flow_mm3_per_s", "mm3/s", "Flow of the burst.", _if(Burst, lambda b: _flow(b.flow)), "burst"),
    Quantity("burst.steady_ceiling_mm3_per_s", "mm3/s", "Flow that melts through for ever; null where there is none.",
             _if(Burst, lambda b: _flow(b.ceiling))),
    Quantity("burst.lasts_s", "s", "Time until the judged temperature falls below the flow temperature; null where it does "
             "not.", _if(Burst, lambda b: b.lasts), "lasts", 2),
    Quantity("burst.volume_mm3", "mm3", "What is extruded by then, as solid filament.", _if(Burst, lambda b: _flow(b.volume)),
             "volume"),
    Quantity("burst.filament_mm", "mm", "The same as a length of filament.", _if(Burst, filament_length), "filament"),
    Quantity("heat_J", "J", "Heat since the start of the history: `heater` and `viscous` in; `stored`, `melt`, `losses`, "
             "`cold_end`, `inlet` out; `imbalance` is what is not accounted for.",
             lambda t: {**vars(t.history.heats), "imbalance": t.history.heats.imbalance}),
    Quantity("history", "see below", "Lists of equal length, one entry a moment, by the columns below.",
             lambda t: {column.path: [column.read(moment) for moment in t.history.moments] for column in COLUMNS}),
    Quantity("cautions", "degC", "As in result.json.", lambda t: list(map(in_words, t.cautions))),
    LAST,
)  # fmt: skip

COLUMNS: tuple[Quantity[Moment], ...] = (
    Quantity("time_s", "s", "Time; steps without one of their own come at 0.", lambda m: m.time, "time"),
    Quantity("flow_mm3_per_s", "mm3/s", "Flow up to this moment.", lambda m: CUBIC_MM * m.flow, "flow"),
    Quantity("power_W", "W", "Heater power, mean since the moment before.", lambda m: m.power, "heater"),
    Quantity("sensor_degC", "degC", "Sensor.", lambda m: m.sensor - ZERO_CELSIUS, "sensor"),
    Quantity("tip_degC", "degC", "Nozzle's face beside the orifice.", lambda m: m.tip - ZERO_CELSIUS, "tip"),
    Quantity("wall_degC", "degC", "Bore wall at the end of the melt zone.", lambda m: m.wall - ZERO_CELSIUS),
    Quantity("mean_degC", "degC", "Flow-weighted mean there.", lambda m: m.mean - ZERO_CELSIUS, "mean"),
    Quantity("inner_degC", "degC", "Edge of the innermost share of the flow there.", lambda m: m.inner - ZERO_CELSIUS,
             "innermost flow"),
    Quantity("core_degC", "degC", "Axis there.", lambda m: m.core - ZERO_CELSIUS, "core"),
    Quantity("heater_J", "J", "Heat given by the heater since the start.", lambda m: m.heats.heater),
    Quantity("stored_J", "J", "Heat stored since the start.", lambda m: m.heats.stored),
    Quantity("melt_J", "J", "Heat carried away by the polymer since the start.", lambda m: m.heats.melt),
    Quantity("losses_J", "J", "Heat lost to the air since the start.", lambda m: m.heats.losses),
)  # fmt: skip
LINES = {column.name.partition("_")[0]: column for column in COLUMNS if column.heading}


def record(timed: Timed) -> dict[str, Any]:
    """The whole record as plain types; what does not exist is None."""
    return nested(KEYS, timed)


def files(timed: Timed, folder: Path) -> Files:
    """What goes into `folder`."""
    rows = ([column.read(moment) for column in COLUMNS] for moment in timed.history.moments)
    return {
        PICTURE: transient_figure(timed),
        REPORT: page_html(page(timed)),
        TABLE: delimited([column.path for column in COLUMNS], rows),
        RECORD: as_json(record(timed)),
    }


def page(timed: Timed) -> Page:
    """Everything about one transient."""
    if isinstance(timed.found, WarmUp):
        found = _warm_up(timed)
    elif isinstance(timed.found, Response):
        found = _response(timed.found)
    else:
        found = by_source("", [each for each in KEYS if each.path.startswith("burst.") and each.heading], [timed])
    blocks: tuple[Block, ...] = (
        Head(timed.title, timed.case.file),
        Answer(f"{timed.statement}."),
        Picture(
            lambda: transient_figure(timed), "Temperatures, heater power and flow over time", timed.statement, "svg"
        ),
        found,
        _history(timed),
        _heats(timed),
        Cautions(tuple(timed.cautions)),
    )
    return Page(blocks, "A hot end in time")


def _warm_up(timed: Timed) -> Grid:
    times = chosen(KEYS, "warm_up.melted_s", "warm_up.reached_s")
    rows = tuple((each.heading, number(each.read(timed), 1)) for each in times)
    return Grid("", words("warm-up from cold", "after [s]"), rows)


def _response(found: Response) -> Grid:
    rows: list[Row] = []
    for name in QUANTITIES:
        shift = 0.0 if name == "power" else ZERO_CELSIUS
        last = None if found.after is None else getattr(found.after, name) - shift
        times = (number(found.settling(name, share), 1) for share in (0.632, 0.95))
        first = number(getattr(found.before, name) - shift, 1)
        rows.append((named(LINES[name]), first, number(last, 1), *times))
    states = (Column("before", side="number"), Column("long after", side="number"))
    settled = words("63 % after [s]", "95 % after [s]")
    return Grid("", (Column("at the end of the melt zone, and"), *states, *settled), tuple(rows))


def _history(timed: Timed) -> Grid:
    """A few moments, evenly spread; temperatures between two of them are interpolated."""
    history, shown = timed.history, [column for column in COLUMNS if column.heading]
    times = history.of("time")
    rows: list[Row] = []
    for time in np.linspace(times[0], times[-1], SHOWN):
        step = min(max(int(np.searchsorted(times, time)), 1), times.size - 1)  # the one that leads to this time
        held = {"time": time, "flow": CUBIC_MM * history.of("flow")[step], "power": history.of("power")[step]}
        values = (
            held[name] if name in held else np.interp(time, times, history.of(name)) - ZERO_CELSIUS for name in LINES
        )
        rows.append(tuple(number(float(value), 1) for value in values))
    titles = (Column(column.heading, column.unit.replace("mm3", "mm³"), "number") for column in shown)
    return Grid("", tuple(titles), tuple(rows))


def _heats(timed: Timed) -> Words:
    heats = timed.history.heats
    parts = {"stored": heats.stored, "melt": heats.melt, "losses": heats.losses, "heat sink": heats.cold_end}
    listed = ", ".join(f"{name} {joule:.0f}" for name, joule in parts.items())
    share = abs(heats.imbalance) / max(abs(heats.heater), 1e-12)
    closed = "below a millionth" if share < 1e-6 else f"{100.0 * share:.4f} %"
    text = f"Heat from the heater {heats.heater:.0f} J: {listed} J; not accounted for {closed}."
    return Words(text, quiet=True)


def _change(change: Any) -> dict[str, Any]:
    fan = change.surroundings.jet_speed > 0.0
    return {"time_s": change.time, "flow_mm3_per_s": CUBIC_MM * change.flow, "fan": fan}


def _state(field: Field | None) -> dict[str, float] | None:
    if field is None:
        return None
    names = ("sensor", "tip", "wall", "mean", "inner", "core")
    temperatures = {f"{name}_degC": getattr(field, name) - ZERO_CELSIUS for name in names}
    return {"power_W": field.power} | temperatures
