"""The command line: the program, and its commands by the stage of the job."""

from __future__ import annotations

import gc
import os
from typing import Annotated

import typer

from meltzone.cases.commands import (
    archive,
    bench,
    compare,
    creep,
    curve,
    describe,
    design,
    explain,
    explore,
    materials,
    predict,
    report,
    sweep,
    transient,
    trial,
    validate,
)
from meltzone.cases.commands.console import OK, speaking
from meltzone.cases.commands.registry import COMMANDS

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

# Where commands stand, in the order of their use
FAMILIES = (
    describe,
    materials,
    predict,
    curve,
    transient,
    creep,
    report,
    compare,
    explain,
    explore,
    design,
    sweep,
    bench,
    archive,
    trial,
    validate,
)
for family in FAMILIES:
    for each in COMMANDS:
        if each.function.__module__ == family.__name__:
            calls = "\n\n".join(f"  {call}" for call in each.examples)
            app.command(rich_help_panel=each.stage, epilog=f"Examples:\n\n{calls}")(each.function)


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
