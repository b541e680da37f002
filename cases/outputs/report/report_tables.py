"""What the terminal says beside a written report: the answer, what limits it, warnings and cautions."""

from __future__ import annotations

from rich.console import Group
from rich.text import Text

from meltzone.cases.outputs.tables import HEADING, QUIET, cautions, spaced, warnings
from meltzone.cases.studies.explain import Explained


def answer(explained: Explained) -> Group:
    """The answer in two sentences, with what must stand beside it."""
    result = explained.result
    text = Text.assemble((result.title, HEADING), "\n", (result.case.file, QUIET), "\n\n")
    if result.flow_ceiling is not None:
        number = (f"{result.flow_ceiling:.1f} mm³/s", "bold green")
        text.append_text(Text.assemble("Flow ceiling ", number, f", {result.governs} governs\n"))
    text.append(explained.bottleneck)
    return spaced([text, warnings([*result.warnings, *explained.notes]), cautions(result.safety)])
