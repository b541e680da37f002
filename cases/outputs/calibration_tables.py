"""What the terminal shows of a joint calibration: numbers with intervals, correlations, curves beside their samples."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.calibration_words import common_words, interval_words, method_words, standing
from meltzone.cases.outputs.tables import QUIET, plain_table
from meltzone.cases.studies.calibration.joint import Joint
from meltzone.cases.studies.validation.outcome import PredictedCurve


def joint_blocks(joint: Joint) -> list[RenderableType | None]:
    """The numbers, how they hang together, and what was done."""
    done = Text("\n".join([method_words(joint), *common_words(joint)]), QUIET)
    return [_numbers(joint), _correlations(joint), done]


def _numbers(joint: Joint) -> Table:
    table = plain_table("freed", "value", "95 % confidence interval", "")
    for number in joint.numbers:
        said = standing(joint, number)
        style = "" if said else "bold green"
        table.add_row(
            number.free.key, Text(number.free.words(number.value), style), interval_words(number), Text(said, "yellow")
        )
    return table


def _correlations(joint: Joint) -> Table | None:
    """Every pair with its correlation; nothing for one number."""
    if len(joint.numbers) < 2:
        return None
    table = plain_table("pair", "correlation [-]")
    for one, first in enumerate(joint.numbers):
        for other in range(one + 1, len(joint.numbers)):
            second = joint.numbers[other]
            known = not (first.blind or second.blind)
            value = f"{joint.correlation[one, other]:+.3f}" if known else "-"
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
