"""The command line: parse, call, print. Every command is a function of `meltzone.cases.studies.run` with words around it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from meltzone.cases.commands import bench
from meltzone.cases.commands.compare import (
    DesignArgument,
    NumbersOption,
    RecordOption,
    WorkingFlowOption,
    compare_and_show,
    design_and_show,
)
from meltzone.cases.commands.console import (
    INTERRUPTED,
    NO_ANSWER,
    OK,
    answering,
    overrides_of,
    progress,
    settle,
    show,
    tell_files,
)
from meltzone.cases.commands.curve import curve
from meltzone.cases.commands.options import CASE_HELP, DEFAULT_OUT, CaseArgument, FolderOption, SetOption
from meltzone.cases.commands.report import PageOption, report_and_show
from meltzone.cases.commands.sweep import (
    CsvOption,
    OverOption,
    PlotOption,
    ResultsOption,
    SchedulerOption,
    SweepArgument,
    Wanted,
    WorkersOption,
    carry_out,
)
from meltzone.cases.commands.transient import transient

MEASURED_HELP = (
    "A file of measured ceilings, .toml or .csv, or of weighed series, .toml, or the name of a shipped one such as "
    "hot-ends-in-practice."
)
FREE_HELP = (
    "A number to calibrate, a dotted key of a case; may be given several times. Without it, those that the file names, else "
    "contacts.bore_melt."
)
CALIBRATE_HELP = "Calibrate on the row of this name too, besides those that the file marks; may be given several times."
app = typer.Typer(
    name="meltzone",
    help="How much plastic a hot end can melt, what limits it, and what each change would buy.\n\n"
    "A case file says what the hot end is made of; begin with [bold]meltzone new my.toml[/bold], or run a shipped example: "
    "[bold]meltzone run short-block[/bold].",
    epilog="Exit codes: 0 done, 1 no ceiling, no steady state found, or data that do not tell a number that was freed, "
    "2 something in the input cannot be used, 130 interrupted.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode="rich",
    pretty_exceptions_enable=False,
)

SamplesOption = Annotated[
    int,
    typer.Option(
        "--samples",
        metavar="N",
        help="Besides the linear interval, solve N samples of the inputs that carry a tolerance.",
        show_default=False,
    ),
]
PictureOption = Annotated[
    Path | None,
    typer.Option("--out", metavar="FILE", help="Draw it to this file: .png, .svg or .pdf.", show_default=False),
]


def _examples(*lines: str) -> str:
    return "Examples:\n\n" + "\n\n".join(f"  {line}" for line in lines)


@app.command(
    epilog=_examples("meltzone run short-block", 'meltzone run my.toml --out hot --set heater.setpoint="235 degC"')
)
def run(case: CaseArgument, out: FolderOption = None, override: SetOption = None) -> None:
    """Find the flow ceilings of a case, with everything around them, and write result.json, pictures and the field.

    Without --out the results go to meltzone-out/NAME. A folder that exists keeps its other files.
    """
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case  # noqa: PLC0415
        from meltzone.cases.outputs.tables import summary  # noqa: PLC0415
        from meltzone.cases.studies import run as verbs  # noqa: PLC0415  numbers and solver load after --help has answered

        loaded = load_case(case, overrides_of(override))
        folder = out or DEFAULT_OUT / loaded.name
        with progress(say):
            result = verbs.run(loaded, folder, report=say)
        show(summary(result))
        tell_files(folder)
        settle(result)


@app.command(
    epilog=_examples(
        'meltzone solve short-block --flow "12 mm^3/s"', 'meltzone solve my.toml --flow "8 mm^3/s" --out at-8'
    )
)
def solve(
    case: CaseArgument,
    flow: Annotated[str, typer.Option("--flow", metavar="FLOW", help='The flow with its unit, as in "12 mm^3/s".')],
    out: FolderOption = None,
    override: SetOption = None,
) -> None:
    """Solve a case at one flow: does it melt through, and what must the heater give? Files are written with --out only."""
    with answering() as say:
        from meltzone.cases.outputs.tables import summary  # noqa: PLC0415
        from meltzone.cases.studies import run as verbs  # noqa: PLC0415

        with progress(say):
            result = verbs.solve(case, flow, out, overrides_of(override), say)
        show(summary(result))
        if out is not None:
            tell_files(out)


@app.command(
    epilog=_examples(
        "meltzone ceiling short-block long-block long-nozzle-brass-sleeve",
        'meltzone ceiling short-block --json --set nozzle.material="copper"',
    )
)
def ceiling(
    cases: Annotated[list[str], typer.Argument(metavar="CASE...", help=CASE_HELP, show_default=False)],
    as_json: Annotated[
        bool, typer.Option("--json", help="Print a JSON list of full records instead of the table.")
    ] = False,
    out: PictureOption = None,
    override: SetOption = None,
) -> None:
    """Find the flow ceilings of one or more cases and show them side by side; changes count from the first."""
    with answering() as say:
        from meltzone.cases.studies import run as verbs  # noqa: PLC0415

        overrides = overrides_of(override)
        with progress(say):
            results = [verbs.ceiling(case, overrides, say.about(case)) for case in cases]
            if as_json:  # a full record tells of the heater stuck on
                results = [verbs.with_stuck_on(result) for result in results]
        if out is not None:
            from meltzone.cases.outputs.bars_figure import bar_of, bars_figure  # noqa: PLC0415

            verbs.draw(out, lambda: bars_figure([bar_of(result) for result in results]))
        if as_json:
            from meltzone.cases.outputs.keyed import as_json as json_text  # noqa: PLC0415
            from meltzone.cases.outputs.record import record_of  # noqa: PLC0415

            sys.stdout.write(json_text([record_of(result) for result in results]))
        else:
            from meltzone.cases.outputs.tables import comparison  # noqa: PLC0415

            show(comparison(results))
        settle(*results)


@app.command(
    epilog=_examples(
        "meltzone compare short-block long-nozzle-bare long-nozzle-brass-sleeve",
        'meltzone compare short-block my.toml --flow "8 mm^3/s" --out variants',
    )
)
def compare(
    cases: Annotated[list[str], typer.Argument(metavar="CASE...", help=CASE_HELP, show_default=False)],
    flow: WorkingFlowOption = None,
    out: FolderOption = None,
    as_json: RecordOption = False,
    csv: NumbersOption = None,
    override: SetOption = None,
) -> None:
    """Lay variants side by side: ceilings, gains, temperatures, fan penalty, hot polymer and its time, heater stuck on.

    With --out, compare.json, compare.csv and compare.png are written.
    """
    compare_and_show(cases, flow, (out, csv), as_json, lambda: overrides_of(override))


@app.command(
    epilog=_examples(
        "meltzone explain short-block",
        "meltzone explain my.toml --out why --samples 64",
        'meltzone explain short-block --set "heater.setpoint=210 +/- 3 degC" --json',
    )
)
def explain(
    case: CaseArgument,
    out: FolderOption = None,
    samples: SamplesOption = 0,
    as_json: Annotated[bool, typer.Option("--json", help="Print the record as JSON instead of the tables.")] = False,
    override: SetOption = None,
) -> None:
    """Say what limits a case and what each change would buy: budget, temperature drops, levers, interval.

    With --out, explain.json and explain.png go to that folder. Tolerances in the case, as in "210 +/- 3 degC", give the ceiling
    an interval.
    """
    with answering() as say:
        from meltzone.cases.outputs.explain_files import explain as explained_case  # noqa: PLC0415

        with progress(say):
            explained = explained_case(case, out, overrides_of(override), samples, say)
        if as_json:
            from meltzone.cases.outputs.explain_record import explained_record  # noqa: PLC0415
            from meltzone.cases.outputs.keyed import as_json as json_text  # noqa: PLC0415

            sys.stdout.write(json_text(explained_record(explained)))
        else:
            from meltzone.cases.outputs.explain_tables import summary  # noqa: PLC0415

            show(summary(explained))
            if out is not None:
                tell_files(out)
        settle(explained.result)


@app.command(epilog=_examples("meltzone design trade.toml", "meltzone design trade.toml --out longer"))
def design(file: DesignArgument, out: FolderOption = None) -> None:
    """Search within bounds for the variant that melts most, or that reaches a ceiling with the least change.

    Writes answer.toml, a case file that extends the base, design.json with every step, and design.png. Without --out they go
    to meltzone-out/design-NAME.
    """
    design_and_show(file, out or DEFAULT_OUT / f"design-{file.stem}")


@app.command(
    epilog=_examples(
        "meltzone report short-block", 'meltzone report my.toml --out hot.html --set heater.setpoint="235 degC"'
    )
)
def report(
    case: CaseArgument,
    out: PageOption = None,
    override: SetOption = None,
) -> None:
    """Write all about one case as a single HTML page: inputs with sources, pictures, limits, levers, cautions.

    For a screen, a phone or paper; the page needs nothing besides itself. Without --out it is meltzone-out/NAME.html.
    """
    report_and_show(case, out, lambda: overrides_of(override))


@app.command(epilog=_examples("meltzone check my.toml", "meltzone check long-nozzle-wrapped-fan --out section.png"))
def check(case: CaseArgument, out: PictureOption = None, override: SetOption = None) -> None:
    """Read a case and build its parts and mesh, but solve nothing: is it what I meant? Draws the section with --out."""
    with answering():
        from meltzone.cases.outputs.check_tables import check_summary  # noqa: PLC0415
        from meltzone.cases.studies import run as verbs  # noqa: PLC0415

        show(check_summary(verbs.check(case, out, overrides_of(override))))
        if not override:
            show(f"Solve it: meltzone run {case}")


@app.command(epilog=_examples("meltzone new my.toml", "meltzone new mine.toml --like long-nozzle-brass-sleeve"))
def new(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The file to write; it must not exist yet.", show_default=False)
    ],
    like: Annotated[
        str | None, typer.Option("--like", metavar="EXAMPLE", help="Build on this example or case.", show_default=False)
    ] = None,
) -> None:
    """Write a case file to begin with: every key with its meaning and its default, ready to be changed."""
    with answering():
        from meltzone.cases.studies import run as verbs  # noqa: PLC0415

        written = verbs.new(file, like)
        show(f"Written: {written}. Change it, look at it with: meltzone check {written}")


@app.command(epilog=_examples("meltzone materials", "meltzone materials pla --out pla.png"))
def materials(
    name: Annotated[str | None, typer.Argument(metavar="NAME", help="One card in full.", show_default=False)] = None,
    out: PictureOption = None,
) -> None:
    """List the materials that come with the program, or show one card: numbers, curves, sources, limits."""
    with answering():
        from meltzone.cases.inputs.errors import CaseError  # noqa: PLC0415
        from meltzone.cases.outputs.material_tables import card, material_card, material_list  # noqa: PLC0415

        if name is None:
            if out is not None:
                raise CaseError(
                    "--out",
                    None,
                    None,
                    str(out),
                    "the name of one material before it",
                    "meltzone materials pla --out pla.png",
                )
            show(material_list())
            return
        material = card(name)
        if out is not None:
            from meltzone.cases.outputs.curves_figure import curves_figure  # noqa: PLC0415
            from meltzone.cases.studies.run import draw  # noqa: PLC0415

            draw(out, lambda: curves_figure(material))
        show(material_card(material))


@app.command(
    epilog=_examples(
        "meltzone validate hot-ends-in-practice",
        "meltzone validate bench.csv --free polymer.flow_temperature --out bench-validated",
        'meltzone validate meltzone-out/reduce-sheet/ceilings.csv --calibrate "short block"',
        "meltzone validate curves.toml --free contacts.bore_melt --free feeder.grip",
    )
)
def validate(
    measured: Annotated[str, typer.Argument(metavar="MEASURED", help=MEASURED_HELP, show_default=False)],
    out: FolderOption = None,
    free: Annotated[list[str] | None, typer.Option("--free", metavar="KEY", help=FREE_HELP, show_default=False)] = None,
    calibrate: Annotated[
        list[str] | None, typer.Option("--calibrate", metavar="NAME", help=CALIBRATE_HELP, show_default=False)
    ] = None,
    override: SetOption = None,
) -> None:
    """Lay measured ceilings and curves against predicted ones: calibrate on the rows marked so, predict the others.

    Writes validation.json, pictures and calibrated.toml, which other cases take in by extends. Without --out they go to
    meltzone-out/validate-NAME. Where the data cannot tell a number it is left out of calibrated.toml, and the exit code is 1.
    """
    with answering() as say:
        from meltzone.cases.outputs.calibrated_text import CALIBRATED, taken_in  # noqa: PLC0415
        from meltzone.cases.outputs.validation_files import validate_into  # noqa: PLC0415
        from meltzone.cases.outputs.validation_tables import summary  # noqa: PLC0415
        from meltzone.cases.studies.validation.measurements import load_measured  # noqa: PLC0415

        overrides, read = overrides_of(override), load_measured(measured).calibrating(calibrate or ())
        folder = out or DEFAULT_OUT / f"validate-{read.name}"
        with progress(say):
            found = validate_into(folder, read, free, overrides, say)
        show(summary(found))
        tell_files(folder)
        if (folder / CALIBRATED).exists():
            show(taken_in((folder / CALIBRATED).as_posix()))
        if found.calibration is not None and found.calibration.not_identifiable:
            keys = [each.free.key for each in found.calibration.not_identifiable]
            typer.echo(f"no value for {', '.join(keys)}: see above", err=True)
            raise typer.Exit(NO_ANSWER)


@app.command(
    epilog=_examples(
        "meltzone sweep setpoint-and-nozzle --plot ceilings.png",
        "meltzone sweep mine.toml --out mine.sqlite --csv mine.csv --plot metal.png --over nozzle.material",
    )
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

    Every point is kept as it comes, without --out in meltzone-out/NAME.sqlite. After an interruption the same command goes on.
    """
    with answering():
        wanted = Wanted(out, workers, scheduler, csv, plot, tuple(over or ()))
        try:
            found = carry_out(file, wanted, show)
        except KeyboardInterrupt:
            raise typer.Exit(INTERRUPTED) from None
        if not found:
            raise typer.Exit(NO_ANSWER)


