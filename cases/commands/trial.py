"""The command trial with its options; nothing slow loads before it is carried out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from meltzone.cases.commands.console import answering, overrides_of
from meltzone.cases.commands.finish import carry_out
from meltzone.cases.commands.options import CaseArgument, FolderOption, JsonOption, LineOption, SetOption
from meltzone.cases.commands.registry import command

if TYPE_CHECKING:
    from meltzone.cases.studies.machine.ring import Motion

BedOption = Annotated[str, typer.Option("--bed", metavar="SIZE", help='Bed of the machine, as in "220 mm x 220 mm".')]
AccelerationOption = Annotated[
    str, typer.Option("--acceleration", metavar="ACCELERATION", help="What the machine's axes are set to.")
]
FastestOption = Annotated[str, typer.Option("--fastest", metavar="SPEED", help="The fastest that the machine prints.")]
StepOption = Annotated[
    str,
    typer.Option("--step", metavar="SHARE", help="Step of the flow from stretch to stretch, of the predicted ceiling."),
]
FailedOption = Annotated[
    str | None,
    typer.Option(
        "--failed",
        metavar="NUMBER",
        help='Read a print back: number of the first stretch that failed, from below, or "none".',
        show_default=False,
    ),
]
BenchOption = Annotated[
    str | None,
    typer.Option(
        "--bench", metavar="FILE", help="Ceilings of the bench, as meltzone reduce writes them.", show_default=False
    ),
]


@command(
    "Measure",
    'meltzone trial short-block --line "0.3 mm x 0.6 mm" --bed "220 mm x 220 mm" --out trial',
    'meltzone trial my.toml --line "0.3 mm x 0.6 mm" --bed "220 mm x 220 mm" --failed 14 --bench bench/ceilings.csv',
)
def trial(
    case: CaseArgument,
    bed: BedOption,
    line: LineOption = None,
    acceleration: AccelerationOption = "1000 mm/s^2",
    fastest: FastestOption = "200 mm/s",
    step: StepOption = "5 %",
    failed: FailedOption = None,
    bench: BenchOption = None,
    out: FolderOption = None,
    as_json: JsonOption = False,
    override: SetOption = None,
) -> None:
    """Plan a print whose flow rises in steps, as a program and a drawing, and read the first step that failed back.

    With --out, trial.gcode, trial.png, trial.csv, trial.json and report.html go to that folder. The program heats by itself:
    never leave it alone.
    """
    with answering() as say:
        from meltzone.cases.inputs.reader import load_case
        from meltzone.cases.outputs import trial as shown
        from meltzone.cases.outputs.guard import files_of
        from meltzone.cases.studies.bench.quantities import percent_option
        from meltzone.cases.studies.machine.trial import TrialAsked
        from meltzone.cases.studies.machine.trial import trial as tried
        from meltzone.cases.studies.validation.measurements import load_measured

        loaded = load_case(case, overrides_of(override, line))
        rows = load_measured(bench).rows if bench is not None else ()
        asked = TrialAsked(
            _motion(bed, acceleration, fastest), percent_option("--step", step, 0.5), _failed(failed), rows
        )
        reads = [*files_of(loaded), *([Path(bench)] if bench else [])]
        carry_out(say, lambda: tried(loaded, asked, report=say), shown, out, reads, as_json)


def _motion(bed: str, acceleration: str, fastest: str) -> Motion:
    """What the machine can do; raises CaseError."""
    from meltzone.cases.inputs.errors import CaseError
    from meltzone.cases.studies.bench.quantities import option
    from meltzone.cases.studies.machine.ring import Motion
    from meltzone.materials.units import ACCELERATION, LENGTH, SPEED

    sides = [part.strip() for part in bed.replace("×", "x").split("x")]
    if len(sides) != 2:
        expected = 'two sides, as in "220 mm x 220 mm"'
        raise CaseError("--bed", None, None, bed, expected, "Give both, each with its unit.")
    x, y = (option("--bed", side, LENGTH.within(0.02, 2.0)) for side in sides)
    return Motion(
        (x, y),
        option("--acceleration", acceleration, ACCELERATION.within(0.01, 100.0)),
        option("--fastest", fastest, SPEED.within(0.005, 2.0)),
    )


def _failed(written: str | None) -> int | None:
    """The number of the first failed stretch; raises CaseError."""
    from meltzone.cases.inputs.errors import CaseError
    from meltzone.cases.studies.machine.trial import NONE_FAILED

    if written is None or written.strip().lower() == "none":
        return None if written is None else NONE_FAILED
    if not written.strip().isdigit() or int(written) < 1:
        raise CaseError("--failed", None, None, written, 'the number of a stretch, or "none"', "Count from below.")
    return int(written)
