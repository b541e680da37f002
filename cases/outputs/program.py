"""Programs for the machine as files: what must be true of the machine and what to heed on top, then line by line."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from textwrap import wrap

from meltzone.cases.inputs.seal import sealed
from meltzone.cases.outputs.files import check_ending, put_text
from meltzone.cases.outputs.plain_text import printable
from meltzone.cases.outputs.writing import staged_file
from meltzone.cases.studies.cautions import BURNS, cautions_of, hottest_points, without_deference
from meltzone.cases.studies.machine.limits import BEYOND, MachineLimits
from meltzone.cases.studies.machine.words import MEANING, Line
from meltzone.cases.studies.results import CUBIC_MM, Result
from meltzone.materials.limits import DEFERENCE
from meltzone.materials.units import TEMPERATURE, in_shown

ENDINGS = (".gcode", ".gco", ".g")
WIDTH = 100
NEVER_ALONE = (
    "This program heats a hot end and feeds molten plastic. Stay beside the machine from the first line to the last, ready to "
    "switch it off at the mains; never let it run unattended."
)
OF_THE_MACHINE = (
    "Its maker's manual counts before this text, and so do its own limits: they stay switched on (thermal run-away, least "
    "temperature for feeding, highest setpoint).",
    "A thermal cut-off that works without the controller is fitted.",
    "The room is ventilated; a metal tray, tongs, gloves and eye protection are at hand.",
    "Pauses (M0) wait for the button with the heater ON, but for those that say heater off. Whoever leaves switches off first. "
    "A machine that does not stop at M0, or takes S of G4 for anything but seconds, must not run this: try both cold.",
    "If anything smokes, jams, grinds or comes loose: switch off, let it cool, clear it cold.",
)


def program_text(title: str, true: Sequence[str], result: Result, limits: MachineLimits, lines: Iterable[Line]) -> str:
    """A program with its header: `title`, what must be `true` of the machine, cautions, limits, the words used; sealed."""
    written = list(lines)
    found = [without_deference(each) for each in cautions_of(result.problem, hottest_points(result.problem, None))]
    used = {line.word for line in written}
    hottest = math.floor(in_shown(limits.setpoint, TEMPERATURE) + 1e-6)
    within = (
        f"Never above {hottest} degC ({limits.part}) and {CUBIC_MM * limits.flow:.4g} mm3/s "
        f"({BEYOND:g} times the upper end of the predicted ceiling's band)."
    )
    header = [
        title, "", NEVER_ALONE, BURNS, *found, DEFERENCE, "", "What must be true before it starts:",
        *(f"- {each}" for each in (*true, *OF_THE_MACHINE)), "", within, "Words: "
        + "; ".join(f"{word} {meaning}" for word, meaning in MEANING.items() if word in used) + ".",
    ]  # fmt: skip
    text = [f"; {part}".rstrip() for each in header for part in (wrap(_plain(each), WIDTH) or [""])]
    return sealed("\n".join([*text, *(_plain(line.written) for line in written)]) + "\n", "; {}")


def _plain(text: str) -> str:
    """Text that every machine's display and reader takes."""
    return printable(text.replace("³", "3").replace("°", "")).encode("ascii", "replace").decode("ascii")


@contextmanager
def program_for(path: Path | None, reads: Iterable[Path] = ()) -> Iterator[Callable[[Callable[[], str]], None]]:
    """A function that takes what makes the program for `path`, which is tried before the block; raises CaseError.

    Without a path nothing is written.
    """
    if path is None:
        yield lambda make: None
        return
    check_ending(path, f"output {path}", "a program", *ENDINGS)
    with staged_file(path, reads=reads) as temporary:
        yield lambda make: put_text(temporary, make())
