"""How every verb is carried out on the command line: found, written into a folder where one is asked for, and shown."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from meltzone.cases.commands.console import Speaker, progress
from meltzone.cases.commands.finish import finish, finish_as_json

if TYPE_CHECKING:
    from meltzone.cases.outputs.files import Shown

Found = TypeVar("Found")


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
    from meltzone.cases.outputs.files import carried_out  # noqa: PLC0415  slow to load, and few calls come so far

    with progress(say):
        found = carried_out(find, shown, folder, reads, say)
    if as_json:
        finish_as_json(shown.record(found))
    else:
        finish(lambda: shown.page(found), folder)
    return found
