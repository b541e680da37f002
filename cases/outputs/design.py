"""What is shown and written of a design: start against answer, what stops it, the steps, the answer as a case file."""

from __future__ import annotations

import os
from pathlib import Path
from textwrap import fill
from typing import Any

from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.reader import example_names
from meltzone.cases.outputs.design_figure import design_figure
from meltzone.cases.outputs.files import Files
from meltzone.cases.outputs.grid import NONE, Column, Grid, words
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.page import Answer, Block, Cautions, Head, Page, Picture, Warnings
from meltzone.cases.outputs.quantities import as_json, by_quantity, chosen, nested
from meltzone.cases.outputs.record_head import LAST, head, in_words, of_result
from meltzone.cases.outputs.result import flow_words, gained
from meltzone.cases.studies.design.read import Design
from meltzone.cases.studies.design.run import Designed, Weighed, words_of
from meltzone.cases.studies.design.search import Step
from meltzone.cases.studies.quantities import Quantity, with_ends
from meltzone.cases.studies.results import CUBIC_MM, Result

CASE, RECORD, PICTURE, REPORT = "answer.toml", "design.json", "design.png", "report.html"
OURS = (RECORD, CASE, PICTURE, REPORT)
FORM = 1  # raised when a key changes its name, its unit or its meaning
MOST_STEPS = 30  # of the table; all of them stand in the record


def _result(side: Weighed) -> Result:
    return side.result


SIDE: tuple[Quantity[Weighed], ...] = (
    *with_ends(of_result("ceilings.flow_mm3_per_s", _result, "ceiling_mm3_per_s")),
    Quantity("ceiling_finer_mesh_mm3_per_s", "mm3/s", "The same on the next finer mesh.", lambda w: w.finer_flow,
             "- on the finer mesh", 2),
    of_result("ceilings.governs", _result, "governs"),
    of_result("state.heater_power_W", _result, "heater_power_W"),
    Quantity("hot_volume_mm3", "mm3", "Polymer above its flow temperature at `at_flow_mm3_per_s`.", lambda w: w.hot,
             "hot volume"),
    of_result("state.temperature_tip_degC", _result, "tip_degC"),
    of_result("safety.stuck_on_sensor_degC", _result, "stuck_on_sensor_degC"),
    Quantity("cautions", "degC", "As in result.json.", lambda w: list(map(in_words, w.result.safety))),
)  # fmt: skip
STEP: tuple[Quantity[tuple[Designed, Step]], ...] = (
    Quantity("number", "", "Number of the step.", lambda s: s[1].number, "step"),
    Quantity("choice", "", "What was chosen, by key.", lambda s: dict(s[1].choice), "choice"),
    Quantity("values", "", "The varied keys with their units.", lambda s: _values(*s)),
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
    Quantity("statement", "", "The outcome in a sentence.", lambda d: d.statement),
    Quantity("reached", "", "Whether what was asked for is reached.", lambda d: d.reached),
    Quantity("binding", "", "What stops it, in words.", lambda d: list(d.binding)),
    Quantity("answer", "", "The values found, by key; null without an answer.", lambda d: d.answer and dict(d.written)),
    *with_ends(Quantity("gain_percent", "%", "Gain on the finer mesh; what both share cancels in its band.", lambda d: d.gain,
               band=lambda d: d.gain_band and (d.gain_band.low, d.gain_band.high))),
    Quantity("start", "", "The base: keys of a side below.", lambda d: nested(SIDE, d.start)),
    Quantity("end", "", "The answer: keys of a side below.", lambda d: d.answer and nested(SIDE, d.answer)),
    Quantity("factorisations", "", "Matrix factorisations in all.", lambda d: d.factorisations),
    Quantity("steps", "", "Every step: keys of a step below.", lambda d: [nested(STEP, (d, step)) for step in d.steps]),
    LAST,
)  # fmt: skip


def record(found: Designed) -> dict[str, Any]:
    """The whole record; what does not exist is None."""
    return nested(KEYS, found)


def files(found: Designed, folder: Path) -> Files:
    """What goes into `folder`, the case file only where there is an answer."""
    return {
        PICTURE: design_figure(found) if found.steps else None,
        CASE: None if found.answer is None else answer_text(found, folder),
        REPORT: page_html(page(found)),
        RECORD: as_json(record(found)),
    }


