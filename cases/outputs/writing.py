"""Output that is whole or not there: written beside its place first, then moved into it."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from meltzone.cases.outputs.guard import Kind, guard, refused

PREFIX = ".meltzone-"


@contextmanager
def staged_folder(folder: Path, ours: Sequence[str], reads: Iterable[Path] = ()) -> Iterator[Path]:
    """A temporary folder beside `folder`, whose content becomes that of `folder` when the block ends well.

    The place is tried before the block is entered. Whatever leaves the block early leaves `folder` as it was. A folder that
    exists keeps its other files; of `ours`, those not written this time go. Raises CaseError where nothing can be written,
    and where one of `ours` is among the files that the command `reads` or is no file of this program.
    """
    with _writable(folder, "a folder that can be written"):
        if folder.exists() and not folder.is_dir():
            raise refused(folder, "a folder, or a name that is still free", "A file of that name is in the way.")
        for name in ours:
            guard(folder / name, reads)
        with _parents(folder):
            temporary = Path(tempfile.mkdtemp(prefix=PREFIX, dir=folder.parent))
            try:
                if folder.exists():
                    Path(tempfile.mkdtemp(prefix=PREFIX, dir=folder)).rmdir()
                yield temporary
                _move(temporary, folder, ours)
            finally:
                shutil.rmtree(temporary, ignore_errors=True)


@contextmanager
def staged_file(
    path: Path, overwrite: bool = True, reads: Iterable[Path] = (), kind: Kind | None = None
) -> Iterator[Path]:
    """A temporary file beside `path` that takes its place when the block ends well; raises CaseError as above.

    What may be written over is of `kind`, or of that which the ending of the name tells.
    """
    with _writable(path, "a file that can be written"):
        if path.is_dir():
            raise refused(path, "the name of a file", "That is a folder; add a file name.")
        if path.exists() and not overwrite:
            hint = "Nothing is overwritten; choose another name or remove the file."
            raise refused(path, "a name that is still free", hint)
        guard(path, reads, kind)
        with _parents(path):
            handle, name = tempfile.mkstemp(prefix=PREFIX, suffix=path.suffix, dir=path.parent)
            os.close(handle)
            temporary = Path(name)
            try:
                yield temporary
                temporary.chmod(0o666 & ~_umask())
                temporary.replace(path)
            finally:
                temporary.unlink(missing_ok=True)


def _move(temporary: Path, folder: Path, ours: Sequence[str]) -> None:
    """Move the files; the first of `ours` goes first and comes last, so that a folder with one is of one piece."""
    if not folder.exists():
        temporary.chmod(0o777 & ~_umask())
        temporary.rename(folder)
        return
    for name in ours:
        (folder / name).unlink(missing_ok=True)
    for path in sorted(temporary.iterdir(), key=lambda path: path.name == ours[0]):
        path.replace(folder / path.name)


@contextmanager
def _parents(path: Path) -> Iterator[None]:
    """Make the folders above `path`; those made here and still empty go again where the block fails."""
    made = [parent for parent in path.parents if not parent.exists()]
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        yield
    except BaseException:
        for parent in made:
            with suppress(OSError):
                parent.rmdir()
        raise


@contextmanager
def _writable(path: Path, expected: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise refused(path, expected, f"The system says: {reason}.") from error


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
