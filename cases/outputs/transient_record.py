"""The record of a transient, JSON and CSV, from tables of keys."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

from meltzone.cases.outputs.keyed import Key, nested, rounded
from meltzone.cases.outputs.record import in_words, inputs_of, versions
from meltzone.cases.studies.results import CUBIC_MM, ZERO_CELSIUS
from meltzone.cases.studies.transient import Timed, filament_length
from meltzone.fem.field import Field
from meltzone.fem.in_time.history import Moment
from meltzone.fem.in_time.unsteady import QUANTITIES, Burst, Response, WarmUp
from meltzone.materials.limits import DEFERENCE

FORM = 1  # raised when a key changes its name, its unit or its meaning


def _if(kind: type, read: Callable[[Any], Any]) -> Callable[[Timed], Any]:
    return lambda timed: read(timed.found) if isinstance(timed.found, kind) else None


def _flow(value: float | None) -> float | None:
    return None if value is None else CUBIC_MM * value


KEYS: tuple[Key[Timed], ...] = (
    Key("form", "", "Number of this form of the file; it rises when a key changes.", lambda t: FORM),
    Key("versions", "", "Versions of the program, of Python and of the libraries that carry the numbers.",
        lambda t: versions()),
    Key("case.name", "", "Name of the case.", lambda t: t.case.name),
    Key("case.title", "", "Its title.", lambda t: t.case.model.title),
    Key("inputs", "as written", "Every input as resolved, as in result.json.", lambda t: inputs_of(t.case)),
    Key("kind", "", '"warm-up", "response" or "burst"; the tables of the other two hold nulls.', lambda t: t.kind),
    Key("answer", "", "The outcome in a sentence.", lambda t: t.statement),
    Key("warm_up.reached_s", "s", "Sensor within 1 K of the setpoint, from cold with the heater fully on; null if never.",
        _if(WarmUp, lambda w: w.reached)),
    Key("warm_up.melted_s", "s", "The judged temperature first passes the flow temperature, nothing flowing.",
        _if(WarmUp, lambda w: w.melted)),
    Key("warm_up.ready_s", "s", "The later of the two.", _if(WarmUp, lambda w: w.ready)),
    Key("response.changes", "s; mm3/s", "The steady start and every step: `time_s`, `flow_mm3_per_s`, `fan`.",
        _if(Response, lambda r: [_change(change) for change in r.changes])),
    Key("response.before", "degC; W", "Steady state before the first step: `power_W` and temperatures.",
        _if(Response, lambda r: _state(r.before))),
    Key("response.after", "degC; W", "Steady state long after the last step; null where none was found.",
        _if(Response, lambda r: _state(r.after))),
    Key("response.settling_63_percent_s", "s", "Time from the last step until 63 % of the way to the steady end is covered for "
        "good, by quantity; null where a quantity hardly moves or the history is too short.",
        _if(Response, lambda r: {name: r.settling(name, 0.632) for name in QUANTITIES})),
    Key("response.settling_95_percent_s", "s", "The same for 95 %.",
        _if(Response, lambda r: {name: r.settling(name, 0.95) for name in QUANTITIES})),
    Key("burst.working_flow_mm3_per_s", "mm3/s", "Flow of the steady state before the burst.",
        _if(Burst, lambda b: _flow(b.working))),
    Key("burst.flow_mm3_per_s", "mm3/s", "Flow of the burst.", _if(Burst, lambda b: _flow(b.flow))),
    Key("burst.steady_ceiling_mm3_per_s", "mm3/s", "Flow that melts through for ever; null where there is none.",
        _if(Burst, lambda b: _flow(b.ceiling))),
    Key("burst.lasts_s", "s", "Time until the judged temperature falls below the flow temperature; null where it does not.",
        _if(Burst, lambda b: b.lasts)),
    Key("burst.volume_mm3", "mm3", "What is extruded by then, as solid filament.", _if(Burst, lambda b: _flow(b.volume))),
    Key("burst.filament_mm", "mm", "The same as a length of filament.", _if(Burst, filament_length)),
    Key("heat_J", "J", "Heat since the start of the history: `heater` and `viscous` in; `stored`, `melt`, `losses`, "
        "`cold_end`, `inlet` out; `imbalance` is what is not accounted for.",
        lambda t: {**vars(t.history.heats), "imbalance": t.history.heats.imbalance}),
    Key("history", "see below", "Lists of equal length, one entry a moment, by the columns below.",
        lambda t: {column.path: [column.read(moment) for moment in t.history.moments] for column in COLUMNS}),
    Key("cautions", "degC", "As in result.json.", lambda t: list(map(in_words, t.cautions))),
    Key("deference", "", "What comes before every caution above.", lambda t: DEFERENCE),
)  # fmt: skip

COLUMNS: tuple[Key[Moment], ...] = (
    Key("time_s", "s", "Time; steps without one of their own come at 0.", lambda m: m.time),
    Key("flow_mm3_per_s", "mm3/s", "Flow up to this moment.", lambda m: CUBIC_MM * m.flow),
    Key("power_W", "W", "Heater power, mean since the moment before.", lambda m: m.power),
    Key("sensor_degC", "degC", "Sensor.", lambda m: m.sensor - ZERO_CELSIUS),
    Key("tip_degC", "degC", "Nozzle's face beside the orifice.", lambda m: m.tip - ZERO_CELSIUS),
    Key("wall_degC", "degC", "Bore wall at the end of the melt zone.", lambda m: m.wall - ZERO_CELSIUS),
    Key("mean_degC", "degC", "Flow-weighted mean there.", lambda m: m.mean - ZERO_CELSIUS),
    Key("inner_degC", "degC", "Edge of the innermost share of the flow there.", lambda m: m.inner - ZERO_CELSIUS),
    Key("core_degC", "degC", "Axis there.", lambda m: m.core - ZERO_CELSIUS),
    Key("heater_J", "J", "Heat given by the heater since the start.", lambda m: m.heats.heater),
    Key("stored_J", "J", "Heat stored since the start.", lambda m: m.heats.stored),
    Key("melt_J", "J", "Heat carried away by the polymer since the start.", lambda m: m.heats.melt),
    Key("losses_J", "J", "Heat lost to the air since the start.", lambda m: m.heats.losses),
)  # fmt: skip


def transient_record(timed: Timed) -> dict[str, Any]:
    """The whole record as plain types; what does not exist is None."""
    return nested(KEYS, timed)


def as_csv(timed: Timed) -> str:
    """The history, one row a moment under a header of the columns."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([column.path for column in COLUMNS])
    for moment in timed.history.moments:
        writer.writerow([rounded(float(column.read(moment))) for column in COLUMNS])
    return text.getvalue()


def _change(change: Any) -> dict[str, Any]:
    fan = change.surroundings.jet_speed > 0.0
    return {"time_s": change.time, "flow_mm3_per_s": CUBIC_MM * change.flow, "fan": fan}


def _state(field: Field | None) -> dict[str, float] | None:
    if field is None:
        return None
    names = ("sensor", "tip", "wall", "mean", "inner", "core")
    temperatures = {f"{name}_degC": getattr(field, name) - ZERO_CELSIUS for name in names}
    return {"power_W": field.power} | temperatures
