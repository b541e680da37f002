"""The bench sheet: a table to be filled in at the balance and read by `meltzone reduce`, with its cautions on top."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from meltzone.cases.inputs.layers import written_form
from meltzone.cases.outputs.writing import staged_file
from meltzone.cases.studies.bench.plan import Plan, Planned
from meltzone.cases.studies.cautions import BURNS, cautions_of, hottest_points, without_deference
from meltzone.materials.limits import DEFERENCE

HEADINGS = (
    "order", "round", "series", "case", "commanded [mm^3/s]", "feeder speed [mm/min]", "purge [mm]", "length [mm]",
    "time [s]", "expected mass [g]", "mass [g]", "density [g/cm^3]", "density uncertainty [g/cm^3]", "diameter [mm]",
    "diameter uncertainty [mm]", "balance resolution [g]", "use", "note",
)  # fmt: skip
AT_THE_BENCH = (
    "The strand stays hot and sticks to skin: tongs, gloves, eye protection; catch it on metal, weigh it cold.",
    "Ventilate. If it smokes, smells sharp or spits, switch off and leave it alone; stay beside it while it is hot.",
    "Beyond the ceiling the feeder slips and grinds: stop at jams, never push by hand, clear them only when cold.",
)


def sheet_text(plan: Plan) -> str:
    """The sheet as comma separated text."""
    result = plan.result
    out = io.StringIO()
    for line in [
        f"bench sheet, predicted ceiling {result.flow_ceiling:.4g} mm3/s: {result.title}",
        *caution_lines(plan),
    ]:
        out.write(f'"# {line}"\n'.replace('""', "'"))
    writer = csv.writer(out, lineterminator="\n")
    own = {key: value if isinstance(value, str) else written_form(value) for key, value in plan.overrides.items()}
    writer.writerow([*HEADINGS, *own])
    for sample in plan.samples:
        writer.writerow([*_cells(plan, sample), *own.values()])
    return out.getvalue()


def caution_lines(plan: Plan) -> list[str]:
    """What to heed at the bench, in sentences: the melt, the materials at the setpoint, who has the last word."""
    problem = plan.result.problem
    found = [without_deference(each) for each in cautions_of(problem, hottest_points(problem, None))]
    return [BURNS, *AT_THE_BENCH, *found, DEFERENCE]


def write_sheet(plan: Plan, path: Path) -> None:
    """Write the sheet to `path`, whole or not at all; raises CaseError."""
    with staged_file(path) as temporary:
        temporary.write_text(sheet_text(plan), encoding="utf-8")


def _cells(plan: Plan, sample: Planned) -> list[str]:
    filament, name = plan.filament, plan.result.case.name
    file = plan.result.case.file
    case = name if file.endswith("(shipped example)") else file
    return [
        str(sample.order), str(sample.round), name, case,
        f"{1e9 * sample.flow:.3f}", f"{6e4 * sample.speed:.1f}", f"{1e3 * sample.purge:.0f}",
        f"{1e3 * sample.length:.0f}", f"{sample.time:.1f}", f"{1e3 * sample.mass:.3f}", "",
        f"{1e-3 * filament.density.value:.6g}", f"{1e-3 * filament.density.tolerance:.3g}",
        f"{1e3 * filament.diameter.value:.6g}", f"{1e3 * filament.diameter.tolerance:.3g}",
        f"{1e3 * plan.wanted.balance.resolution:.6g}", "yes", "",
    ]  # fmt: skip
