"""The commands plan and reduce with their options; nothing slow loads before they are carried out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from meltzone.cases.commands.console import answering, overrides_of, progress, show
from meltzone.cases.commands.finish import carry_out, finish
from meltzone.cases.commands.options import DEFAULT_OUT, CaseArgument, FolderOption, JsonOption
from meltzone.cases.commands.registry import command
from meltzone.cases.commands.samples_options import (
    ColumnsOption,
    DensityOption,
    DiameterOption,
    RepeatabilityOption,
    ResolutionOption,
    TrayOption,
    balance_given,
    filament_given,
    tray_given,
)

if TYPE_CHECKING:
    from meltzone.cases.inputs.tolerance import Toleranced
    from meltzone.cases.studies.bench.plan import Wanted
    from meltzone.cases.studies.bench.samples import MeasuredFilament, SampleFile

SetOption = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="KEY=VALUE",
        help="Put a value in place of the case's own; the sheet then has a column for it. May be given several times.",
        show_default=False,
    ),
]
SamplesArgument = Annotated[
    str,
    typer.Argument(
        metavar="SAMPLES",
        help="A table of weighed samples, .csv, .xlsx or .ods, or the name of a shipped demonstration such as "
        "demo-short-block.",
        show_default=False,
    ),
]
SheetOption = Annotated[
    Path | None,
    typer.Option(
        "--to", "--out", metavar="FILE", help="Write the sheet to fill in: .csv, .xlsx or .ods.", show_default=False
    ),
]
ProgramOption = Annotated[
    Path | None,
    typer.Option(
        "--program",
        metavar="FILE",
        help="Write the plan as a program for the machine too, .gcode; it heats by itself: never leave it alone.",
        show_default=False,
    ),
]
UncertaintyOption = Annotated[
    str, typer.Option("--uncertainty", metavar="SHARE", help="Wanted standard uncertainty of each mass.")
]
RepeatsOption = Annotated[
    int, typer.Option("--repeats", metavar="N", min=1, max=20, help="Rounds through all flows, each in a random order.")
]
HandlingOption = Annotated[
    str, typer.Option("--handling", metavar="TIME", help="Time to cut, cool and weigh one sample.")
]
SeedOption = Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Seed of everything random.")]
ToleranceOption = Annotated[
    str, typer.Option("--tolerance", metavar="SHARE", help="Shortfall that is accepted; where it is passed is told.")
]
CaseOption = Annotated[
    str | None,
    typer.Option(
        "--case",
        metavar="CASE",
        help="Case of the series that name none: for ceilings.csv, and for density and diameter where none is given.",
        show_default=False,
    ),
]
PreviewOption = Annotated[bool, typer.Option("--preview", help="Show what was understood of the table, and stop.")]
ResamplesOption = Annotated[
    int,
    typer.Option("--resamples", metavar="N", min=99, max=99_999, help="Resampled series behind intervals and tests."),
]


@command(
    "Measure",
    "meltzone plan short-block --to sheet.csv --program bench.gcode",
    'meltzone plan my.toml --diameter "1.74 +/- 0.01 mm" --balance-resolution "0.001 g" --uncertainty "0.5 %"',
)
def plan(
    case: CaseArgument,
    out: SheetOption = None,
    program: ProgramOption = None,
    resolution: ResolutionOption = None,
    repeatability: RepeatabilityOption = None,
    uncertainty: UncertaintyOption = "1 %",
    repeats: RepeatsOption = 3,
    diameter: DiameterOption = None,
    density: DensityOption = None,
    handling: HandlingOption = "60 s",
    seed: SeedOption = 0,
    override: SetOption = None,
) -> None:
    """Lay out weighings about the predicted ceiling of a case: flows, order, lengths, expected masses, time.

    With --to, a sheet is written for a person to work through and fill in; meltzone reduce reads it. With --program, the
    machine feeds the samples and waits between them, a person beside it.
    """
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case
        from meltzone.cases.outputs import plan as shown
        from meltzone.cases.outputs.guard import files_of
        from meltzone.cases.outputs.program import program_for
        from meltzone.cases.studies.bench.plan import plan as plan_samples  # see the first line

        filament, balance = filament_given(density, diameter), balance_given(resolution, repeatability)
        wanted = _wanted(uncertainty, repeats, handling, seed, balance, filament)
        overrides = overrides_of(override)
        reads = files_of(load_case(case, overrides))
        with progress(say), shown.sheet_for(out, reads) as fill, program_for(program, reads) as fill_program:
            found = plan_samples(case, wanted, overrides, say)
            fill(found)
            fill_program(lambda: shown.bench_program_text(found))
        finish(lambda: shown.page(found), None, *_written(out, program))


def _written(sheet: Path | None, program: Path | None) -> list[str]:
    """What was written of a plan, in sentences."""
    from meltzone.cases.outputs.program import NEVER_ALONE

    said = (
        [f"Written: {sheet}. Fill in the column of masses, then: meltzone reduce {sheet}"] if sheet is not None else []
    )
    return said + ([f"Written: {program}. Read its header first. {NEVER_ALONE}"] if program is not None else [])


@command(
    "Measure", "meltzone reduce demo-short-block", 'meltzone reduce sheet.csv --out reduced --tolerance "3 %" --seed 7'
)
def reduce(
    samples: SamplesArgument,
    out: FolderOption = None,
    tolerance: ToleranceOption = "5 %",
    density: DensityOption = None,
    diameter: DiameterOption = None,
    resolution: ResolutionOption = None,
    repeatability: RepeatabilityOption = None,
    tray: TrayOption = None,
    case: CaseOption = None,
    columns: ColumnsOption = None,
    preview: PreviewOption = False,
    as_json: JsonOption = False,
    resamples: ResamplesOption = 499,
    seed: SeedOption = 0,
) -> None:
    """Reduce weighed samples to onset, ceiling and shortfall with their uncertainties; several series are compared.

    A table in words of its own is first shown as it was understood. Writes reduced.json, reduced.csv, reduced.png,
    report.html and ceilings.csv, which meltzone validate reads. Without --out they go to meltzone-out/reduce-NAME.
    """
    with answering() as say:
        from meltzone.cases.outputs import reduce as shown
        from meltzone.cases.studies.bench.quantities import percent_option  # see the first line
        from meltzone.cases.studies.bench.reduce import reduce as reduce_samples

        share = percent_option("--tolerance", tolerance, 0.5)
        of_options = (*filament_given(density, diameter), *balance_given(resolution, repeatability), tray_given(tray))
        read = _understood(samples, (*of_options, *case_given(case), columns), preview, as_json)
        if preview:
            return
        folder = out or DEFAULT_OUT / f"reduce-{read.name}"
        carry_out(
            say, lambda: reduce_samples(read, share, resamples, seed, say), shown, folder, [Path(read.file)], as_json
        )
        if not as_json and (folder / shown.CEILINGS).exists():
            show(f"Measured against predicted: meltzone validate {folder / shown.CEILINGS}")


def _understood(samples: str, given: tuple[Any, ...], preview: bool, silent: bool) -> SampleFile:
    """The samples; for a preview, or of a table in words of its own, what was understood is shown. Raises CaseError.

    A `silent` call shows it for a preview only.
    """
    from meltzone.cases.outputs.terminal import rendered
    from meltzone.cases.outputs.understood import understood_page
    from meltzone.cases.studies.bench.samples import Given
    from meltzone.cases.studies.bench.samples_csv import load_samples

    read = load_samples(samples, Given(*given))
    if preview or (read.table is not None and read.table.own_words and not silent):
        show(rendered(understood_page(read)))
    return read


def case_given(case: str | None) -> tuple[str, MeasuredFilament | None]:
    """The case that an option names, and its filament; raises CaseError."""
    if case is None:
        return "", None
    from meltzone.cases.inputs.build import problem_of
    from meltzone.cases.inputs.reader import load_case
    from meltzone.cases.studies.bench.filament import filament_of

    return case, filament_of(problem_of(load_case(case)))


def _wanted(
    uncertainty: str,
    repeats: int,
    handling: str,
    seed: int,
    balance: tuple[float | None, float | None],
    filament: tuple[Toleranced | None, Toleranced | None],
) -> Wanted:
    """What the options of a plan ask for; raises CaseError."""
    from meltzone.cases.studies.bench.balance import USUAL_RESOLUTION, Balance
    from meltzone.cases.studies.bench.plan import Wanted
    from meltzone.cases.studies.bench.quantities import option, percent_option
    from meltzone.materials.units import TIME

    resolution, repeatability = balance
    density, diameter = filament
    return Wanted(
        Balance(USUAL_RESOLUTION if resolution is None else resolution, repeatability),
        percent_option("--uncertainty", uncertainty, 0.2),
        repeats,
        option("--handling", handling, TIME.within(0.0, 3600.0)),
        seed,
        diameter,
        density,
    )
