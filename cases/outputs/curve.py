"""What is shown and written of a predicted curve: its law, a few points, measured onsets and ceilings beside predicted ones."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from meltzone.cases.outputs.curve_figure import delivery_figure
from meltzone.cases.outputs.delimited import delimited
from meltzone.cases.outputs.files import Files
from meltzone.cases.outputs.grid import Grid, Row, number, words
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.page import Answer, Block, Cautions, Head, Page, Picture
from meltzone.cases.outputs.printing import speeds
from meltzone.cases.outputs.quantities import as_json, nested
from meltzone.cases.outputs.record_head import case_head, of_result
from meltzone.cases.outputs.result import flow_words, outside, width
from meltzone.cases.studies.bench.reduce import Reduced
from meltzone.cases.studies.delivery import Delivery
from meltzone.cases.studies.quantities import Quantity, with_ends
from meltzone.cases.studies.result_quantities import PRINTING
from meltzone.cases.studies.results import CUBIC_MM, Result

RECORD, TABLE, PICTURE, REPORT = "curve.json", "curve.csv", "curve.png", "report.html"
OURS = (RECORD, TABLE, PICTURE, REPORT)
FORM = 1  # raised when a key changes its name, its unit or its meaning
SHOWN = (0.5, 0.8, 0.9, 1.0, 1.1, 1.25, 1.5)  # of the onset


def _result(found: Delivery) -> Result:
    return found.result


MEASURED: tuple[Quantity[Reduced], ...] = (
    Quantity("series", "", "The series.", lambda r: r.series.name),
    Quantity("onset_mm3_per_s", "mm3/s", "Commanded flow at which under-delivery begins.", lambda r: r.onset.value),
    Quantity("ceiling_mm3_per_s", "mm3/s", "Delivered flow of the plateau.", lambda r: r.ceiling.value),
    Quantity("ceiling_reached", "", "Whether the samples reach the plateau.", lambda r: r.reached),
)
KEYS: tuple[Quantity[Delivery], ...] = (
    *case_head(FORM, lambda d: d.result.case),
    Quantity("answer", "", "The outcome in a sentence.", lambda d: d.result.statement),
    Quantity("law", "", "The law of slip, in a sentence.", lambda d: d.law),
    of_result("ceilings.governs", _result, "governs"),
    *(each.lifted(_result) for each in PRINTING),
    *with_ends(Quantity("onset_mm3_per_s", "mm3/s", "Commanded flow at which under-delivery begins; null where nothing flows.",
               lambda d: d.onset, band=lambda d: d.result.band and d.result.band.bounds)),
    Quantity("plateau_mm3_per_s", "mm3/s", "Delivered flow of the plateau, or null.", lambda d: d.plateau),
    Quantity("slip", "", "Slip on the feeder: `flow_mm3_per_s` where pushing takes its grip, its `exponent` and `rise`, "
             "`at_grip` the share lost there; null without slip.",
             lambda d: d.slip and {"flow_mm3_per_s": CUBIC_MM * d.slip.flow, "exponent": d.slip.exponent, "rise": d.slip.rise,
                                   "at_grip": d.slip.soft}),
    Quantity("commanded_mm3_per_s", "mm3/s", "Commanded flows.", lambda d: list(map(float, d.table[0]))),
    Quantity("delivered_mm3_per_s", "mm3/s", "Delivered flows.", lambda d: list(map(float, d.table[1]))),
    Quantity("measured", "", "Weighed series beside it: keys below.",
             lambda d: [nested(MEASURED, each) for each in (d.measured.series if d.measured else ())]),
)  # fmt: skip
POINT: tuple[Quantity[tuple[float, float]], ...] = (
    Quantity("commanded_mm3_per_s", "mm3/s", "Commanded flow.", lambda p: p[0]),
    Quantity("delivered_mm3_per_s", "mm3/s", "Delivered flow.", lambda p: p[1]),
    Quantity("short_by_percent", "%", "What is missing.", lambda p: round(100.0 * (1.0 - p[1] / p[0]), 6) + 0.0),
)


def record(found: Delivery) -> dict[str, Any]:
    """The whole record; what does not exist is None."""
    return nested(KEYS, found)


def files(found: Delivery, folder: Path) -> Files:
    """What goes into `folder`."""
    points = zip(*(map(float, column) for column in found.table), strict=True)
    rows = ([quantity.read(point) for quantity in POINT] for point in points)
    return {
        PICTURE: delivery_figure(found),
        TABLE: delimited([quantity.name for quantity in POINT], rows),
        REPORT: page_html(page(found)),
        RECORD: as_json(record(found)),
    }


def page(found: Delivery) -> Page:
    """Everything about one curve."""
    result = found.result
    blocks: list[Block] = [
        Head(result.title, result.case.file),
        outside([result]),
        _answer(found),
        *([] if result.band is None else [width(result.band)]),
        Picture(lambda: delivery_figure(found), "Delivered over commanded flow", found.law, "svg"),
        *_points(found),
        *speeds(result),
        *_measured(found),
        Cautions(tuple(result.safety)),
    ]
    return Page(tuple(blocks), "What a hot end delivers")


def _answer(found: Delivery) -> Answer:
    """Where under-delivery begins, whether the weighings agree, and the law."""
    if found.onset is None:
        return Answer(found.law)
    strong, reach = flow_words(found.result)
    first = f"Under-delivery begins at {strong}{reach}; {found.result.governs} governs"
    return Answer("\n".join([first, *_agreement(found), found.law]), strong)


def _agreement(found: Delivery) -> Iterator[str]:
    """Every weighed series against the prediction, in a line."""
    for each in found.measured.series if found.measured else ():
        bound = "" if each.reached else "above "
        said = "" if found.within_band(each) is None else ": within" if found.within_band(each) else ": outside"
        reach = f"{said} the predicted band" if said else ""
        yield f"Weighed, {each.series.name}: from {each.onset.value:.1f}, ceiling {bound}{each.ceiling.value:.1f} mm³/s{reach}"


def _points(found: Delivery) -> Iterator[Grid]:
    if not found.onset:
        return
    commanded = np.array(SHOWN) * found.onset
    rows: list[Row] = []
    for asked, came in zip(commanded, found.delivered(commanded), strict=True):
        mark = "onset" if asked == found.onset else ""
        rows.append((mark, number(asked, 1), number(came, 2), number(POINT[2].read((asked, came)), 1)))
    columns = words("", "commanded [mm³/s]", "delivered [mm³/s]", "short by [%]")
    yield Grid("Predicted", columns, tuple(rows))


def _measured(found: Delivery) -> Iterator[Grid]:
    if found.measured is None:
        return
    last = float(found.delivered(np.array([found.reach]))[0]) if found.onset else None
    rows: list[Row] = []
    for each in found.measured.series:
        ceiling = number(each.ceiling.value, 2) if each.reached else f"> {each.ceiling.value:.2f}"
        rows.append((each.series.name, number(each.onset.value, 2), number(found.onset, 2), ceiling, number(last, 2)))
    columns = words("series", "onset [mm³/s]", "predicted [mm³/s]", "ceiling [mm³/s]", "predicted [mm³/s]")
    yield Grid("Measured", columns, tuple(rows))