app.command(
    epilog=_examples(
        "meltzone plan short-block --out sheet.csv",
        'meltzone plan my.toml --diameter "1.74 +/- 0.01 mm" --balance-resolution "0.001 g" --uncertainty "0.5 %"',
    )
)(bench.plan)
app.command(
    epilog=_examples(
        "meltzone reduce demo-short-block", 'meltzone reduce sheet.csv --out reduced --tolerance "3 %" --seed 7'
    )
)(bench.reduce)
app.command(
    epilog=_examples(
        "meltzone curve short-block --measured demo-short-block --out curve",
        'meltzone curve my.toml --set feeder.grip="45 N"',
    )
)(curve)
app.command(
    epilog=_examples(
        "meltzone transient short-block",
        'meltzone transient short-block --flow "5 mm^3/s" --step "15 mm^3/s" --duration "30 s" --out faster',
        'meltzone transient my.toml --flow "8 mm^3/s" --burst "20 mm^3/s"',
    )
)(transient)


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version  # noqa: PLC0415

        typer.echo(f"meltzone {version('meltzone')}")
        raise typer.Exit(OK)


@app.callback()
def _program(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_version, is_eager=True, show_default=False)
    ] = False,
) -> None:
    pass


def main() -> None:
    """The entry point of the `meltzone` command."""
    try:
        app()
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)


if __name__ == "__main__":
    main()
