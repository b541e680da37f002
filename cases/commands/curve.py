"""The command curve with its options; nothing slow loads before it is carried out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from meltzone.cases.commands.console import answering, overrides_of
from meltzone.cases.commands.finish import carry_out, settle
from meltzone.cases.commands.options import CaseArgument, FolderOption, JsonOption, LineOption, SetOption
from meltzone.cases.commands.registry import command
from meltzone.cases.commands.samples_options import (
    ColumnsOption,
    DensityOption,
    DiameterOption,
    TrayOption,
    filament_given,
    tray_given,
)

MeasuredOption = Annotated[
    str | None,
    typer.Option(
        "--measured",
        metavar="SAMPLES",
        help="A table of weighed samples, as for meltzone reduce, or the name of a shipped demonstration.",
        show_default=False,
    ),
]


@command(
    "Predict",
    "meltzone curve short-block --measured demo-short-block --out curve",
    'meltzone curve my.toml --set feeder.grip="45 N"',
)
def curve(
    case: CaseArgument,
    measured: MeasuredOption = None,
    density: DensityOption = None,
    diameter: DiameterOption = None,
    tray: TrayOption = None,
    columns: ColumnsOption = None,
    out: FolderOption = None,
    as_json: JsonOption = False,
    line: LineOption = None,
    override: SetOption = None,
) -> None:
    """Predict what is delivered over what is commanded: all of it, then slip at the feeder's grip, then the plateau.

    Weighed samples are laid beside it with --measured; density and diameter that nobody gives are those of the case. With
    --out, curve.json, curve.csv, curve.png and report.html are written.
    """
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case
        from meltzone.cases.outputs import curve as shown
        from meltzone.cases.outputs.guard import files_of
        from meltzone.cases.studies.bench.samples import Given
        from meltzone.cases.studies.delivery import delivery  # see the first line

        loaded = load_case(case, overrides_of(override, line))
        given = Given(*filament_given(density, diameter), tray=tray_given(tray), columns=columns)
        reads = [*files_of(loaded), *([Path(measured)] if measured else [])]
        settle(carry_out(say, lambda: delivery(loaded, measured, None, say, given), shown, out, reads, as_json).result)
