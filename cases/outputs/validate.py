"""What is shown and written of a validation: the calibrated numbers, measured against predicted, changes, the errors."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from meltzone.cases.outputs.calibrated_text import CALIBRATED, calibrated_text
from meltzone.cases.outputs.calibration import CURVE, JOINT, NUMBER, curves_table, joint_blocks
from meltzone.cases.outputs.calibration_words import interval_words, verdicts
from meltzone.cases.outputs.files import Files
from meltzone.cases.outputs.grid import NONE, Cell, Grid, number, signed, words
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.page import Answer, Block, Cautions, Head, Page, Picture, Warnings, Words, hottest
from meltzone.cases.outputs.quantities import as_json, nested
from meltzone.cases.outputs.record_head import head
from meltzone.cases.outputs.validate_figure import curves_figure, validation_figure
from meltzone.cases.outputs.validation_words import factor_words, headlines, sentences
from meltzone.cases.studies.calibration.calibration import Calibration
from meltzone.cases.studies.quantities import Quantity
from meltzone.cases.studies.validation.outcome import CUBIC_MM, CeilingChange, Predicted, PredictedForce, Validation

RECORD, PICTURE, CURVES, REPORT = "validation.json", "validation.png", "curves.png", "report.html"
OURS = (RECORD, PICTURE, CURVES, CALIBRATED, REPORT)
FORM = 1  # raised when a key changes its name, its unit or its meaning

CALIBRATION: tuple[Quantity[Calibration], ...] = (
    *(each.lifted(lambda c: (c, c.numbers[0])) for each in NUMBER if each.path not in ("told", "standing")),
    Quantity("chi_square", "", "Chi-square at the value.", lambda c: c.fit.chi_square),
    Quantity("rows", "", "Rows that calibrate.", lambda c: c.observed.count),
    Quantity("statements", "", "What a reader of the number must know.", verdicts),
)
ROW: tuple[Quantity[Predicted], ...] = (
    Quantity("name", "", "Name of the row.", lambda p: p.row.name),
    Quantity("case", "", "Its case.", lambda p: p.row.case),
    Quantity("set", "", "Keys put in place of the case's own.", lambda p: dict(p.row.overrides)),
    Quantity("calibrates", "", "Whether it calibrates.", lambda p: p.row.calibrates),
    Quantity("note", "", "Its note.", lambda p: p.row.note),
    Quantity("measured_mm3_per_s", "mm3/s", "Measured ceiling.", lambda p: p.measured),
    Quantity("uncertainty_mm3_per_s", "mm3/s", "Its standard uncertainty.", lambda p: p.uncertainty),
    Quantity("predicted_mm3_per_s", "mm3/s", "Predicted ceiling; 0 where nothing flows.", lambda p: p.ceiling),
    Quantity("low_95_mm3_per_s", "mm3/s", "Lower end of what the calibrated number leaves it.", lambda p: p.low),
    Quantity("high_95_mm3_per_s", "mm3/s", "Upper end.", lambda p: p.high),
    Quantity("error_percent", "%", "Predicted over measured, less one.", lambda p: p.error),
    Quantity("governs", "", "The ceiling that governs.", lambda p: p.governs),
)
FORCE: tuple[Quantity[PredictedForce], ...] = (
    Quantity("name", "", "Name of the row.", lambda p: p.row.name),
    Quantity("case", "", "Its case.", lambda p: p.row.case),
    Quantity("set", "", "Keys put in place of the case's own.", lambda p: dict(p.row.overrides)),
    Quantity("calibrates", "", "Whether it sets the factor.", lambda p: p.row.calibrates),
    Quantity("note", "", "Its note.", lambda p: p.row.note),
    Quantity("flow_mm3_per_s", "mm3/s", "Flow at which the force was measured.", lambda p: CUBIC_MM * p.row.flow),
    Quantity("measured", "", "Measured force [N], or its share of one that the file does not tell.", lambda p: p.row.force),
    Quantity("uncertainty", "", "Its standard uncertainty, alike.", lambda p: p.row.uncertainty),
    Quantity("predicted_N", "N", "Predicted force.", lambda p: p.force),
    Quantity("whole_N", "N", "What a measured 1 stands for: the factor on which the calibrating rows agree.",
             lambda p: p.whole),
    Quantity("error_percent", "%", "Predicted force over that factor, over the measured one, less one.", lambda p: p.error),
)  # fmt: skip
CHANGE: tuple[Quantity[CeilingChange], ...] = (
    Quantity("row", "", "The row.", lambda c: c.row.row.name),
    Quantity("against", "", "The row that it is held against.", lambda c: c.base.row.name),
    Quantity("measured_percent", "%", "Measured change.", lambda c: c.measured),
    Quantity("uncertainty_points", "%", "Its standard uncertainty, in percentage points.", lambda c: c.uncertainty),
    Quantity("predicted_percent", "%", "Predicted change.", lambda c: c.predicted),
    Quantity("missed_by_points", "%", "Predicted less measured, in percentage points.", lambda c: c.miss),
)
KEYS: tuple[Quantity[Validation], ...] = (
    *head(FORM),
    Quantity("measured.name", "", "Name of the measured file.", lambda v: v.measured.name),
    Quantity("measured.title", "", "Its title.", lambda v: v.measured.title),
    Quantity("measured.source", "", "Where the values come from.", lambda v: v.measured.source),
    Quantity("calibration", "", "One number calibrated on ceilings: keys below; null without.",
             lambda v: nested(CALIBRATION, v.calibration) if v.calibration and v.calibration.single else None),
    Quantity("joint", "", "Several numbers, or curves: keys below; null without.",
             lambda v: nested(JOINT, v.calibration) if v.calibration and not v.calibration.single else None),
    Quantity("rows", "", "Every row: keys below.", lambda v: [nested(ROW, row) for row in v.rows]),
    Quantity("curves", "", "Every series: keys below.", lambda v: [nested(CURVE, curve) for curve in v.curves]),
    Quantity("forces", "", "Every force: keys below.", lambda v: [nested(FORCE, force) for force in v.forces]),
    Quantity("changes", "", "Rows against others: keys below.", lambda v: [nested(CHANGE, change) for change in v.changes]),
    Quantity("mean_error_percent", "%", "Mean absolute error of the rows predicted; null without.", lambda v: v.mean_error),
    Quantity("worst_error_percent", "%", "The worst of them.", lambda v: v.worst and v.worst.error),
    Quantity("worst_row", "", "Its row.", lambda v: v.worst and v.worst.row.name),
    Quantity("worst_change_points", "%", "The change missed by most, in percentage points.",
             lambda v: v.worst_change and v.worst_change.miss),
    Quantity("statements", "", "The errors in words.", sentences),
)  # fmt: skip


def record(validation: Validation) -> dict[str, Any]:
    """The whole record; what does not exist is None."""
    return nested(KEYS, validation)


def files(validation: Validation, folder: Path) -> Files:
    """What goes into `folder`: pictures of what there is, and the numbers that the data tell."""
    pictures = {name: picture.draw() for name, picture in _pictures(validation).items()}
    return pictures | {
        CALIBRATED: calibrated_text(validation),
        REPORT: page_html(page(validation)),
        RECORD: as_json(record(validation)),
    }


def _pictures(validation: Validation) -> dict[str, Picture]:
    alt, found = " ".join(sentences(validation)), {}
    if validation.rows:
        found[PICTURE] = Picture(lambda: validation_figure(validation), "Measured beside predicted, bars at 95 %", alt)
    if validation.curves:
        title, lines = _title(validation), [*validation.invented, *headlines(validation)]
        draw = lambda: curves_figure(validation.curves, title, lines)  # noqa: E731
        found[CURVES] = Picture(draw, "Samples beside the predicted curves", alt)
    return found


def _title(validation: Validation) -> str:
    return validation.measured.title or validation.measured.name


def page(validation: Validation) -> Page:
    """Everything about one validation."""
    measured, calibration = validation.measured, validation.calibration
    source = [f"Measured values: {measured.source}"] if measured.source else []
    blocks: list[Block] = [Head(_title(validation), measured.file), Answer("\n".join(sentences(validation)))]
    if said := [*source, *validation.invented]:
        blocks.append(Words("\n".join(said), quiet=True))
    if calibration is not None and calibration.single is None:
        blocks += joint_blocks(calibration)
    elif measured.rows or measured.curves:
        blocks += _calibration(calibration)
    blocks += _pictures(validation).values()
    blocks += [*_rows(validation), *curves_table(validation.curves), *_forces(validation)]
    if calibration is not None:
        blocks.append(Warnings(tuple(verdicts(calibration))))
    if validation.changes:
        blocks.append(_changes(validation))
    return Page((*blocks, Cautions(hottest(validation.cautions))), "Measured against predicted")


def _calibration(calibration: Calibration | None) -> list[Block]:
    if calibration is None:
        return [Words("No row calibrates: every row is predicted with the number that its case has. "
                       "To calibrate on a row: --calibrate NAME.")]  # fmt: skip
    number, count = calibration.numbers[0], calibration.observed.count
    value, rows = number.free.words(number.value), f"{count} row{'s' if count > 1 else ''}"
    return [
        Words(f"{number.free.key} = {value}\n95 % confidence interval: {interval_words(number)}"),
        Words(f"Calibrated on {rows}, chi-square {calibration.fit.chi_square:.2f}", quiet=True),
    ]


def _rows(validation: Validation) -> list[Grid]:
    columns = words("row", "measured [mm³/s]", "predicted [mm³/s]", "95 % [mm³/s]", "error [%]", "governs", "")
    rows = tuple(map(_row, validation.rows))
    return [Grid("", columns, rows)] if rows else []


def _row(row: Predicted) -> tuple[str | Cell, ...]:
    return (
        row.row.name,
        f"{row.measured:.2f} ± {row.uncertainty:.2f}",
        Cell(f"{row.ceiling:.2f}", style="strong"),
        f"{row.low:.1f} to {row.high:.1f}" if row.high > row.low else NONE,
        signed(row.error, 1),
        row.governs,
        "calibrates" if row.row.calibrates else "",
    )


def _forces(validation: Validation) -> list[Block]:
    if not validation.forces:
        return []
    first = validation.forces[0]
    unit = "" if first.row.relative else " [N]"
    columns = words("row", "flow [mm³/s]", f"measured{unit}", f"predicted{unit}", "error [%]", "force [N]", "")
    rows = tuple(
        (
            each.row.name,
            f"{CUBIC_MM * each.row.flow:.2f}",
            f"{each.row.force:.3g} ± {each.row.uncertainty:.2g}",
            Cell(f"{each.predicted:.3g}", style="strong"),
            signed(each.error, 1),
            f"{each.force:.1f}",
            "calibrates" if each.row.calibrates else "",
        )
        for each in validation.forces
    )
    return [Grid("", columns, rows), Words(factor_words(first), quiet=True)]


def _changes(validation: Validation) -> Grid:
    rows = tuple(
        (
            change.row.row.name, change.base.row.name,
            f"{signed(change.measured, 1)} ± {number(change.uncertainty, 1)}", signed(change.predicted, 1),
            signed(change.miss, 1),
        )
        for change in validation.changes
    )  # fmt: skip
    return Grid("", words("change of", "against", "measured [%]", "predicted [%]", "missed by [points]"), rows)
