"""What the terminal shows of a predicted curve: its law, a few points, measured onsets and ceilings beside predicted ones."""

from __future__ import annotations

import numpy as np
from rich.console import Group
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.tables import HEADING, NONE, QUIET, cautions, number, plain_table, spaced
from meltzone.cases.studies.delivery import Delivery

SHOWN = (0.5, 0.8, 0.9, 1.0, 1.1, 1.25, 1.5)  # of the onset


def summary(found: Delivery) -> Group:
    """Everything about one curve."""
    result = found.result
    head = Text.assemble((result.title, HEADING), "\n", (result.case.file, QUIET))
    answer = Text(found.law)
    if found.onset is not None:
        onset = (f"{found.onset:.1f} mm³/s", "bold green")
        answer = Text.assemble("Under-delivery begins at ", onset, f", {result.governs} governs\n", found.law)
    blocks = [head, answer, _points(found) if found.onset else None, _measured(found), cautions(result.safety)]
    return spaced(blocks)


def _points(found: Delivery) -> Table:
    table = plain_table("", "commanded [mm³/s]", "delivered [mm³/s]", "short by [%]", title="Predicted")
    commanded = np.array(SHOWN) * (found.onset or 0.0)
    for asked, came in zip(commanded, found.delivered(commanded), strict=True):
        mark = "onset" if asked == found.onset else ""
        table.add_row(mark, number(asked, 1), number(came, 2), number(100.0 * (1.0 - came / asked), 1))
    return table


def _measured(found: Delivery) -> Table | None:
    if found.measured is None:
        return None
    table = plain_table(
        "series", "onset\n[mm³/s]", "predicted\n[mm³/s]", "ceiling\n[mm³/s]", "predicted\n[mm³/s]", title="Measured"
    )
    last = float(found.delivered(np.array([found.reach]))[0]) if found.onset else None
    for each in found.measured.series:
        ceiling = number(each.ceiling.value, 2) if each.reached else f"> {each.ceiling.value:.2f}"
        predicted = number(found.onset, 2) if found.onset else NONE
        table.add_row(each.series.name, number(each.onset.value, 2), predicted, ceiling, number(last, 2))
    return table
