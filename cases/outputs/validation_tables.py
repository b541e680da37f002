"""What the terminal shows of a validation: the calibrated number, measured against predicted, changes, the errors."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.calibration_tables import curves_table, joint_blocks
from meltzone.cases.outputs.calibration_words import interval_words, verdicts
from meltzone.cases.outputs.tables import HEADING, NONE, QUIET, cautions, hottest, number, plain_table, spaced, warnings
from meltzone.cases.studies.calibration.calibration import Calibration
from meltzone.cases.studies.validation.outcome import Change, Predicted, Validation


def summary(validation: Validation) -> Group:
    """Everything about one validation."""
    measured, calibration = validation.measured, validation.calibration
    head = Text.assemble((measured.title or measured.name, HEADING), "\n", (measured.file, QUIET))
    if measured.source:
        head.append(f"\nMeasured values: {measured.source}")
    for said in validation.invented:
        head.append(f"\n{said}", QUIET)
    blocks: list[RenderableType | None] = [head]
    if calibration is None or calibration.single is not None:
        blocks.append(_calibration(calibration))
    else:
        blocks += joint_blocks(calibration)
    blocks += [_rows(validation.rows) if validation.rows else None, curves_table(validation.curves)]
    if calibration is not None:
        blocks.append(warnings(verdicts(calibration)))
    if validation.changes:
        blocks.append(_changes(validation.changes))
    blocks.append(Text("\n".join(sentences(validation))))
    blocks.append(cautions(hottest(validation.cautions)))
    return spaced(blocks)


def sentences(validation: Validation) -> list[str]:
    """The errors in words."""
    found = []
    worst, change = validation.worst, validation.worst_change
    if worst is not None and validation.mean_error is not None:
        count = len(validation.judged)
        found.append(
            f"Over {count} predicted row{'s' if count > 1 else ''}: mean error {validation.mean_error:.1f} %, worst "
            f"{worst.error:+.1f} % ({worst.row.name})."
        )
    elif not [each for each in validation.curves if not each.row.calibrates]:
        found.append("No row is left to be predicted: all of them calibrate.")
    found += [
        f"{each.row.name}: samples missed by {each.mean_miss:.1f} % on average."
        for each in validation.curves
        if not each.row.calibrates
    ]
    if change is not None and change.miss is not None:
        found.append(
            f"Changes: the worst is missed by {change.miss:+.1f} percentage points ({change.row.row.name} against "
            f"{change.base.row.name})."
        )
    return found


def _calibration(calibration: Calibration | None) -> Text:
    if calibration is None:
        return Text(
            "No row calibrates: every row is predicted with the number that its case has. "
            "To calibrate on a row: --calibrate NAME."
        )
    number, rows = calibration.numbers[0], calibration.observed.count
    text = Text.assemble(f"{number.free.key} = ", (number.free.words(number.value), "bold green"))
    text.append(f"\n95 % confidence interval: {interval_words(number)}")
    counted = f"{rows} row{'s' if rows > 1 else ''}"
    text.append(f"\nCalibrated on {counted}, chi-square {calibration.fit.chi_square:.2g}", QUIET)
    return text


def _rows(rows: Sequence[Predicted]) -> Table:
    table = plain_table("row", "measured\n[mm³/s]", "predicted\n[mm³/s]", "95 %\n[mm³/s]", "error\n[%]", "governs", "")
    table.columns[0].overflow = "fold"
    for row in rows:
        interval = f"{row.low:.1f} to {row.high:.1f}" if row.high > row.low else NONE
        measured = f"{row.measured:.2f} ± {row.uncertainty:.2f}"
        mark = "calibrates" if row.row.calibrates else ""
        table.add_row(
            row.row.name, measured, Text(f"{row.ceiling:.2f}", "bold"), interval, signed(row.error), row.governs, mark
        )
    return table


def _changes(changes: Sequence[Change]) -> Table:
    table = plain_table("change of", "against", "measured\n[%]", "predicted\n[%]", "missed by\n[points]")
    for change in changes:
        measured = f"{signed(change.measured)} ± {number(change.uncertainty, 1)}"
        found = signed(change.predicted), signed(change.miss)
        table.add_row(change.row.row.name, change.base.row.name, measured, *found)
    return table


def signed(value: float | None) -> str:
    """`value` with its sign and one decimal, never minus zero; a dash for None."""
    return NONE if value is None else f"{round(value, 1) + 0.0:+.1f}"
