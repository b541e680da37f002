"""The command line: the program, and its commands by the stage of the job."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable
from typing import Annotated

import typer

from meltzone.cases.commands.bench import plan, reduce
from meltzone.cases.commands.compare import compare
from meltzone.cases.commands.console import OK, speaking
from meltzone.cases.commands.curve import curve
from meltzone.cases.commands.describe import check, new
from meltzone.cases.commands.design import design
from meltzone.cases.commands.explain import explain
from meltzone.cases.commands.materials import materials
from meltzone.cases.commands.predict import ceiling, report, run, solve
from meltzone.cases.commands.sweep import sweep
from meltzone.cases.commands.transient import transient
from meltzone.cases.commands.validate import validate

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
        from importlib.metadata import version

        typer.echo(f"meltzone {version('meltzone')}")
        raise typer.Exit(OK)


@app.callback()
def _program(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_version, is_eager=True, show_default=False)
    ] = False,
) -> None:
    pass


# Set before numbers load. The matrices are small: a second thread at them costs ten times what it gains; who wants it says so.
# Nothing here is a plugin's business, and looking for plugins takes longer than reading a case.
DEFAULTS = {"OMP_NUM_THREADS": "1", "PYDANTIC_DISABLE_PLUGINS": "__all__"}
GARBAGE_AFTER = (
    50_000  # new objects: loading makes that many, all to stay, among which Python would look over a hundred times
)


def main() -> None:
    """The entry point of the `meltzone` command."""
    gc.set_threshold(GARBAGE_AFTER, *gc.get_threshold()[1:])
    for name, value in DEFAULTS.items():
        os.environ.setdefault(name, value)
    with speaking():
        app()


if __name__ == "__main__":
    main()
