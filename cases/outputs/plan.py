"""What is shown and written of a plan: flows and samples, and the bench sheet to be filled in for `meltzone reduce`."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.seal import is_seal, sealed
from meltzone.cases.inputs.workbook import WORKBOOKS, workbook_edited, write_sealed
from meltzone.cases.outputs.delimited import COMMENT, delimited
from meltzone.cases.outputs.files import check_ending, put_text
from meltzone.cases.outputs.grid import Cell, Grid, counted, words
from meltzone.cases.outputs.guard import refused, table
from meltzone.cases.outputs.page import Answer, Cautions, Head, Page, Warnings, Words
from meltzone.cases.outputs.program import program_text
from meltzone.cases.outputs.writing import staged_file
from meltzone.cases.studies.bench.bench_program import bench_program
from meltzone.cases.studies.bench.plan import WARM_UP, Plan, Planned
from meltzone.cases.studies.bench.samples_csv import load_samples
from meltzone.cases.studies.cautions import BURNS, cautions_of, hottest_points, without_deference
from meltzone.materials.limits import DEFERENCE

MASS = "mass [g]"  # the column to fill in
SHEET: dict[str, Callable[[Plan, Planned], str]] = {
    "order": lambda plan, sample: str(sample.order),
    "round": lambda plan, sample: str(sample.round),
    "series": lambda plan, sample: plan.result.case.name,
    "case": lambda plan, sample: _case(plan),
    "commanded [mm^3/s]": lambda plan, sample: f"{1e9 * sample.flow:.3f}",
    "feeder speed [mm/min]": lambda plan, sample: f"{6e4 * sample.speed:.1f}",
    "purge [mm]": lambda plan, sample: f"{1e3 * sample.purge:.0f}",
    "length [mm]": lambda plan, sample: f"{1e3 * sample.length:.0f}",
    "time [s]": lambda plan, sample: f"{sample.time:.1f}",
    "expected mass [g]": lambda plan, sample: f"{1e3 * sample.mass:.3f}",
    MASS: lambda plan, sample: "",
    "density [g/cm^3]": lambda plan, sample: f"{1e-3 * plan.filament.density.value:.6g}",
    "density uncertainty [g/cm^3]": lambda plan, sample: f"{1e-3 * plan.filament.density.tolerance:.3g}",
    "diameter [mm]": lambda plan, sample: f"{1e3 * plan.filament.diameter.value:.6g}",
    "diameter uncertainty [mm]": lambda plan, sample: f"{1e3 * plan.filament.diameter.tolerance:.3g}",
    "balance resolution [g]": lambda plan, sample: f"{1e3 * plan.wanted.balance.resolution:.6g}",
    "use": lambda plan, sample: "yes",
    "note": lambda plan, sample: "",
}
AT_THE_BENCH = (
    "The strand stays hot and sticks to skin: tongs, gloves, eye protection; catch it on metal, weigh it cold.",
    "Ventilate. If it smokes, smells sharp or spits, switch off and leave it alone; stay beside it while it is hot.",
    "Beyond the ceiling the feeder slips and grinds: stop at jams, never push by hand, clear them only when cold.",
)


def sheet_text(plan: Plan) -> str:
    """The sheet as comma separated text, its cautions on top, its seal at the end."""
    result = plan.result
    own = {key: value if isinstance(value, str) else written_form(value) for key, value in plan.overrides.items()}
    rows = ([*(cell(plan, sample) for cell in SHEET.values()), *own.values()] for sample in plan.samples)
    title = f"bench sheet, predicted ceiling {result.flow_ceiling:.1f} mm³/s: {result.title}"
    return sealed(delimited([*SHEET, *own], rows, [title, *caution_lines(plan)]), COMMENT)


def bench_program_text(plan: Plan) -> str:
    """The plan as a program for the machine; raises CaseError where the case is beyond what its parts stand."""
    found, result, filament = bench_program(plan), plan.result, plan.filament
    true = (
        "All axes stand still and parked, the nozzle 100 mm or more above bed and tray, nothing else under it; the bed is "
        "cold. The program moves no axis.",
        f"The filament is {result.problem.materials.polymer.label}, {1e3 * filament.diameter.value:.4g} mm; {plan.fed:.1f} m "
        "of it lie ready and run freely.",
        f"The feeder may turn at {6e4 * max(each.speed for each in plan.samples):.0f} mm/min, and feed 100 mm in one line.",
        "The check at the beginning tells whether 100 mm are 100 mm: if not, set the feeder's steps and begin again.",
        f"The part-cooling fan is {'fitted, and runs in full' if found.fan else 'off throughout'}.",
    )
    title = (
        f"Bench program: {len(plan.samples)} samples, predicted ceiling {result.flow_ceiling:.1f} mm3/s: {result.title}"
    )
    return program_text(title, true, result, found.limits, found.lines)


def caution_lines(plan: Plan) -> list[str]:
    """What to heed at the bench, in sentences: the melt, the materials at the setpoint, who has the last word."""
    problem = plan.result.problem
    found = [without_deference(each) for each in cautions_of(problem, hottest_points(problem, None))]
    return [BURNS, *AT_THE_BENCH, *found, DEFERENCE]


@contextmanager
def sheet_for(path: Path | None, reads: Iterable[Path] = ()) -> Iterator[Callable[[Plan], None]]:
    """A function that takes the plan for the sheet at `path`, which is tried before the block.

    The ending tells the kind: .csv, or a workbook. Without a path nothing is written. Raises CaseError, also for a sheet that
    was filled in or changed since this program wrote it.
    """
    if path is None:
        yield lambda plan: None
        return
    check_ending(path, f"output {path}", "a sheet", ".csv", *WORKBOOKS)
    workbook = path.suffix.lower() in WORKBOOKS
    with staged_file(path, reads=reads, kind=None if workbook else table("order")) as temporary:
        if path.exists() and _filled(path, workbook):
            hint = "Its weighings would be lost; choose another name."
            raise refused(path, "a sheet without masses, as it was written", hint)
        yield lambda plan: _put(temporary, sheet_text(plan), workbook)


def _put(place: Path, text: str, workbook: bool) -> None:
    if workbook:
        write_sealed(place, [row for row in csv.reader(io.StringIO(text)) if not is_seal(row[0])])
    else:
        put_text(place, text)


def _filled(path: Path, workbook: bool) -> bool:
    """Whether a sheet has masses, or is a workbook that was changed; what cannot be read as a sheet counts as filled."""
    if not path.stat().st_size:
        return False
    try:
        if workbook:
            return workbook_edited(path, str(path))
        return any(each.samples for each in load_samples(path).series)
    except CaseError:
        return True


def _case(plan: Plan) -> str:
    case = plan.result.case
    return case.name if case.file.endswith("(shipped example)") else case.file


def page(plan: Plan) -> Page:
    """The whole plan, one line a flow; the sheet has the samples in their order."""
    result, wanted = plan.result, plan.wanted
    assert result.flow_ceiling is not None
    flows = sorted({1e9 * sample.flow for sample in plan.samples})
    strong = f"{counted(len(plan.samples), 'weighing')}"
    told = (
        f"{strong}: {counted(wanted.repeats, 'round')} of {len(flows)} flows from {flows[0]:.2f} to {flows[-1]:.2f} mm³/s, "
        f"{_duration(plan.duration)}\nPredicted ceiling {result.flow_ceiling:.1f} mm³/s, {result.governs} governs"
    )
    rest = (
        f"Each round in an order of its own (seed {wanted.seed}).\nMasses known to {100 * wanted.uncertainty:g} % with a "
        f"balance of {1e3 * wanted.balance.resolution:g} g. Filament {plan.fed:.1f} m, {1e3 * _fed_mass(plan):.0f} g. Time "
        f"{_duration(plan.duration)}, of which {WARM_UP / 60:.0f} min warming up and {wanted.handling:.0f} s handling a sample."
    )
    return Page((
        Head(result.title, result.case.file),
        Answer(told, strong),
        _flows(plan),
        Words(rest),
        Warnings(AT_THE_BENCH, "bench"),
        Cautions(tuple(result.cautions)),
    ), "Weighings of a hot end")  # fmt: skip


def _flows(plan: Plan) -> Grid:
    columns = words(
        "of the ceiling [%]", "commanded [mm³/s]", "feeder [mm/min]", "purge [mm]", "length [mm]", "time [s]",
        "expected [g]", "for",
    )  # fmt: skip
    first = sorted(plan.samples[: len(plan.samples) // plan.wanted.repeats], key=lambda each: each.flow)
    return Grid("", columns, tuple(_flow(sample) for sample in first))


def _flow(sample: Planned) -> tuple[str | Cell, ...]:
    purpose = "reference" if sample.share < 0.7 else "onset" if sample.share < 1.1 else "plateau"
    return (
        f"{100 * sample.share:.0f}", f"{1e9 * sample.flow:.2f}", f"{6e4 * sample.speed:.1f}", f"{1e3 * sample.purge:.0f}",
        f"{1e3 * sample.length:.0f}", f"{sample.time:.0f}", f"{1e3 * sample.mass:.2f}", purpose,
    )  # fmt: skip


def _fed_mass(plan: Plan) -> float:
    return plan.fed * plan.filament.area * plan.filament.density.value


def _duration(seconds: float) -> str:
    hours, minutes = divmod(round(seconds / 60.0), 60)
    return f"{hours} h {minutes} min" if hours else f"{minutes} min"
