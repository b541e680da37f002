"""The command sweep with its options; nothing slow loads before it is carried out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from meltzone.cases.commands.console import INTERRUPTED, NO_ANSWER, OK, answering, tell
from meltzone.cases.commands.finish import finish
from meltzone.cases.commands.options import DEFAULT_OUT
from meltzone.cases.commands.registry import command

if TYPE_CHECKING:
    from meltzone.cases.studies.sweep.plan import Sweep

SweepArgument = Annotated[
    str,
    typer.Argument(
        metavar="SWEEP",
        help="A sweep file, or the name of a shipped one such as setpoint-and-nozzle. It holds case and tables: vary with "
        'dotted keys, each with a range, as in { from = "190 degC", to = "260 degC", steps = 8 }, or a list of values; sample '
        "with points and seed.",
        show_default=False,
    ),
]
ResultsOption = Annotated[
    Path | None,
    typer.Option(
        "--to", "--out", metavar="FILE", help="SQLite file that takes the results as they come.", show_default=False
    ),
]
WorkersOption = Annotated[
    int | None,
    typer.Option("--workers", metavar="N", help="Processes; without it one for each core.", show_default=False),
]
SchedulerOption = Annotated[
    str | None,
    typer.Option(
        "--scheduler",
        metavar="ADDRESS",
        help="Solve on the Dask cluster whose scheduler listens there, as in tcp://192.168.1.20:8786.",
        show_default=False,
    ),
]
CsvOption = Annotated[
    Path | None,
    typer.Option("--csv", metavar="FILE", help="Export all points to this CSV file as well.", show_default=False),
]
PlotOption = Annotated[
    Path | None,
    typer.Option("--plot", metavar="FILE", help="Draw the ceilings: .png, .svg or .pdf.", show_default=False),
]
OverOption = Annotated[
    list[str] | None,
    typer.Option(
        "--over",
        metavar="KEY",
        help="A varied key to draw over, given once or twice; without it the first two.",
        show_default=False,
    ),
]


@command(
    "Decide",
    "meltzone sweep setpoint-and-nozzle --plot ceilings.png",
    "meltzone sweep mine.toml --to mine.sqlite --csv mine.csv --plot metal.png --over nozzle.material",
)
def sweep(
    file: SweepArgument,
    out: ResultsOption = None,
    workers: WorkersOption = None,
    scheduler: SchedulerOption = None,
    csv: CsvOption = None,
    plot: PlotOption = None,
    over: OverOption = None,
) -> None:
    """Find the ceilings at many points: keys of a case varied over ranges and lists, in all combinations or as a sample.

    Every point is kept as it comes, without --to in meltzone-out/NAME.sqlite. After an interruption the same command goes on.
    """
    with answering():
        from meltzone.cases.outputs.files import draw  # see the first line
        from meltzone.cases.outputs.sweep import page, progress_bar, write_csv
        from meltzone.cases.outputs.sweep_figure import sweep_figure
        from meltzone.cases.studies.sweep.read import load_sweep
        from meltzone.cases.studies.sweep.run import run_sweep

        read = load_sweep(file)
        results, varied = out or DEFAULT_OUT / f"{read.name}.sqlite", over or ()
        reads = _checked(read, results, csv, plot, varied)
        try:
            with progress_bar() as report:
                swept = run_sweep(read, results, workers, scheduler, report)
        except KeyboardInterrupt:
            tell(f"interrupted; what was found is kept in {results}, and the same command goes on from there")
            raise typer.Exit(INTERRUPTED) from None
        if csv is not None:
            write_csv(swept.rows, csv, reads)
        if plot is not None:
            draw(plot, lambda: sweep_figure(swept, varied), reads)
        finish(lambda: page(swept), None, *(f"Written: {path}" for path in (csv, plot) if path is not None))
        raise typer.Exit(OK if swept.found else NO_ANSWER)


def _checked(sweep: Sweep, results: Path, csv: Path | None, plot: Path | None, over: Sequence[str]) -> list[Path]:
    """The files that must not be written over; raises CaseError for outputs that could not be written at the end."""
    from meltzone.cases.inputs.errors import CaseError
    from meltzone.cases.outputs.files import DATA_BASES, check_ending, check_picture, check_table
    from meltzone.cases.outputs.guard import guard
    from meltzone.cases.studies.sweep.means import chosen_axes

    reads = [results, Path(sweep.file), *(Path(layer.label) for layer in sweep.base.layers if layer.text)]
    for option, path in (("--csv", csv), ("--plot", plot), ("--to", results)):
        if path is not None and path.is_dir():
            raise CaseError(option, None, None, str(path), "the name of a file", "That is a folder; add a file name.")
    if plot is not None:
        check_picture(plot, "--plot")
    if csv is not None:
        check_table(csv)
    check_ending(results, f"output {results}", "an SQLite data base", *DATA_BASES)
    for path in filter(None, (csv, plot)):
        if path.resolve() == results.resolve():
            raise CaseError("--to", None, None, str(results), "a file of its own", "The results of the sweep go there.")
        guard(path, reads)
    if over and plot is None:
        hint = "Add --plot ceilings.png."
        raise CaseError("--over", None, None, ", ".join(over), "a picture to draw, --plot FILE", hint)
    chosen_axes(sweep, over)
    return reads
