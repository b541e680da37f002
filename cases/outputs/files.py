"""The files of a verb, all of them or none: texts, pictures, and whatever else knows how to write itself."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.outputs.figures import FORMATS, save
from meltzone.cases.outputs.plain_text import ENCODING_FAULTS
from meltzone.cases.outputs.writing import staged_file, staged_folder

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
        expected = f"a picture's name ending in {', '.join(FORMATS)}"
        raise CaseError(
            told, None, None, None if told.startswith("output") else str(path), expected, f"{path.stem}.png will do."
        )
