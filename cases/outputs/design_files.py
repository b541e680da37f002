"""The files of a design: the answer as a case file, design.json with every step, design.png; all of them or none."""

from __future__ import annotations

import os
from pathlib import Path
from textwrap import fill
from typing import Any

from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.reader import example_names
from meltzone.cases.outputs.design_figure import design_figure
from meltzone.cases.outputs.figures import save
from meltzone.cases.outputs.keyed import as_json, rounded
from meltzone.cases.outputs.record import in_words, versions
from meltzone.cases.outputs.writing import staged_folder
from meltzone.cases.studies.design.read import Design
from meltzone.cases.studies.design.run import Designed, Weighed
from meltzone.cases.studies.design.search import Step
from meltzone.cases.studies.results import CUBIC_MM, ZERO_CELSIUS
from meltzone.materials.limits import DEFERENCE

CASE, RECORD, PICTURE = "answer.toml", "design.json", "design.png"
OURS = (RECORD, CASE, PICTURE)
FORM = 1  # raised when a key changes its name, its unit or its meaning


def write_design(found: Designed, folder: Path) -> None:
    """Write the files into `folder`, the case file only where there is an answer; raises CaseError."""
    with staged_folder(folder, OURS) as temporary:
        if found.steps:
            save(design_figure(found), temporary / PICTURE)
        if found.answer is not None:
            (temporary / CASE).write_text(answer_text(found, folder), encoding="utf-8")
        (temporary / RECORD).write_text(as_json(rounded(record_of(found))), encoding="utf-8")


def answer_text(found: Designed, folder: Path) -> str:
    """The answer as a case file in `folder` that extends the base of the design."""
    lines = [found.statement, *found.binding, "Check it before it is made: this is an estimate. " + DEFERENCE]
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


def record_of(found: Designed) -> dict[str, Any]:
    """The whole design as plain types; flows in mm3/s, volumes in mm3, powers in W, varied values with their units."""
    design = found.design
    return {
        "form": FORM,
        "versions": versions(),
        "design": {
            "file": design.file,
            "title": design.title,
            "base": design.base.label,
            "reach_mm3_per_s": None if design.reach is None else CUBIC_MM * design.reach,
            "vary": {item.key: [item.words(item.least), item.words(item.most)] for item in design.varied},
            "choose": {key: list(values) for key, values in design.choices.items()},
            "limits": {
                "hot_volume_mm3": None if design.hot_volume is None else CUBIC_MM * design.hot_volume,
                "at_flow_mm3_per_s": found.flow,
                "power_W": design.power,
            },
        },
        "statement": found.statement,
        "reached": found.reached,
        "binding": list(found.binding),
        "answer": None if found.answer is None else dict(found.written),
        "gain_percent": found.gain,
        "start": _side(found.start),
        "end": None if found.answer is None else _side(found.answer),
        "factorisations": found.factorisations,
        "steps": [_step(found, step) for step in found.steps],
        "deference": DEFERENCE,
    }


def _side(side: Weighed) -> dict[str, Any]:
    result = side.result
    return {
        "ceiling_mm3_per_s": result.flow_ceiling,
        "ceiling_finer_mesh_mm3_per_s": side.finer_flow,
        "governs": result.governs,
        "heater_power_W": result.power,
        "hot_volume_mm3": side.hot,
        "tip_degC": result.tip,
        "stuck_on_sensor_degC": None if result.stuck_on is None else result.stuck_on.sensor - ZERO_CELSIUS,
        "cautions": [in_words(finding) for finding in result.safety],
    }


def _step(found: Designed, step: Step) -> dict[str, Any]:
    trade = step.point.trade
    return {
        "number": step.number,
        "choice": dict(step.choice),
        "values": {
            item.key: item.words(value) for item, value in zip(found.design.varied, step.point.values, strict=True)
        },
        "ceiling_mm3_per_s": CUBIC_MM * step.point.ceiling,
        "governs": trade.ceilings.governs,
        "heater_power_W": trade.heater.value,
        "hot_volume_mm3": None if trade.hot is None else CUBIC_MM * trade.hot.value,
        "excess_percent": 100.0 * step.excess,
        "factorisations": trade.factorisations,
    }
