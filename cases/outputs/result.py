"""What a result shows: its ceilings, the state at the ceiling, where the heat goes, what to heed; alone or among others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from meltzone.cases.outputs.axis_figure import axis_figure
from meltzone.cases.outputs.field_figure import field_figure
from meltzone.cases.outputs.files import Files
from meltzone.cases.outputs.grid import NONE, Bar, Cell, Column, Grid, Row, number, signed, words
from meltzone.cases.outputs.page import (
    Answer,
    Beside,
    Beware,
    Block,
    Cautions,
    Head,
    Page,
    Picture,
    Warnings,
    Words,
    hottest,
)
from meltzone.cases.outputs.printing import MARGIN, speeds
from meltzone.cases.outputs.quantities import as_json, by_quantity, by_source, chosen, column, present, shown
from meltzone.cases.outputs.record import record
from meltzone.cases.outputs.report.job_text import field_alt
from meltzone.cases.outputs.vtu import write_vtu
from meltzone.cases.studies.printing import lines_of_all
from meltzone.cases.studies.result_quantities import AT_CEILING, CASES, GLANCE, RESULT, STUCK_ON, by_line, shown_in
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.wording import JUDGED
from meltzone.fem.balance import EnergyBalance
from meltzone.fem.limits import LIMITS
from meltzone.fem.slow_flow.feeding import missing_for_force

RECORD, FIELD, AXIS, VTU = "result.json", "field.png", "axis.png", "field.vtu"
OURS = (RECORD, FIELD, AXIS, VTU)
TEMPERATURES = (*JUDGED, "wall", "tip", "sensor")
GAIN = "gain on the first"  # case
SHARE = Column("", side="bar")


def files(result: Result, folder: Path) -> Files:
    """The files of `result` by their names, for `folder`; without a field, result.json alone."""
    field, title, verdict = result.field, result.title, result.verdict
    if field is None:
        return {RECORD: as_json(record(result))}
    return {
        RECORD: as_json(record(result)),
        FIELD: field_figure(field, title, verdict),
        AXIS: axis_figure(field, title, verdict),
        VTU: lambda path: write_vtu(field, path),
    }


def page(result: Result) -> Page:
    """Everything about one case."""
    blocks: list[Block] = [Head(result.title, result.case.file), answer(result)]
    if result.ceilings is not None:
        blocks += [ceilings(result), *speeds(result)]
    if result.field is not None:
        blocks += [Beside((state(result), heat(result.field.balance))), Words(_solve(result), quiet=True)]
    return Page((*blocks, Warnings(result.warnings), Cautions(result.safety)), "flow ceiling")


def answer(result: Result, more: str = "") -> Answer:
    """The ceiling with what governs, and `more` about it or the statement of the result."""
    if result.flow_ceiling is None:
        return Answer(more or result.statement)
    flow = f"{result.flow_ceiling:.1f} mm³/s"
    return Answer(f"Flow ceiling {flow}, {result.governs} governs\n{more or result.statement + '.'}", flow)


def ceilings(result: Result) -> Grid:
    """All ceilings, with the reason where one does not exist."""
    found, rows = result.ceilings, []
    assert found is not None
    for name in LIMITS:
        field, governs = found.found.get(name), "governs" if name == result.governs else ""
        watts = None if field is None else field.power
        rows.append(
            (name, number(result.ceiling_of(name), 2), number(watts, 1), governs or result.reasons.get(name, ""))
        )
    flow, heater = chosen(RESULT, "state.flow_mm3_per_s", "state.heater_power_W")
    return Grid("", (Column("ceiling"), column(flow), column(heater), Column("")), tuple(rows))


def state(result: Result, told: bool = False) -> Grid:
    """Temperatures at the ceiling or at the flow asked for, the judged one marked, with what they mean where `told`."""
    operation, rows = result.problem.operation, list[Row]()
    share = f"innermost {100.0 * operation.inner_share:.3g} %"
    for name in TEMPERATURES:
        [quantity] = chosen(RESULT, f"state.temperature_{name}_degC")
        heading = share if name == "inner" else quantity.heading
        judged = " (judged)" if name == operation.criterion else ""
        note = quantity.meaning if told else ""
        rows.append((Cell(f"{heading}{judged} [degC]", note=note), shown(quantity, result)))
    for quantity in present(shown_in(AT_CEILING), [result]):
        rows.append((Cell(column(quantity).title, style="quiet"), shown(quantity, result)))
    if result.stuck_on is not None:
        rows.append((Cell("heater stuck on [degC]", style="quiet"), Cell(shown(STUCK_ON, result), style="warn")))
    where = "At the ceiling" if result.ceilings is not None else f"At {result.flow:.2f} mm³/s"
    return Grid(where, (Column(""), Column("", side="number")), tuple(rows))


def heat(balance: EnergyBalance) -> Grid:
    """Every watt that comes in, and where it goes."""
    out = {"melt": balance.melt, "heat sink": balance.cold_end, **balance.faces, "up the filament": balance.inlet}
    whole = balance.heater + balance.viscous
    rows: list[Row] = []
    for name, watts in sorted(out.items(), key=lambda item: -item[1]):
        share = 100.0 * watts / whole
        rows.append((name, f"{watts:.2f}", f"{share:.1f}", Bar(max(share, 0.0), loss=name != "melt")))
    closure = 0.0 if balance.relative_imbalance < 5e-4 else 100.0 * balance.relative_imbalance
    rows.append((Cell("not accounted for", style="quiet"), f"{abs(balance.imbalance):.2f}", f"{closure:.1f}", ""))
    shear = f", shear of the polymer {balance.viscous:.2f} W" if balance.viscous else ""
    title = f"Heater {balance.heater:.2f} W{shear}"
    return Grid(title, (*words("where the heat goes", "[W]", "[%]"), SHARE), tuple(rows))


def _solve(result: Result) -> str:
    mesh = result.system.space
    text = f"Mesh of {mesh.section.mesh.nelements} cells, {mesh.size} unknowns; {result.factorisations} factorisations"
    if result.mesh_error is not None:
        moved = f"{result.mesh_error:.2f}" if result.mesh_error >= 0.01 else "less than 0.01"
        text += f"; on the next finer mesh the ceiling moves by {moved} %"
    return f"{text}."


def page_of_all(results: Sequence[Result]) -> Page:
    """Several cases side by side; gains count from the first."""
    lines = lines_of_all(results)
    quantities = [*present(shown_in(CASES), results), *(each for line in lines for each in by_line(line))]
    grid = by_source("", quantities, results, strong="ceilings.flow_mm3_per_s")
    gains = [] if len(results) == 1 else [_gain(result, results) for result in results]
    rows = [
        (r.case.name, row[0], *gains[k : k + 1], *row[1:])
        for k, (r, row) in enumerate(zip(results, grid.rows, strict=True))
    ]
    gain = words(f"{GAIN} [%]") if gains else ()
    table = replace(
        grid,
        columns=(Column("case"), grid.columns[0], *gain, *grid.columns[1:]),
        rows=tuple(rows),
        notes=(MARGIN,) if lines else (),
    )
    notes = tuple(f"{result.case.name}: {text}" for result in results for text in remarks(result))
    heed = hottest(found for result in results for found in result.cautions)
    return Page((table, Warnings(notes), Cautions(heed)))


def _gain(result: Result, results: Sequence[Result]) -> str:
    if result is results[0]:
        return ""
    own, first = result.flow_ceiling, results[0].flow_ceiling
    return signed(100.0 * (own / first - 1.0), 1) if own and first else NONE


def remarks(result: Result) -> list[str]:
    """What must be said beside the numbers of one case among others: warnings, and why nothing flows."""
    lacking = missing_for_force(result.problem) if result.problem.operation.grip is not None else ""
    no_force = [f"no force ceiling is sought: {lacking}"] if lacking and result.ceilings is not None else []
    return [*result.warnings, *no_force, *([result.statement] if result.flow_ceiling is None else [])]


def notebook_page(result: Result) -> Page:
    """The small page that a notebook shows."""
    blocks: list[Block] = [Head(result.title, result.verdict)]
    if result.field is not None:
        field = result.field
        blocks.append(by_quantity("", present(shown_in(GLANCE), [result]), [("", result)]))
        blocks.append(Picture(lambda: field_figure(field, "", ""), "", field_alt(result)))
    return Page((*blocks, Warnings(result.warnings), Beware("", result.cautions)))