def answer_text(found: Designed, folder: Path) -> str:
    """The answer as a case file in `folder` that extends the base of the design."""
    lines = [found.statement, *found.binding, f"Check it before it is made: this is an estimate. {LAST.read(found)}"]
    comments = [fill(line, 118, initial_indent="# ", subsequent_indent="#   ") for line in lines]
    tables: dict[str, list[str]] = {}
    for key, value in found.written.items():
        table, _, name = key.rpartition(".")
        tables.setdefault(table, []).append(f"{name} = {_toml(value)}")
    body = [f"title = {written_form(f'{found.design.title}: answer', 200)}", f"extends = {_base(found.design, folder)}"]
    body += tables.pop("", [])
    body += [line for table, rows in tables.items() for line in ("", f"[{table}]", *rows)]
    return "\n".join([*comments, *body]) + "\n"


def _toml(value: Any) -> str:
    return f"{value:.6g}" if isinstance(value, float) else written_form(value, 200)


def _base(design: Design, folder: Path) -> str:
    """How the answer names the base: a shipped example's name, else the path from its folder."""
    path = design.base.path
    if path.stem in example_names() and "(shipped example)" in design.base.label:
        return written_form(path.stem)
    try:
        return written_form(os.path.relpath(path.resolve(), folder.resolve()), 1000)
    except ValueError:  # another drive
        return written_form(str(path.resolve()), 1000)


def page(found: Designed) -> Page:
    """Everything about a design."""
    best = found.answer or found.start
    blocks: list[Block] = [
        Head(found.design.title, found.design.file),
        Answer("\n- ".join([f"{found.statement}{_in_bands(found)}", *found.binding]), found.statement, found.reached),
    ]
    if found.steps:
        blocks.append(Picture(lambda: design_figure(found), "Ceilings and varied keys over the steps", found.statement))
    if found.answer:
        rows = tuple((key, str(value)) for key, value in found.written.items())
        blocks.append(Grid("Found", (Column("key"), Column("answer", "as written", "number")), rows))
    blocks += [_sides(found), _steps(found), Warnings(tuple(best.result.warnings)), Cautions(tuple(best.result.safety))]
    return Page(tuple(blocks), "Design of a hot end")


def _in_bands(found: Designed) -> str:
    """How well the answer and what is gained are known, as a sentence behind the statement."""
    band = found.gain_band
    if found.answer is None or found.gain is None or band is None:
        return ""
    flow, reach = flow_words(found.answer.result)
    return f" That is {flow}{reach}; on the start {gained(found.gain, band)} %."


def _sides(found: Designed) -> Grid:
    """Start against answer."""
    sides = {"start": found.start} | ({"answer": found.answer} if found.answer else {})
    gain = "" if found.gain is None else f"Gain on the finer mesh {found.gain:+.1f} %. "
    cost = f"{len(found.steps)} steps, {found.factorisations} matrix factorisations, slopes by adjoints."
    at = f"; the hot volume belongs to {found.flow:.3g} mm³/s"
    quantities = [each for each in SIDE if each.heading]
    table = by_quantity("Start and answer", quantities, list(sides.items()))
    return Grid(table.caption, table.columns, table.rows, notes=(gain + cost[:-1] + at + ".",))


def _steps(found: Designed) -> Grid:
    """The steps with their varied keys, whether the limits are kept, and how many more there are."""
    ceiling, hot = (each.read for each in chosen(STEP, "ceiling_mm3_per_s", "hot_volume_mm3"))
    rows = []
    for step in found.steps[:MOST_STEPS]:
        kept = "kept" if step.kept else f"over by {100.0 * step.excess:.1f} %"
        choice = [words_of(step.choice)] if found.design.choices else []
        source, values = (found, step), _values(found, step).values()
        volume = hot(source)
        numbers = f"{ceiling(source):.2f}", NONE if volume is None else f"{volume:.1f}"
        rows.append((str(step.number), *choice, *values, *numbers, kept))
    names = [Column("step"), *([Column("choice")] if found.design.choices else [])]
    names += [Column(item.key, side="number") for item in found.design.varied]
    columns = (*names, *words("ceiling [mm³/s]", "hot [mm³]"), Column("limits", side="number"))
    left = len(found.steps) - MOST_STEPS
    return Grid("Steps", columns, tuple(rows), notes=(f"and {left} more, in {RECORD}",) if left > 0 else ())


def _values(found: Designed, step: Step) -> dict[str, str]:
    return {item.key: item.words(value) for item, value in zip(found.design.varied, step.point.values, strict=True)}


def _hot(step: Step) -> float | None:
    hot = step.point.trade.hot
    return None if hot is None else CUBIC_MM * hot.value
