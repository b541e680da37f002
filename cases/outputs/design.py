"""What is shown and written of a design: start against answer, what stops it, the steps, the answer as a case file."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any

from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.reader import example_names
from meltzone.cases.outputs.design_figure import design_figure, front_figure
from meltzone.cases.outputs.design_front import FRONT, front_table, front_words
from meltzone.cases.outputs.design_record import KEYS, SIDE, STEP, record, values_of
from meltzone.cases.outputs.files import Files
from meltzone.cases.outputs.grid import NONE, Column, Grid, number, words
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.page import Answer, Block, Cautions, Head, Page, Picture, Warnings
from meltzone.cases.outputs.quantities import as_json, by_quantity, chosen
from meltzone.cases.outputs.record_head import LAST
from meltzone.cases.outputs.result import flow_words, gained
from meltzone.cases.outputs.section_figure import problem_figure
from meltzone.cases.studies.design.read import Design
from meltzone.cases.studies.design.run import Designed, Weighed, words_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure

CASE, RECORD, PICTURE, REPORT = "answer.toml", "design.json", "design.png", "report.html"
FRONT_PICTURE, SECTIONS = "front.png", {"start": "before.png", "answer": "after.png"}
OURS = (RECORD, CASE, PICTURE, REPORT, FRONT_PICTURE, *SECTIONS.values())
__all__ = ["FRONT", "KEYS", "OURS", "SIDE", "STEP", "files", "page", "record"]
MOST_STEPS = 30  # of the table; all of them stand in the record


def files(found: Designed, folder: Path) -> Files:
    """What goes into `folder`, the case file only where there is an answer."""
    return {
        PICTURE: design_figure(found) if found.steps else None,
        FRONT_PICTURE: front_figure(found) if found.front else None,
        **{SECTIONS[name]: _section_of(side, name)() for name, side in _by_name(found).items()},
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
    strong = found.statement if found.answer is None else f"{found.answer.result.flow_ceiling:.2f} mm³/s"
    blocks: list[Block] = [
        Head(found.design.title, found.design.file),
        Answer("\n".join([found.statement, *_told(found), *map("- {}".format, found.binding)]), strong, found.reached),
    ]
    if found.front:
        blocks += [Picture(lambda: front_figure(found), "The front", front_words(found)), front_table(found)]
    for name, side in _by_name(found).items():
        blocks.append(Picture(_section_of(side, name), f"Section, {name}", f"Parts with their materials, {name}"))
    if found.steps:
        blocks.append(Picture(lambda: design_figure(found), "Ceilings and varied keys over the steps", found.statement))
    if found.answer:
        rows = tuple((key, str(value)) for key, value in found.written.items())
        blocks.append(Grid("Found", (Column("key"), Column("answer", "as written", "number")), rows))
    blocks += [_sides(found), _steps(found), Warnings(tuple(best.result.warnings)), Cautions(tuple(best.result.safety))]
    return Page(tuple(blocks), "Design of a hot end")


def _sides(found: Designed) -> Grid:
    """Start against answer."""
    sides = _by_name(found)
    gain = "" if found.gain is None else f"Gain on the finer mesh {found.gain:+.1f} %. "
    cost = f"{len(found.steps)} steps, {found.factorisations} matrix factorisations, slopes by adjoints."
    at = f"; the hot volume belongs to {found.flow:.3g} mm³/s"
    quantities = [each for each in SIDE if each.heading]
    table = by_quantity("Start and answer", quantities, list(sides.items()))
    rows = [
        (f"{each.words} [{each.unit}]", *(number(side.judged[each.name], 1) for side in sides.values()))
        for each in found.design.judged
        if each.name != "mass"
    ]
    return Grid(table.caption, table.columns, (*table.rows, *rows), notes=(gain + cost[:-1] + at + ".",))


def _by_name(found: Designed) -> dict[str, Weighed]:
    return {"start": found.start} | ({"answer": found.answer} if found.answer else {})


def _section_of(side: Weighed, name: str) -> Callable[[], Figure]:
    """What draws the section of a side before or after."""
    system = side.result.system
    return lambda: problem_figure(system.space.section, system.problem, f"{side.result.title}: {name}")


def _told(found: Designed) -> Iterator[str]:
    """What was found, the band, and what the front says."""
    if found.answer is None:
        return
    values = [f"{key} {value}" for key, value in found.written.items()]
    values += [f"{e.words} {e.told(v)}" for e in found.design.judged if (v := found.answer.judged[e.name]) is not None]
    yield f"With {', '.join(values)}."
    band = found.gain_band
    if found.gain is not None and band is not None:
        flow, reach = flow_words(found.answer.result)
        yield f"That is {flow}{reach}; on the start {gained(found.gain, band)} %."
    if found.front:
        yield front_words(found)


def _steps(found: Designed) -> Grid:
    """The steps with their varied keys, whether the limits are kept, and how many more there are."""
    ceiling, hot = (each.read for each in chosen(STEP, "ceiling_mm3_per_s", "hot_volume_mm3"))
    rows = []
    for step in found.steps[:MOST_STEPS]:
        kept = "kept" if step.kept else f"over by {100.0 * step.excess:.1f} %"
        choice = [words_of(step.choice)] if found.design.choices else []
        source, values = (found, step), values_of(found, step).values()
        volume = hot(source)
        numbers = f"{ceiling(source):.2f}", NONE if volume is None else f"{volume:.1f}"
        rows.append((str(step.number), *choice, *values, *numbers, kept))
    names = [Column("step"), *([Column("choice")] if found.design.choices else [])]
    names += [Column(item.key, side="number") for item in found.design.varied]
    columns = (*names, *words("ceiling [mm³/s]", "hot [mm³]"), Column("limits", side="number"))
    left = len(found.steps) - MOST_STEPS
    return Grid("Steps", columns, tuple(rows), notes=(f"and {left} more, in {RECORD}",) if left > 0 else ())
