"""The command validate with its options; nothing slow loads before it is carried out."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from meltzone.cases.commands.console import INTERRUPTED, NO_ANSWER, answering, overrides_of, show, tell
from meltzone.cases.commands.finish import carry_out
from meltzone.cases.commands.options import DEFAULT_OUT, FolderOption, JsonOption, SetOption
from meltzone.cases.commands.registry import command

MEASURED_HELP = (
    "A file of measured ceilings, .toml or .csv, or of forces or weighed series, .toml, or the name of a shipped one such "
    "as hot-ends-in-practice."
)
FREE_HELP = (
    "A number to calibrate, a dotted key of a case; may be given several times. Without it, those that the file names, else "
    "contacts.bore_melt."
)
CALIBRATE_HELP = "Calibrate on the row of this name too, besides those that the file marks; may be given several times."

CalibrateOption = Annotated[
    list[str] | None, typer.Option("--calibrate", metavar="NAME", help=CALIBRATE_HELP, show_default=False)
]


@command(
    "Learn",
    "meltzone validate hot-ends-in-practice",
    "meltzone validate bench.csv --free polymer.flow_temperature --out bench-validated",
    'meltzone validate meltzone-out/reduce-sheet/ceilings.csv --calibrate "short block"',
    "meltzone validate curves.toml --free contacts.bore_melt --free feeder.grip",
)
def validate(
    measured: Annotated[str, typer.Argument(metavar="MEASURED", help=MEASURED_HELP, show_default=False)],
    out: FolderOption = None,
    free: Annotated[list[str] | None, typer.Option("--free", metavar="KEY", help=FREE_HELP, show_default=False)] = None,
    calibrate: CalibrateOption = None,
    as_json: JsonOption = False,
    override: SetOption = None,
) -> None:
    """Lay measured ceilings, forces and curves against predicted ones: calibrate on the rows marked so, predict the others.

    A measured file holds a list of tables, row, with case, ceiling and uncertainty, and calibrates = true where a row
    calibrates; its own values stand in set = { "heater.setpoint" = "235 degC" }.

    Writes validation.json, pictures, report.html and calibrated.toml, which other cases take in by extends. Without --out they
    go to meltzone-out/validate-NAME. Where the data cannot tell a number it is left out of calibrated.toml, and the exit code
    is 1. After an interruption the same command goes on.
    """
    with answering() as say:
        from meltzone.cases.outputs import validate as shown
        from meltzone.cases.outputs.calibrated_text import CALIBRATED, taken_in
        from meltzone.cases.studies.validation.measurements import load_measured
        from meltzone.cases.studies.validation.validate import validate as validated

        overrides, read = overrides_of(override), load_measured(measured).calibrating(calibrate or ())
        folder = out or DEFAULT_OUT / f"validate-{read.name}"
        journal = folder.with_name(f"{folder.name}-unfinished.sqlite")
        with _going_on(journal):
            find = partial(validated, read, free, overrides, say, journal)
            found = carry_out(say, find, shown, folder, [Path(read.file)], as_json)
        if not as_json and (folder / CALIBRATED).exists():
            show(taken_in((folder / CALIBRATED).as_posix()))
        _end([each.free.key for each in found.calibration.not_identifiable] if found.calibration else [])


@contextmanager
def _going_on(journal: Path) -> Iterator[None]:
    """Says what is kept where the block is interrupted."""
    try:
        yield
    except KeyboardInterrupt:
        if not journal.exists():
            raise
        tell(f"interrupted; what was solved is kept in {journal}, and the same command goes on from there")
        raise typer.Exit(INTERRUPTED) from None


def _end(unknown: list[str]) -> None:
    """Leave with the exit code for no answer where the data do not tell the numbers `unknown`."""
    if unknown:
        tell(f"no value for {', '.join(unknown)}: see above")
        raise typer.Exit(NO_ANSWER)
