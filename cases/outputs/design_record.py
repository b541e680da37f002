"""The record of a design: what was asked, start and end, every step, the front."""

from __future__ import annotations

from typing import Any

from meltzone.cases.outputs.design_front import FRONT
from meltzone.cases.outputs.quantities import nested
from meltzone.cases.outputs.record_head import LAST, head, in_words, of_result
from meltzone.cases.studies.design.limits import Limited
from meltzone.cases.studies.design.run import Designed, Weighed
from meltzone.cases.studies.design.search import Step
from meltzone.cases.studies.quantities import Quantity, with_ends
from meltzone.cases.studies.results import CUBIC_MM, Result

FORM = 1  # raised when a key changes its name, its unit or its meaning


def _result(side: Weighed) -> Result:
    return side.result


def _bounds(each: Limited) -> dict[str, str | None]:
    return {end: None if (v := getattr(each, end)) is None else each.told(v) for end in ("least", "most")}


SIDE: tuple[Quantity[Weighed], ...] = (
    *with_ends(of_result("ceilings.flow_mm3_per_s", _result, "ceiling_mm3_per_s")),
    Quantity("limited", "", "What else is limited, by name, in the unit of that output.", lambda w: dict(w.judged)),
    Quantity("ceiling_finer_mesh_mm3_per_s", "mm3/s", "The same on the next finer mesh.", lambda w: w.finer_flow,
             "- on the finer mesh", 2),
    of_result("ceilings.governs", _result, "governs"),
    of_result("state.heater_power_W", _result, "heater_power_W"),
    Quantity("hot_volume_mm3", "mm3", "Polymer above its flow temperature at `at_flow_mm3_per_s`.", lambda w: w.hot,
             "hot volume"),
    of_result("masses.mass_g", _result, "mass_g"),
    of_result("state.temperature_tip_degC", _result, "tip_degC"),
    of_result("safety.stuck_on_sensor_degC", _result, "stuck_on_sensor_degC"),
    Quantity("cautions", "degC", "As in result.json.", lambda w: list(map(in_words, w.result.safety))),
)  # fmt: skip
STEP: tuple[Quantity[tuple[Designed, Step]], ...] = (
    Quantity("number", "", "Number of the step.", lambda s: s[1].number, "step"),
    Quantity("choice", "", "What was chosen, by key.", lambda s: dict(s[1].choice), "choice"),
    Quantity("values", "", "The varied keys with their units.", lambda s: values_of(*s)),
    Quantity("ceiling_mm3_per_s", "mm3/s", "The greatest flow below every ceiling.",
             lambda s: CUBIC_MM * s[1].point.ceiling, "ceiling", 2),
    Quantity("governs", "", "The ceiling that governs.", lambda s: s[1].point.trade.ceilings.governs),
    Quantity("heater_power_W", "W", "Heater power there.", lambda s: s[1].point.trade.heater.value),
    Quantity("hot_volume_mm3", "mm3", "Polymer above its flow temperature.", lambda s: _hot(s[1]), "hot"),
    Quantity("excess_percent", "%", "By how much the worst limit is exceeded.", lambda s: 100.0 * s[1].excess),
    Quantity("factorisations", "", "Matrix factorisations of the step.", lambda s: s[1].point.trade.factorisations),
)  # fmt: skip
KEYS: tuple[Quantity[Designed], ...] = (
    *head(FORM),
    Quantity("design.file", "", "The design file.", lambda d: d.design.file),
    Quantity("design.title", "", "Its title.", lambda d: d.design.title),
    Quantity("design.base", "", "The case that it begins with.", lambda d: d.design.base.label),
    Quantity("design.reach_mm3_per_s", "mm3/s", "The ceiling asked for; null where the greatest is sought.",
             lambda d: d.design.reach and CUBIC_MM * d.design.reach),
    Quantity("design.vary", "", "Keys that vary, with least and greatest value.",
             lambda d: {item.key: [item.words(item.least), item.words(item.most)] for item in d.design.varied}),
    Quantity("design.choose", "", "Keys with values tried one by one.",
             lambda d: {key: list(values) for key, values in d.design.choices.items()}),
    Quantity("design.limits.hot_volume_mm3", "mm3", "Limit of the hot volume, or null.",
             lambda d: d.design.hot_volume and CUBIC_MM * d.design.hot_volume),
    Quantity("design.limits.at_flow_mm3_per_s", "mm3/s", "Flow at which it is judged.", lambda d: d.flow),
    Quantity("design.limits.power_W", "W", "Limit of the heater power, or null.", lambda d: d.design.power),
    Quantity("design.limits.others", "", "All other limits by name: `least` and `most` with their unit, or null.",
             lambda d: {each.name: _bounds(each) for each in d.design.limits}),
    Quantity("design.against", "", "What the front is drawn against.", lambda d: [each.name for each in d.design.against]),
    Quantity("statement", "", "The outcome in a sentence.", lambda d: d.statement),
    Quantity("reached", "", "Whether what was asked for is reached.", lambda d: d.reached),
    Quantity("binding", "", "What stops it, in words.", lambda d: list(d.binding)),
    Quantity("answer", "", "The values found, by key; null without an answer.", lambda d: d.answer and dict(d.written)),
    *with_ends(Quantity("gain_percent", "%", "Gain on the finer mesh; what both share cancels in its band.", lambda d: d.gain,
               band=lambda d: d.gain_band and (d.gain_band.low, d.gain_band.high))),
    Quantity("start", "", "The base: keys of a side below.", lambda d: nested(SIDE, d.start)),
    Quantity("end", "", "The answer: keys of a side below.", lambda d: d.answer and nested(SIDE, d.answer)),
    Quantity("front", "", "The front, the least of what it is drawn against first: keys of a point below.",
             lambda d: [nested(FRONT, (d, each)) for each in d.front]),
    Quantity("factorisations", "", "Matrix factorisations in all.", lambda d: d.factorisations),
    Quantity("steps", "", "Every step: keys of a step below.", lambda d: [nested(STEP, (d, step)) for step in d.steps]),
    LAST,
)  # fmt: skip


def record(found: Designed) -> dict[str, Any]:
    """The whole record; what does not exist is None."""
    return nested(KEYS, found)


def values_of(found: Designed, step: Step) -> dict[str, str]:
    """The varied keys of a `step` with their units."""
    return {item.key: item.words(value) for item, value in zip(found.design.varied, step.point.values, strict=True)}


def _hot(step: Step) -> float | None:
    hot = step.point.trade.hot
    return None if hot is None else CUBIC_MM * hot.value
