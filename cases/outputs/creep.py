"""What is shown and written of heat creep: the answer, the height by flow, what would lower it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from meltzone.cases.outputs.creep_figure import creep_figure
from meltzone.cases.outputs.files import Files
from meltzone.cases.outputs.grid import Cell, Grid, number, words
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.page import Answer, Block, Cautions, Head, Page, Picture, Warnings
from meltzone.cases.outputs.quantities import as_json, nested
from meltzone.cases.outputs.record_head import LAST, case_head, in_words
from meltzone.cases.studies.creep import Creep, HeightLever, State
from meltzone.cases.studies.quantities import Quantity

RECORD, PICTURE, REPORT = "creep.json", "creep.png", "report.html"
OURS = (RECORD, PICTURE, REPORT)
FORM = 1  # raised when a key changes its name, its unit or its meaning

STATE: tuple[Quantity[State], ...] = (
    Quantity("flow_mm3_per_s", "mm3/s", "Steady flow; 0 stands for 0.01 mm3/s.", lambda s: s.flow, "flow", 2),
    Quantity("height_mm", "mm", "How high above the block's upper face the filament's skin is softened.", lambda s: s.height,
             "softens up to", 2),
    Quantity("at_limit_degC", "degC", "Skin at the height at which softened filament is taken to jam.", lambda s: s.at_limit,
             "skin where it jams"),
)  # fmt: skip
LEVER: tuple[Quantity[HeightLever], ...] = (
    Quantity("key", "", "Dotted key of the case.", lambda e: e.key),
    Quantity("words", "", "What it is called.", lambda e: e.words),
    Quantity("kind", "", '"design" for what one can build or set, "data" for what the height hangs on.', lambda e: e.kind),
    Quantity("now", "", "Its value with its unit; empty for a property over temperature.", lambda e: e.now),
    Quantity("step", "", "The step taken, with its unit.", lambda e: e.step),
    Quantity("change_mm", "mm", "Change of the height at rest for the step, to first order.", lambda e: e.change),
)  # fmt: skip
KEYS: tuple[Quantity[Creep], ...] = (
    *case_head(FORM, lambda c: c.case),
    Quantity("answer", "", "The outcome in a sentence.", lambda c: c.statement),
    Quantity("limit_mm", "mm", "Height above the block's upper face at which softened filament is taken to jam.",
             lambda c: c.limit_height),
    Quantity("rest_height_mm", "mm", "How high it softens at rest, in the steady state.", lambda c: c.rest_height),
    Quantity("jams_at_rest", "", "Whether that is past the limit.", lambda c: c.jams_at_rest),
    Quantity("least_flow_mm3_per_s", "mm3/s", "Steady flow below which it comes to the limit; null where none does, or all do.",
             lambda c: c.least_flow),
    Quantity("working_flow_mm3_per_s", "mm3/s", "Flow out of which it pauses; null where nothing melts.", lambda c: c.working),
    Quantity("working_flow_chosen", "", "How that was chosen.", lambda c: c.chosen),
    Quantity("longest_pause_s", "s", "Time after a stop until it comes to the limit, the sensor held at the setpoint; null "
             "where it does not within half an hour.", lambda c: c.longest_pause),
    Quantity("liner_end_mm", "mm", "End of the liner above the block's upper face; null without one.",
             lambda c: c.liner_end and c.liner_end[0]),
    Quantity("liner_end_skin_degC", "degC", "Skin there at rest; null inside the block.",
             lambda c: c.liner_end and c.liner_end[1]),
    Quantity("states", "", "Steady states by flow: keys below.", lambda c: [nested(STATE, each) for each in c.states]),
    Quantity("levers", "", "What moves the height at rest: keys below.", lambda c: [nested(LEVER, each) for each in c.levers]),
    Quantity("notes", "", "What a reader of the numbers must know.", lambda c: list(c.notes)),
    Quantity("cautions", "degC", "As in result.json.", lambda c: list(map(in_words, c.cautions))),
    LAST,
)  # fmt: skip


def record(found: Creep) -> dict[str, Any]:
    """The whole record; what does not exist is None."""
    return nested(KEYS, found)


def files(found: Creep, folder: Path) -> Files:
    """What goes into `folder`."""
    return {PICTURE: creep_figure(found), REPORT: page_html(page(found)), RECORD: as_json(record(found))}


def page(found: Creep) -> Page:
    """Everything about one case."""
    blocks: tuple[Block, ...] = (
        Head(found.title, found.case.file),
        Answer(f"{found.statement}.", good=not found.jams_at_rest),
        Picture(lambda: creep_figure(found), "The filament's skin above the block", found.statement, "svg"),
        _states(found),
        *_levers(found),
        Warnings(found.notes, "note"),
        Cautions(found.cautions),
    )
    return Page(blocks, "heat creep")


def _states(found: Creep) -> Grid:
    columns = words(*(f"{each.heading} [{each.unit.replace('mm3', 'mm³')}]" for each in STATE))
    rows = tuple(tuple(number(each.read(state), each.digits) for each in STATE) for state in found.states)
    said = f"Heights above the block's upper face. It is taken to jam at {found.limit_height:.2f} mm. Steady; 0 is at rest."
    return Grid("Softened filament by flow", columns, rows, notes=(said,))


def _levers(found: Creep) -> list[Grid]:
    """What natural steps of the inputs would do to the height at rest."""
    rows = tuple(
        (each.step, each.words, each.now, Cell(f"{each.change:+.2f}", style="good" if each.change < 0.0 else "bad"))
        for each in found.levers
    )
    caption = "What moves the height at rest, to first order"
    return [Grid(caption, words("step", "of", "now", "height [mm]"), rows)] if rows else []
