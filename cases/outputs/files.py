"""The files of a verb, all of them or none: texts, pictures, and whatever else knows how to write itself."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.outputs.figures import FORMATS, save
from meltzone.cases.outputs.guard import guard
from meltzone.cases.outputs.plain_text import ENCODING_FAULTS
from meltzone.cases.outputs.writing import staged_file, staged_folder

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from meltzone.cases.outputs.page import Page

DATA_BASES = (".sqlite", ".sqlite3", ".db")  # endings of their names
Found = TypeVar("Found")
Files = Mapping[str, "str | Figure | Callable[[Path], None] | None"]


@contextmanager
def folder_for(
    folder: Path | None, ours: Sequence[str], reads: Iterable[Path] = ()
) -> Iterator[Callable[[Callable[[], Files]], None]]:
    """A function that takes what makes the files for `folder`, which is tried before the block: see `staged_folder`.

    Without a folder nothing is made. Raises CaseError.
    """
    if folder is None:
        yield lambda make: None
        return
    with staged_folder(folder, ours, reads) as temporary:
        yield lambda make: _fill(temporary, make())


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


def carried_out(
    find: Callable[[], Found],
    shown: Shown,
    folder: Path | None,
    reads: Iterable[Path] = (),
    report: Callable[[str], None] | None = None,
) -> Found:
    """What `find` finds, and its files in `folder`, which is tried before it; without a folder nothing is written.

    Nothing of `reads` is written over; `report` is told when files are made. Raises CaseError.
    """
    with folder_for(folder, shown.OURS, reads) as fill:
        found = find()
        if folder is not None and report is not None:
            report("pictures")
        fill(lambda: shown.files(found, folder or Path()))
    return found


def write_table(path: Path, text: str, reads: Iterable[Path] = ()) -> None:
    """Write the comma separated `text` to `path` in UTF-8; raises CaseError as `staged_file` does, and for another ending."""
    check_table(path)
    write_text(path, text, reads)


def write_text(path: Path, text: str, reads: Iterable[Path] = ()) -> None:
    """Write `text` to `path` in UTF-8; raises CaseError as `staged_file` does."""
    with staged_file(path, reads=reads) as temporary:
        put_text(temporary, text)


def put_text(place: Path, text: str) -> None:
    """Write `text` to `place` in UTF-8, what it cannot hold as question marks."""
    place.write_text(text, encoding="utf-8", errors=ENCODING_FAULTS, newline="\n")


def _fill(folder: Path, files: Files) -> None:
    for name, content in files.items():
        place = folder / name
        if isinstance(content, str):
            put_text(place, content)
        elif callable(content):
            content(place)
        elif content is not None:
            save(content, place)


def draw(path: Path, make: Callable[[], Figure], reads: Iterable[Path] = ()) -> None:
    """Write the figure that `make` gives to `path`; raises CaseError for an unknown ending or a place not to be written."""
    check_picture(path, f"output {path}")
    with staged_file(path, reads=reads) as temporary:
        save(make(), temporary)


def check_picture(path: Path, told: str) -> None:
    """Raise CaseError, with `told` as its place, unless the ending of `path` is that of a picture."""
    if path.suffix.lower() not in FORMATS:
        raise _other_ending(path, told, f"a picture's name ending in {', '.join(FORMATS)}", ".png")


def check_ending(path: Path, told: str, what: str, *endings: str) -> None:
    """Raise CaseError, with `told` as its place, for a name that promises something else than `what` is written.

    A name without an ending promises nothing.
    """
    if path.suffix and path.suffix.lower() not in endings:
        raise _other_ending(path, told, f"the name of {what}, ending in {' or '.join(endings)}", endings[0])


def check_table(path: Path, reads: Iterable[Path] = ()) -> None:
    """Raise CaseError for a name that promises something else than comma separated values, or must not be written over."""
    guard(path, reads)
    check_ending(path, f"output {path}", "a table of comma separated values", ".csv")


def _other_ending(path: Path, told: str, expected: str, usual: str) -> CaseError:
    value = None if told.startswith("output") else str(path)
    return CaseError(told, None, None, value, expected, f"{path.stem}{usual} will do.")
