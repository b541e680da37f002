"""The commands that describe a hot end, new, check, cautions and examples; nothing slow loads before they are carried out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from meltzone.cases.commands.console import answering, overrides_of, progress, show
from meltzone.cases.commands.finish import finish
from meltzone.cases.commands.options import CaseArgument, PictureOption, SetOption
from meltzone.cases.commands.registry import command

WithOption = Annotated[
    list[str] | None,
    typer.Option(
        "--with",
        metavar="PART",
        help="Write only what is chosen: long-block, long-nozzle, sleeved-nozzle; round-block, ring-heater, two-cartridges, "
        "two-blocks, spacer; hard-tip, insert; lined-break, two-metal-break, one-piece; finned-sink, liquid-sink; boot, "
        "nozzle-cover, loose-boot. May be given several times.",
        show_default=False,
    ),
]


@command(
    "Describe",
    "meltzone new my.toml",
    "meltzone new mine.toml --like long-nozzle-brass-sleeve",
    "meltzone new mine.toml --with ring-heater --with hard-tip",
)
def new(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The file to write; it must not exist yet.", show_default=False)
    ],
    like: Annotated[
        str | None, typer.Option("--like", metavar="EXAMPLE", help="Build on this example or case.", show_default=False)
    ] = None,
    parts: WithOption = None,
    ask: Annotated[
        bool, typer.Option("--ask", help="Ask which pattern it is, and write only what was chosen.")
    ] = False,
) -> None:
    """Write a case file to begin with: every key with its meaning and its default, or only the pattern that is chosen."""
    with answering():
        from meltzone.cases.outputs.starting import new as written_to  # see the first line

        written = written_to(file, like, [*(parts or ()), *(_asked() if ask else ())])
        show(f"Written: {written}. Change it, look at it with: meltzone check {written}")


def _asked() -> list[str]:
    """Names of the answers given to the questions on the terminal; none for what is usual."""
    from meltzone.cases.inputs.patterns import QUESTIONS

    chosen = []
    for question in QUESTIONS:
        typer.echo(f"{question.words}\n  0  {question.usual}", err=True)
        for number, answer in enumerate(question.answers, 1):
            typer.echo(f"  {number}  {answer.words}", err=True)
        picked = -1
        while not 0 <= picked <= len(question.answers):
            picked = typer.prompt("answer", default=0, type=int, err=True)
        if picked:
            chosen.append(question.answers[picked - 1].name)
    return chosen


@command("Describe", "meltzone check my.toml", "meltzone check long-nozzle-wrapped-fan --out section.png")
def check(case: CaseArgument, out: PictureOption = None, override: SetOption = None) -> None:
    """Read a case and build its parts and mesh, but solve nothing: is it what I meant? Draws the section with --out."""
    with answering():
        from meltzone.cases.outputs.check import check as checked_case
        from meltzone.cases.outputs.check import page

        checked = checked_case(case, out, overrides_of(override))
        finish(lambda: page(checked), None, *([] if override else [f"Solve it: meltzone run {case}"]))


@command("Describe", "meltzone cautions short-block", 'meltzone cautions my.toml --set heater.setpoint="260 degC"')
def cautions(case: CaseArgument, override: SetOption = None) -> None:
    """Say in full what to heed with a case: materials at their hottest, heater stuck on, fumes, lead, burns, mains.

    The case is solved at its ceiling for it. Other commands name these in a line or two.
    """
    with answering() as say:
        from meltzone.cases.outputs.cautions import page
        from meltzone.cases.studies.completing import with_stuck_on
        from meltzone.cases.studies.run import sought

        with progress(say):
            result = with_stuck_on(sought(case, overrides_of(override), say))
        finish(lambda: page(result))


@command("Describe", "meltzone examples")
def examples() -> None:
    """List what is shipped, with a line each: cases, sweeps, measured files, demonstrations of weighed samples."""
    with answering():
        from meltzone.cases.outputs.examples import page

        finish(page)
