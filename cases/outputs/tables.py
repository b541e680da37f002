"""What the terminal shows of a result: the ceilings, the state at the ceiling, where the heat goes, what to heed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from meltzone.cases.studies.cautions import BURNS, without_deference
from meltzone.cases.studies.results import ZERO_CELSIUS, Result
from meltzone.materials.limits import DEFERENCE, Finding

NONE = "-"
HEADING, QUIET = "bold", "dim"
SEVERITY = {"refuse": ("DO NOT", "bold red"), "warning": ("warning", "yellow"), "note": ("note", "")}
BAR = 24  # characters for the whole heater power


def summary(result: Result) -> Group:
    """Everything about one case."""
    blocks: list[RenderableType | None] = [_title(result.title, result.case.file), _answer(result)]
    if result.ceilings is not None:
        blocks.append(_ceilings(result))
    if result.field is not None:
        beside = Table.grid(padding=(0, 6))
        beside.add_row(_state(result), _balance(result))
        blocks.append(beside)
        blocks.append(_solve(result))
    blocks += [warnings(result.warnings), cautions(result.safety)]
    return spaced(blocks)


def spaced(blocks: Iterable[RenderableType | None]) -> Group:
    """The blocks that are there, a blank line after each."""
    return Group(*(Padding(block, (0, 0, 1, 0), expand=False) for block in blocks if block is not None))


def _title(title: str, file: str) -> Text:
    return Text.assemble((title, HEADING), "\n", (file, QUIET))


def _answer(result: Result) -> Text:
    if result.flow_ceiling is None:
        return Text(result.statement)
    number = (f"{result.flow_ceiling:.1f} mm³/s", "bold green")
    return Text.assemble("Flow ceiling ", number, f", {result.governs} governs\n", result.statement + ".")


def plain_table(*columns: str, title: str = "") -> Table:
    """A table without frame; columns that name a unit in brackets stand at the right."""
    table = Table(
        box=None, title=title or None, title_justify="left", title_style=HEADING, header_style=QUIET, pad_edge=False
    )
    for column in columns:
        table.add_column(Text(column), justify="right" if "[" in column else "left")
    return table


def _ceilings(result: Result) -> Table:
    table = plain_table("ceiling", "flow [mm³/s]", "heater [W]", "")
    assert result.ceilings is not None
    for name, field, flow in (
        ("melt", result.ceilings.melt, result.melt_ceiling),
        ("power", result.ceilings.power, result.power_ceiling),
        ("force", result.ceilings.force, result.force_ceiling),
    ):
        if field is None:
            table.add_row(name, NONE, NONE, result.reasons.get(name, ""))
        else:
            mark = "governs" if name == result.governs else ""
            table.add_row(name, number(flow, 2), number(field.power, 1), mark)
    return table


def _state(result: Result) -> Table:
    field, operation = result.field, result.problem.operation
    assert field is not None and result.melt_zone is not None
    where = "At the ceiling" if result.ceilings is not None else f"At {result.flow:.2f} mm³/s"
    table = plain_table("temperature", "[degC]", title=where)
    inner = f"innermost {100.0 * operation.inner_share:.3g} %"
    rows = {"core": result.core, inner: result.inner, "mean": result.mean, "bore wall": result.wall}
    judged = {"core": "core", "inner": inner, "mean": "mean"}[operation.criterion]
    for name, value in (rows | {"tip": result.tip, "sensor": result.sensor}).items():
        table.add_row(f"{name} (judged)" if name == judged else name, number(value, 1))
    lower, upper = result.melt_zone
    table.add_section()
    table.add_row(Text("melt zone [mm]", QUIET), number(upper - lower, 1))
    if result.feeding_force is not None:
        table.add_row(Text("feeding force [N]", QUIET), number(result.feeding_force, 1))
    if result.stuck_on is not None:
        table.add_row(Text("heater stuck on", QUIET), Text(number(result.stuck_on.sensor - ZERO_CELSIUS, 0), "yellow"))
    return table


def _balance(result: Result) -> Table:
    assert result.field is not None
    balance = result.field.balance
    table = plain_table("where the heat goes", "[W]", "[%]", "", title=f"Heater {balance.heater:.2f} W")
    out = (
        {"melt": balance.melt, "heat sink": balance.cold_end} | dict(balance.faces) | {"up the filament": balance.inlet}
    )
    for name, watts in sorted(out.items(), key=lambda item: -item[1]):
        share = watts / balance.heater
        bar = "█" * round(BAR * max(share, 0.0))
        table.add_row(name, f"{watts:.2f}", f"{100.0 * share:.1f}", Text(bar, "yellow" if name == "melt" else "blue"))
    closure = 0.0 if balance.relative_imbalance < 5e-4 else 100.0 * balance.relative_imbalance
    table.add_row(Text("not accounted for", QUIET), f"{abs(balance.imbalance):.2f}", f"{closure:.1f}", "")
    return table


def _solve(result: Result) -> Text:
    mesh = result.system.space
    text = f"Mesh of {mesh.section.mesh.nelements} cells, {mesh.size} unknowns; {result.factorisations} factorisations"
    if result.mesh_error is not None:
        moved = f"{result.mesh_error:.2f}" if result.mesh_error >= 0.01 else "less than 0.01"
        text += f"; on the next finer mesh the ceiling moves by {moved} %"
    return Text(text + ".", QUIET)


def comparison(results: Sequence[Result]) -> Group:
    """Several cases side by side; changes count from the first."""
    columns = ["case", "ceiling\n[mm³/s]", "change\n[%]", "governs", "melt\n[mm³/s]", "power\n[mm³/s]"]
    columns += ["heater\n[W]", "core\n[degC]", "tip\n[degC]"]
    if len(results) == 1:
        columns.remove("change\n[%]")
    forced = any(result.force_ceiling is not None for result in results)
    if forced:
        columns.insert(columns.index("power\n[mm³/s]") + 1, "force\n[mm³/s]")
    table = plain_table(*columns)
    table.columns[0].overflow, table.columns[0].min_width = "fold", min(max(len(r.case.name) for r in results), 40)
    first = results[0].flow_ceiling
    for result in results:
        row: list[RenderableType] = [result.case.name, Text(number(result.flow_ceiling, 2), "bold")]
        if len(results) > 1:
            known = first and result.flow_ceiling
            row.append(
                "" if result is results[0] else f"{100.0 * (known / first - 1.0):+.1f}" if known and first else NONE
            )
        row += [result.governs or NONE, number(result.melt_ceiling, 2), number(result.power_ceiling, 2)]
        row += [number(result.force_ceiling, 2)] if forced else []
        row += [number(result.power, 1), number(result.core, 1), number(result.tip, 1)]
        table.add_row(*row)
    notes = [f"{result.case.name}: {text}" for result in results for text in _remarks(result)]
    return spaced(
        [table, warnings(notes), cautions(hottest([found for result in results for found in result.cautions]))]
    )


def hottest(found: Iterable[Finding]) -> list[Finding]:
    """Of findings on one material against one limit, that at the highest temperature; notes that say the same count as one."""
    kept: dict[tuple, Finding] = {}
    for finding in sorted(found, key=lambda finding: finding.temperature):
        said = finding.text.partition(" degC: ")[2]
        kept[finding.material, finding.severity, said] = finding
    return list(kept.values())


def _remarks(result: Result) -> list[str]:
    """What the comparison must say beside the numbers of one case: warnings, and why nothing flows."""
    return [*result.warnings, *([result.statement] if result.flow_ceiling is None else [])]


def warnings(texts: Sequence[str]) -> Table | None:
    """The warnings, or None if there are none."""
    if not texts:
        return None
    table = Table.grid(padding=(0, 2))
    for text in texts:
        table.add_row(Text("warning", "yellow"), text)
    return table


def cautions(found: Sequence[Finding]) -> Group:
    """What the temperatures mean for materials and people, the gravest first, then what comes before all of it."""
    table = Table.grid(padding=(0, 2))
    order = list(SEVERITY)
    for finding in sorted(found, key=lambda finding: order.index(finding.severity)):
        word, style = SEVERITY[finding.severity]
        table.add_row(Text(word, style), Text(without_deference(finding), style))
    table.add_row("burns", BURNS)
    return Group(Text("Cautions", HEADING), table, Text(DEFERENCE, QUIET))


def number(value: float | None, digits: int) -> str:
    """`value` with so many decimals; a dash for None."""
    return NONE if value is None else f"{value:.{digits}f}"
