"""What the terminal shows of a design: the answer, start against answer, what stops it, the steps, what to heed."""

from __future__ import annotations

from rich.console import Group
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.tables import HEADING, NONE, QUIET, cautions, number, plain_table, spaced, warnings
from meltzone.cases.studies.design.run import Designed, Weighed, words_of
from meltzone.cases.studies.design.search import Step
from meltzone.cases.studies.results import CUBIC_MM, ZERO_CELSIUS

MOST_STEPS = 30  # of the table; all of them stand in design.json


def design_tables(found: Designed) -> Group:
    """Everything about a design."""
    best = found.answer or found.start
    return spaced(
        [
            Text.assemble((found.design.title, HEADING), "\n", (found.design.file, QUIET)),
            _answer(found),
            _written(found) if found.answer else None,
            _sides(found),
            _steps(found),
            warnings(best.result.warnings),
            cautions(best.result.safety),
        ]
    )


def _answer(found: Designed) -> Text:
    text = Text(found.statement, "bold green" if found.reached else "bold yellow")
    for reason in found.binding:
        text.append(f"\n- {reason}", "")
    return text


def _written(found: Designed) -> Table:
    table = plain_table("key", "answer [as written]", title="Found")
    for key, value in found.written.items():
        table.add_row(key, str(value))
    return table


def _sides(found: Designed) -> Group:
    """Start against answer."""
    sides = [("start", found.start), *([("answer", found.answer)] if found.answer else [])]
    table = plain_table("", *(f"{name} [ ]" for name, _ in sides), title="Start and answer")
    for column, (name, _) in zip(table.columns[1:], sides, strict=True):
        column.header = Text(name)
    rows = {
        "flow ceiling [mm³/s]": [number(side.result.flow_ceiling, 2) for _, side in sides],
        "- on the finer mesh": [number(side.finer_flow, 2) for _, side in sides],
        "governed by": [side.result.governs or NONE for _, side in sides],
        "heater at the ceiling [W]": [number(side.result.power, 1) for _, side in sides],
        f"hot volume at {found.flow:.3g} mm³/s [mm³]": [number(side.hot, 1) for _, side in sides],
        "tip [degC]": [number(side.result.tip, 1) for _, side in sides],
        "heater stuck on [degC]": [_stuck(side) for _, side in sides],
    }
    for name, values in rows.items():
        table.add_row(name, *values)
    gain = "" if found.gain is None else f"Gain on the finer mesh {found.gain:+.1f} %. "
    cost = f"{len(found.steps)} steps, {found.factorisations} matrix factorisations, slopes by adjoints."
    return Group(table, Text(gain + cost, QUIET))


def _stuck(side: Weighed) -> str:
    stuck = side.result.stuck_on
    return NONE if stuck is None else f"{stuck.sensor - ZERO_CELSIUS:.0f}"


def _steps(found: Designed) -> Group:
    varied = found.design.varied
    columns = ["step", *(["choice"] if found.design.choices else []), *(f"{item.key}\n[ ]" for item in varied)]
    columns += ["ceiling\n[mm³/s]", "hot\n[mm³]", "limits\n[ ]"]
    table = plain_table(*columns, title="Steps")
    for column in table.columns:
        column.header = Text(str(column.header).replace("\n[ ]", ""))
    for step in found.steps[:MOST_STEPS]:
        table.add_row(*_row(found, step))
    left = len(found.steps) - MOST_STEPS
    return Group(table, *([Text(f"and {left} more, in design.json", QUIET)] if left > 0 else []))


def _row(found: Designed, step: Step) -> list[str]:
    values = [item.words(value) for item, value in zip(found.design.varied, step.point.values, strict=True)]
    hot = step.point.trade.hot
    kept = "kept" if step.kept else f"over by {100.0 * step.excess:.1f} %"
    choice = [words_of(step.choice)] if found.design.choices else []
    ceiling = f"{CUBIC_MM * step.point.ceiling:.2f}"
    return [str(step.number), *choice, *values, ceiling, NONE if hot is None else f"{CUBIC_MM * hot.value:.1f}", kept]
