"""How every verb is carried out on the command line: found, written into a folder where one is asked for, and shown."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from meltzone.cases.commands.console import Speaker, progress
from meltzone.cases.commands.finish import finish, finish_as_json

if TYPE_CHECKING:
    from meltzone.cases.outputs.files import Files
    from meltzone.cases.outputs.page import Page

Found = TypeVar("Found")


class Shown(Protocol):
    """The module of a verb in outputs: the names of its files, what is in them, and what is printed."""

    @property
    def OURS(self) -> tuple[str, ...]:
        """Names of its files, the record first."""

    def record(self, found: Any, /) -> Any:
        """What `--json` prints."""

    def page(self, found: Any, /) -> Page:
        """What is shown."""

    def files(self, found: Any, folder: Path, /) -> Files:
        """What goes into `folder`."""


def carry_out(
    say: Speaker,
    find: Callable[[], Found],
    shown: Shown,
    folder: Path | None,
    reads: Iterable[Path] = (),
    as_json: bool = False,
) -> Found:
    """What `find` finds, its files in `folder`, which is tried before it, and its page or its record on stdout.

    Nothing of `reads` is written over. Raises CaseError.
    """
    from meltzone.cases.outputs.files import folder_for  # noqa: PLC0415  slow to load, and few calls come so far

    with progress(say), folder_for(folder, shown.OURS, reads) as fill:
        found = find()
        fill(lambda: shown.files(found, folder or Path()))
    if as_json:
        finish_as_json(shown.record(found))
    else:
        finish(lambda: shown.page(found), folder)
    return found
