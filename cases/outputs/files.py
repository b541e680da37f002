"""The files of a verb, all of them or none: texts, pictures, and whatever else knows how to write itself."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from meltzone.cases.outputs.figures import save
from meltzone.cases.outputs.plain_text import ENCODING_FAULTS
from meltzone.cases.outputs.writing import staged_folder

if TYPE_CHECKING:
    from matplotlib.figure import Figure

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


def write(folder: Path, files: Files, ours: Sequence[str]) -> None:
    """Write `files`, by their names, into `folder`; what is None is left out. Raises CaseError as `staged_folder` does."""
    with folder_for(folder, ours) as put:
        put(lambda: files)


def _fill(folder: Path, files: Files) -> None:
    for name, content in files.items():
        place = folder / name
        if isinstance(content, str):
            place.write_text(content, encoding="utf-8", errors=ENCODING_FAULTS, newline="\n")
        elif callable(content):
            content(place)
        elif content is not None:
            save(content, place)
