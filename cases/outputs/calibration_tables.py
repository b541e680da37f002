"""What the terminal shows of several calibrated numbers: their intervals, correlations, curves beside their samples."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.calibration_words import common_words, interval_words, method_words, standing
from meltzone.cases.outputs.tables import QUIET, plain_table
from meltzone.cases.studies.calibration.calibration import Calibration
from meltzone.cases.studies.validation.outcome import PredictedCurve


def joint_blocks(found: Calibration) -> list[RenderableType | None]:
    """The numbers, how they hang together, and what was done."""
    done = Text("\n".join([method_words(found), *common_words(found)]), QUIET)
    return [_numbers(found), _correlations(found), done]


def _numbers(found: Calibration) -> Table:
    table = plain_table("freed", "value", "95 % confidence interval", "")
    for number in found.numbers:
        said = standing(found, number)
        style = "" if said else "bold green"
        table.add_row(
            number.free.key, Text(number.free.words(number.value), style), interval_words(number), Text(said, "yellow")
        )
    return table


def _correlations(found: Calibration) -> Table | None:
    """Every pair with its correlation; nothing for one number."""
    if len(found.numbers) < 2:
        return None
    table = plain_table("pair", "correlation [-]")
    for one, first in enumerate(found.numbers):
        for other in range(one + 1, len(found.numbers)):
            second = found.numbers[other]
            known = first.influences and second.influences
            value = f"{found.correlation[one, other]:+.3f}" if known else "-"
            table.add_row(f"{first.free.key}, {second.free.key}", value)
    return table


def curves_table(curves: Sequence[PredictedCurve]) -> Table | None:
    """Every series of samples against its curve."""
    if not curves:
        return None
    table = plain_table("series", "samples\n[-]", "ceiling predicted\n[mm³/s]", "mean miss\n[%]", "governs", "")
    table.columns[0].overflow = "fold"
    for each in curves:
        mark = "calibrates" if each.row.calibrates else ""
        numbers = str(each.samples.flow.size), f"{each.ceiling:.2f}", f"{each.mean_miss:.1f}"
        table.add_row(each.row.name, *numbers, each.governs, mark)
    return table
