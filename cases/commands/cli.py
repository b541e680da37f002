"""The command line: the program, and its commands by the stage of the job."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Annotated

import typer

from meltzone.cases.commands.bench import plan, reduce
from meltzone.cases.commands.compare import DesignArgument, compare, design_and_show
from meltzone.cases.commands.console import NO_ANSWER, OK, answering, overrides_of, progress, show, speaking, tell_files
from meltzone.cases.commands.curve import curve
from meltzone.cases.commands.describe import check, new
from meltzone.cases.commands.options import DEFAULT_OUT, CaseArgument, FolderOption, PictureOption, SetOption
from meltzone.cases.commands.predict import ceiling, report, run, solve
from meltzone.cases.commands.sweep import sweep
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
    epilog="Exit codes: 0 done, 1 no steady state found, or data that do not tell a number that was freed, "
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
        from meltzone.cases.studies.explain import explain as explained_case  # noqa: PLC0415

        with progress(say):
            explained = explained_case(case, out, overrides_of(override), samples, say)
        if as_json:
            from meltzone.cases.outputs.explain_record import explained_record  # noqa: PLC0415
            from meltzone.cases.outputs.keyed import as_json as json_text  # noqa: PLC0415

            sys.stdout.write(json_text(explained_record(explained)))
            return
        from meltzone.cases.outputs.explain_tables import summary  # noqa: PLC0415

        show(summary(explained))
        if out is not None:
            tell_files(out)


def design(file: DesignArgument, out: FolderOption = None) -> None:
    """Search within bounds for the variant that melts most, or that reaches a ceiling with the least change.

    Writes answer.toml, a case file that extends the base, design.json with every step, and design.png. Without --out they go
    to meltzone-out/design-NAME.
    """
    design_and_show(file, out or DEFAULT_OUT / f"design-{file.stem}")


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
            from meltzone.cases.outputs.files import draw  # noqa: PLC0415

            draw(out, lambda: curves_figure(material))
        show(material_card(material))


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
        from meltzone.cases.outputs.validation_files import validate_into  # noqa: PLC0415
        from meltzone.cases.outputs.validation_tables import summary  # noqa: PLC0415
        from meltzone.cases.studies.validation.calibrated import CALIBRATED, taken_in  # noqa: PLC0415
        from meltzone.cases.studies.validation.measurements import load_measured  # noqa: PLC0415

        overrides, read = overrides_of(override), load_measured(measured).calibrating(calibrate or ())
        folder = out or DEFAULT_OUT / f"validate-{read.name}"
        with progress(say):
            found = validate_into(folder, read, free, overrides, say)
        show(summary(found))
        tell_files(folder)
        if (folder / CALIBRATED).exists():
            show(taken_in((folder / CALIBRATED).as_posix()))
        if found.joint is not None and found.joint.untold:
            typer.echo(f"no value for {', '.join(each.free.key for each in found.joint.untold)}: see above", err=True)
            raise typer.Exit(NO_ANSWER)


# The stages of the job, with the commands of each in the order of their use and examples of their calls
COMMANDS: dict[str, dict[Callable[..., None], tuple[str, ...]]] = {
    "Describe": {
        new: ("meltzone new my.toml", "meltzone new mine.toml --like long-nozzle-brass-sleeve"),
        check: ("meltzone check my.toml", "meltzone check long-nozzle-wrapped-fan --out section.png"),
        materials: ("meltzone materials", "meltzone materials pla --out pla.png"),
    },
    "Predict": {
        run: ("meltzone run short-block", 'meltzone run my.toml --out hot --set heater.setpoint="235 degC"'),
        ceiling: (
            "meltzone ceiling short-block long-block long-nozzle-brass-sleeve",
            'meltzone ceiling short-block --json --set nozzle.material="copper"',
        ),
        solve: (
            'meltzone solve short-block --flow "12 mm^3/s"',
            'meltzone solve my.toml --flow "8 mm^3/s" --out at-8',
        ),
        curve: (
            "meltzone curve short-block --measured demo-short-block --out curve",
            'meltzone curve my.toml --set feeder.grip="45 N"',
        ),
        transient: (
            "meltzone transient short-block",
            'meltzone transient short-block --flow "5 mm^3/s" --step "15 mm^3/s" --duration "30 s" --out faster',
            'meltzone transient my.toml --flow "8 mm^3/s" --burst "20 mm^3/s"',
        ),
        report: (
            "meltzone report short-block",
            'meltzone report my.toml --out hot.html --set heater.setpoint="235 degC"',
        ),
    },
    "Decide": {
        compare: (
            "meltzone compare short-block long-nozzle-bare long-nozzle-brass-sleeve",
            'meltzone compare short-block my.toml --flow "8 mm^3/s" --out variants',
        ),
        explain: (
            "meltzone explain short-block",
            "meltzone explain my.toml --out why --samples 64",
            'meltzone explain short-block --set "heater.setpoint=210 +/- 3 degC" --json',
        ),
        design: ("meltzone design trade.toml", "meltzone design trade.toml --out longer"),
        sweep: (
            "meltzone sweep setpoint-and-nozzle --plot ceilings.png",
            "meltzone sweep mine.toml --out mine.sqlite --csv mine.csv --plot metal.png --over nozzle.material",
        ),
    },
    "Measure": {
        plan: (
            "meltzone plan short-block --out sheet.csv",
            'meltzone plan my.toml --diameter "1.74 +/- 0.01 mm" --balance-resolution "0.001 g" --uncertainty "0.5 %"',
        ),
        reduce: (
            "meltzone reduce demo-short-block",
            'meltzone reduce sheet.csv --out reduced --tolerance "3 %" --seed 7',
        ),
    },
    "Learn": {
        validate: (
            "meltzone validate hot-ends-in-practice",
            "meltzone validate bench.csv --free polymer.flow_temperature --out bench-validated",
            'meltzone validate meltzone-out/reduce-sheet/ceilings.csv --calibrate "short block"',
            "meltzone validate curves.toml --free contacts.bore_melt --free feeder.grip",
        ),
    },
}
for stage, commands in COMMANDS.items():
    for function, examples in commands.items():
        calls = "\n\n".join(f"  {call}" for call in examples)
        app.command(rich_help_panel=stage, epilog=f"Examples:\n\n{calls}")(function)


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
    with speaking():
        app()


if __name__ == "__main__":
    main()
