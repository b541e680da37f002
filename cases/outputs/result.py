"""What a result shows: its ceilings, the state at the ceiling, where the heat goes, what to heed; alone or among others."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from meltzone.cases.outputs.files import Files
from meltzone.cases.outputs.grid import Bar, Cell, Column, Grid, Row, number, signed, within, words
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
)
from meltzone.cases.outputs.printing import speed_words, speeds
from meltzone.cases.outputs.quantities import as_json, by_quantity, chosen, column, present, shown
from meltzone.cases.outputs.record import record
from meltzone.cases.studies.bands.band import Band
from meltzone.cases.studies.bands.gain import GainBand
from meltzone.cases.studies.result_quantities import AT_CEILING, GLANCE, RESULT, STUCK_ON, shown_in
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.wording import JUDGED
from meltzone.fem.balance import EnergyBalance
from meltzone.fem.limits import LIMITS

RECORD, FIELD, AXIS, VTU = "result.json", "field.png", "axis.png", "field.vtu"
OURS = (RECORD, FIELD, AXIS, VTU)
TEMPERATURES = (*JUDGED, "wall", "tip", "sensor")
GAIN = "gain on the first"  # case
UNCOMPARED = "doubtful"  # before what lies outside all that the model was compared with
SHARE = Column("", side="bar")


def files(result: Result, folder: Path) -> Files:
    """The files of `result` by their names, for `folder`; without a field, result.json alone."""
    field, title, verdict = result.field, result.title, result.verdict
    if field is None:
        return {RECORD: as_json(record(result))}
    from meltzone.cases.outputs.axis_figure import axis_figure  # pictures load where they are drawn
    from meltzone.cases.outputs.field_figure import field_figure
    from meltzone.cases.outputs.vtu import write_vtu

    return {
        RECORD: as_json(record(result)),
        FIELD: field_figure(field, title, verdict),
        AXIS: axis_figure(field, title, verdict),
        VTU: lambda path: write_vtu(field, path),
    }


def page(result: Result) -> Page:
    """Everything about one case."""
    blocks: list[Block] = [Head(result.title, result.case.file), outside([result]), answer(result)]
    if result.band is not None:
        blocks.append(width(result.band))
    if result.ceilings is not None:
        blocks += [ceilings(result), *speeds(result)]
    if result.field is not None:
        blocks += [Beside((state(result), heat(result.field.balance))), Words(_solve(result), quiet=True)]
    blocks += [evidence([result]), Warnings(result.warnings)]
    return Page((*blocks, Cautions(result.safety)), "flow ceiling")


def answer(result: Result, more: str = "") -> Answer:
    """The ceiling with what governs, and `more` about it or the statement of the result."""
    if result.flow_ceiling is None:
        return Answer(more or result.statement)
    flow, reach = flow_words(result)
    first = f"Flow ceiling {flow}{reach}; {result.governs} governs"
    return Answer("\n".join([first, *speed_words(result), more or result.statement + "."]), flow)


def flow_words(result: Result) -> tuple[str, str]:
    """The ceiling of a result that has one, and what is said behind it of its band."""
    assert result.flow_ceiling is not None
    if result.band is None:
        return f"{result.flow_ceiling:.1f} mm³/s", ""
    value, ends = within(result.flow_ceiling, *result.band.bounds)
    return f"{value} mm³/s", f", {ends} mm³/s nine times in ten"


def outside(results: Sequence[Result]) -> Warnings:
    """What lies outside all that the model was compared with, named before the answer."""
    names = [(result, ", ".join(text.partition(": ")[0] for text in result.outside)) for result in results]
    told = [found if len(results) == 1 else f"{result.case.name} ({found})" for result, found in names if found]
    return Warnings((f"Outside all that the model was compared with: {', '.join(told)}",) if told else (), UNCOMPARED)


def evidence(results: Sequence[Result]) -> Warnings:
    """The same with the nearest evidence, after the numbers."""
    texts = (f"{_of(result, results)}{text}" for result in results for text in result.outside)
    return Warnings(tuple(texts), UNCOMPARED)


def _of(result: Result, results: Sequence[Result]) -> str:
    return f"{result.case.name}, " if len(results) > 1 else ""


def width(band: Band) -> Grid:
    """What makes a band wide, with what the case states about it."""
    rows = [(each.noun, each.words, each.known, f"{100.0 * each.share:.0f}") for each in band.widest]
    notes = [f"Without the model's own error it would be {within(band.value, *band.by_inputs)[1]} mm³/s."]
    if band.narrowed is not None:
        much = f"{abs(band.narrowed):.0f} % {'narrower' if band.narrowed >= 0.0 else 'wider'}"
        notes.append(f"What the case states of {len(band.stated)} of the numbers makes it {much}.")
    return Grid("", words("what makes the band wide", "range", "known", "share [%]"), tuple(rows), notes=tuple(notes))


def ceilings(result: Result) -> Grid:
    """All ceilings, with the reason where one does not exist."""
    found, rows = result.ceilings, []
    assert found is not None
    for name in LIMITS:
        field, governs = found.found.get(name), "governs" if name == result.governs else ""
        watts = None if field is None else field.power
        rows.append(
            (name, number(result.ceiling_of(name), 1), number(watts, 1), governs or result.reasons.get(name, ""))
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


def gained(value: float, band: GainBand | None, unit: str = "") -> str:
    """A gain [%] with its band, where it has one; `unit` stands behind the gain itself."""
    if band is None:
        return f"{signed(value, 1)}{unit}"
    low, high = (signed(end, 0) for end in (band.low, band.high))
    return f"{signed(value, 0)}{unit} ({low} to {high}){', a tie' if band.judged == 'tie' else ''}"


def remarks(result: Result) -> list[str]:
    """What must be said beside the numbers of one case among others: warnings, and why nothing flows."""
    lacking = ""
    if result.problem.operation.grip is not None:
        from meltzone.fem.slow_flow.feeding import missing_for_force  # loaded only where a grip is given

        lacking = missing_for_force(result.problem)
    no_force = [f"no force ceiling is sought: {lacking}"] if lacking and result.ceilings is not None else []
    return [*result.warnings, *no_force, *([result.statement] if result.flow_ceiling is None else [])]


def notebook_page(result: Result) -> Page:
    """The small page that a notebook shows."""
    blocks: list[Block] = [Head(result.title, result.verdict)]
    if result.field is not None:
        field = result.field
        blocks.append(by_quantity("", present(shown_in(GLANCE), [result]), [("", result)]))
        from meltzone.cases.outputs.field_figure import field_figure
        from meltzone.cases.outputs.report.job_text import field_alt

        blocks.append(Picture(lambda: field_figure(field, "", ""), "", field_alt(result)))
    return Page((*blocks, Warnings(result.warnings), Beware("", result.cautions)))
