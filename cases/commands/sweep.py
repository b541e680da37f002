"""The options of the sweep command, and what it does with them; nothing slow loads before it is carried out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from meltzone.cases.commands.options import DEFAULT_OUT

if TYPE_CHECKING:
    from meltzone.cases.studies.sweep.plan import Sweep
    from meltzone.cases.studies.sweep.run import Swept

SweepArgument = Annotated[
    str,
    typer.Argument(
        metavar="SWEEP",
        help="A sweep file, or the name of a shipped one such as setpoint-and-nozzle.",
        show_default=False,
    ),
]
ResultsOption = Annotated[
    Path | None,
    typer.Option("--out", metavar="FILE", help="SQLite file that takes the results as they come.", show_default=False),
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


@dataclass(frozen=True)
class Wanted:
    """What to do with a sweep: the results file `out`, who solves, and what is written at the end."""

    out: Path | None
    workers: int | None
    scheduler: str | None
    csv: Path | None
    plot: Path | None
    over: tuple[str, ...]


def carry_out(file: str, wanted: Wanted, show: Callable[[Any], None]) -> bool:
    """Sweep, export, draw and show the summary; whether any point has a ceiling. Without `out` the results go to meltzone-out.

    Raises CaseError before the first solve for whatever can be known then, and KeyboardInterrupt once all is safe.
    """
    from meltzone.cases.outputs.sweep_tables import progress_bar, summary  # noqa: PLC0415
    from meltzone.cases.studies.sweep.read import load_sweep  # noqa: PLC0415
    from meltzone.cases.studies.sweep.run import run_sweep  # noqa: PLC0415  see the first line

    sweep = load_sweep(file)
    _check(sweep, wanted)
    out = wanted.out or DEFAULT_OUT / f"{sweep.name}.sqlite"
    try:
        with progress_bar() as report:
            swept = run_sweep(sweep, out, wanted.workers, wanted.scheduler, report)
    except KeyboardInterrupt:
        typer.echo(f"interrupted; what was found is kept in {out}, and the same command goes on from there", err=True)
        raise
    _write(swept, wanted)
    show(summary(swept))
    for path in filter(None, (wanted.csv, wanted.plot)):
        show(f"Written: {path}")
    return bool(swept.found)


def _check(sweep: Sweep, wanted: Wanted) -> None:
    """Raise CaseError for outputs that could not be written at the end."""
    from meltzone.cases.inputs.errors import CaseError  # noqa: PLC0415
    from meltzone.cases.outputs.figures import FORMATS  # noqa: PLC0415
    from meltzone.cases.studies.sweep.means import chosen_axes  # noqa: PLC0415

    for option, path in (("--csv", wanted.csv), ("--plot", wanted.plot), ("--out", wanted.out)):
        if path is not None and path.is_dir():
            raise CaseError(option, None, None, str(path), "the name of a file", "That is a folder; add a file name.")
    if wanted.plot is not None and wanted.plot.suffix.lower() not in FORMATS:
        expected = f"a picture's name ending in {', '.join(FORMATS)}"
        raise CaseError("--plot", None, None, str(wanted.plot), expected, f"{wanted.plot.stem}.png will do.")
    if wanted.over and wanted.plot is None:
        hint = "Add --plot ceilings.png."
        raise CaseError("--over", None, None, ", ".join(wanted.over), "a picture to draw, --plot FILE", hint)
    chosen_axes(sweep, wanted.over)


def _write(swept: Swept, wanted: Wanted) -> None:
    from meltzone.cases.studies.run import draw  # noqa: PLC0415
    from meltzone.cases.studies.sweep.store import export_csv  # noqa: PLC0415

    if wanted.csv is not None:
        export_csv(swept.rows, wanted.csv)
    if wanted.plot is not None:
        from meltzone.cases.outputs.sweep_figure import sweep_figure  # noqa: PLC0415

        draw(wanted.plot, lambda: sweep_figure(swept, wanted.over))
