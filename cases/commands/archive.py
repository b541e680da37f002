"""The commands keep and kept with their options; nothing slow loads before they are carried out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from meltzone.cases.commands.bench import CaseOption, SamplesArgument, case_given
from meltzone.cases.commands.console import answering
from meltzone.cases.commands.finish import finish, finish_as_json
from meltzone.cases.commands.options import JsonOption
from meltzone.cases.commands.registry import command
from meltzone.cases.commands.samples_options import (
    ColumnsOption,
    DensityOption,
    DiameterOption,
    TrayOption,
    filament_given,
    tray_given,
)

if TYPE_CHECKING:
    from datetime import date

InOption = Annotated[
    Path, typer.Option("--in", metavar="FILE", help="SQLite file that holds them, made where it is not there.")
]
SpoolOption = Annotated[str, typer.Option("--spool", metavar="NAME", help="Spool of filament.", show_default=False)]
OnOption = Annotated[
    str | None,
    typer.Option(
        "--on", metavar="DATE", help="Day of the measurement, 2026-11-25; today if left out.", show_default=False
    ),
]
CsvOption = Annotated[
    Path | None,
    typer.Option("--csv", metavar="FILE", help="Export every sample, with units and sources.", show_default=False),
]
BackupOption = Annotated[
    Path | None, typer.Option("--backup", metavar="FILE", help="Copy all of it to this one file.", show_default=False)
]


@command("Measure", 'meltzone keep sheet.csv --spool "grey 3" --on 2026-11-25')
def keep(
    samples: SamplesArgument,
    file: InOption = Path("weighings.sqlite"),
    spool: SpoolOption = "",
    on: OnOption = None,
    case: CaseOption = None,
    density: DensityOption = None,
    diameter: DiameterOption = None,
    tray: TrayOption = None,
    columns: ColumnsOption = None,
) -> None:
    """Keep weighed samples with day, case and spool beside those of other sessions; reduce and validate take such a file."""
    with answering():
        from meltzone.cases.outputs.archive import page
        from meltzone.cases.outputs.files import check_ending
        from meltzone.cases.studies.bench import archive
        from meltzone.cases.studies.bench.samples import Given
        from meltzone.cases.studies.bench.samples_csv import load_samples

        check_ending(file, f"output {file}", "a data base", *archive.ENDINGS)
        given = Given(*filament_given(density, diameter), None, None, tray_given(tray), *case_given(case), columns)
        added = archive.keep(file, load_samples(samples, given), spool, _day(on))
        finish(lambda: page(added, file), None, f"Kept in {file}. All of it: meltzone kept {file}")


@command("Measure", "meltzone kept weighings.sqlite --csv weighings.csv --backup weighings-copy.sqlite")
def kept(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A file of meltzone keep.", show_default=False)],
    csv: CsvOption = None,
    backup: BackupOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what was measured when, on which case, with which spool; export it, or copy it to one file."""
    with answering():
        from meltzone.cases.outputs import archive as shown
        from meltzone.cases.studies.bench import archive

        found = archive.kept(file)
        if csv is not None:
            shown.write_csv(found, csv)
        if backup is not None:
            shown.write_backup(file, backup)
        if as_json:
            finish_as_json(shown.record(found))
        else:
            finish(lambda: shown.page(found, file), None, *(f"Written: {path}" for path in (csv, backup) if path))


def _day(written: str | None) -> date:
    """The day of a measurement; raises CaseError."""
    from datetime import date

    from meltzone.cases.inputs.errors import CaseError

    try:
        return date.today() if written is None else date.fromisoformat(written)
    except ValueError as error:
        expected = "a day, as in 2026-11-25"
        raise CaseError("--on", None, None, written, expected, "Year, month, day.") from error
