"""Tables of a result that only its report shows: parts, pushing, heater stuck on, mesh."""

from __future__ import annotations

from meltzone.cases.outputs.check import sizes_of
from meltzone.cases.outputs.grid import Cell, Column, Grid, Row, number, words
from meltzone.cases.outputs.quantities import by_quantity, chosen, column, named, shown
from meltzone.cases.outputs.record import parts_of, stuck_on_parts
from meltzone.cases.studies.cautions import materials_by_part, part_name
from meltzone.cases.studies.result_quantities import MESH, RESULT
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.wording import beyond_words

PUSHING = (
    "state.feeding_force_N", "state.feeding_grip_N", "state.pressure_bore_MPa", "state.pressure_channels_MPa",
    "state.pressure_cone_MPa", "state.pressure_stretching_MPa", "state.pressure_land_MPa",
)  # fmt: skip
JUDGED = {"warning": "beyond its limit", "refuse": "must not get so hot"}


def parts(result: Result) -> Grid:
    """What it is made of; with a field also how hot each part is."""
    sizes, materials = sizes_of(result.problem.arrangement), materials_by_part(result.problem)
    hot = parts_of(result.system, result.field)
    rows: list[Row] = []
    for part, material in materials.items():
        ends = [number(hot[part][end], 0) for end in ("coldest_degC", "hottest_degC")]
        rows.append((part_name(part), material.label, sizes.get(part, ""), *ends))
    columns = words("part", "material", "dimensions", "coldest [degC]", "hottest [degC]")
    return Grid("Parts", columns, tuple(rows), stacked=True)


def pushing(result: Result) -> list[Grid]:
    """What it takes to push the filament at the ceiling; nothing where that was not asked for or is not known."""
    if result.field is None or result.pushed is None:
        return []
    return [by_quantity("Pushing at the ceiling", chosen(RESULT, *PUSHING), [("value", result)])]


def stuck_on(result: Result) -> Grid | None:
    """How hot every part would get with the heater stuck on; None where that was not found."""
    rows = tuple(
        (
            part_name(part),
            number(found["hottest_degC"], 0),
            number(found["limit_degC"], 0),
            _judged(found["severity"], found["limit_degC"]),
        )
        for part, found in stuck_on_parts(result).items()
    )
    if result.stuck_on is None or not rows:
        return None
    notes = ["In still air with the heat sink cold; without its own fan the heat break gets hotter."]
    if beyond := beyond_words(result.stuck_on):
        notes.append(f"Used beyond the range they are stated for: {'; '.join(beyond)}.")
    columns = words("part", "hottest [degC]", "limit [degC]", "")
    return Grid("Heater stuck on at full rating, nothing flowing", columns, rows, notes=tuple(notes))


def _judged(severity: str | None, limit: float | None) -> str | Cell:
    if severity is None:
        return "no limit on its card" if limit is None else "within its limit"
    return Cell("", badge=JUDGED.get(severity, severity))


def mesh(result: Result) -> Grid:
    """How it was solved, and how far the numbers are from an exact solution of the same equations."""
    rows: list[Row] = [(named(quantity), shown(quantity, result)) for quantity in MESH]
    field = result.field
    if field is not None:
        [error] = chosen(RESULT, "ceilings.mesh_error_percent")
        closure = 100.0 * field.balance.relative_imbalance
        rows.append((column(error).heading, _moved(result.mesh_error)))
        rows.append(("energy not accounted for", "less than 0.01 %" if closure < 0.01 else f"{closure:.2g} %"))
        rows.append(("field beyond its physical bounds", f"{field.overshoot:.2f} K"))
    return Grid("Mesh and accuracy of the solve", (Column("what"), Column("value")), tuple(rows))


def _moved(error: float | None) -> str:
    if error is None:
        return "not found"
    return f"moves by {error:.2f} %" if error >= 0.01 else "moves by less than 0.01 %"
