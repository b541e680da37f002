"""Files that people write: found by path or as one that comes with the program, read as bytes, as text, as TOML."""

from __future__ import annotations

import codecs
import re
import stat
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from importlib.resources import files
from pathlib import Path

from meltzone.cases.inputs.errors import CaseError, at_key
from meltzone.cases.inputs.layers import Layer, written_form
from meltzone.materials.errors import nearest

LARGEST_FILE = 1_000_000  # bytes; a case is a page or two of text
DEEPEST = 8  # tables within tables


@dataclass(frozen=True)
class Source:
    """A file: where it is read from, and how it is called in messages."""

    path: Path
    label: str


@dataclass(frozen=True)
class Shelf:
    """Files that come with the program: in the `place` within the package, with an `ending`; `one` and `many` name them."""

    place: str
    ending: str
    one: str
    many: str

    @cached_property
    def folder(self) -> Path:
        """The folder that holds them."""
        return Path(str(files("meltzone.cases"))) / self.place

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Their names, sorted."""
        return tuple(sorted(path.stem for path in self.folder.glob(f"*{self.ending}")))

    def source(self, name: str) -> Source:
        """The file called `name`."""
        return Source(self.folder / f"{name}{self.ending}", f"{name} (shipped {self.one})")

    def hint(self, name: str) -> str:
        """Which there are, those most like `name` if some are."""
        return f"Shipped {self.many}: {', '.join(nearest(name, self.names, 4) or self.names)}."


def look_up(written: str, shelf: Shelf | None, folder: Path = Path()) -> Source | None:
    """The file `written`, from `folder`, or the one of that name on the `shelf` where no file is called so, or None."""
    path = folder / written
    try:
        mode = path.stat().st_mode
    except (OSError, ValueError):  # ValueError: a null byte in the name
        mode = None
    if shelf is not None and written in shelf.names and (mode is None or stat.S_ISDIR(mode)):
        return shelf.source(written)
    if mode is None:
        return None
    if shelf is not None and path.parent == shelf.folder:
        return shelf.source(path.stem)
    return Source(path, str(path))


def found(written: str, shelf: Shelf | None, expected: str, hint: str = "", folder: Path = Path()) -> Source:
    """The same; raises CaseError, with what is `expected` and a `hint` besides the names most alike, where there is none."""
    source = look_up(written, shelf, folder)
    if source is None:
        hint = " ".join(filter(None, (nearest_files(written, shelf, folder), hint)))
        raise CaseError(written_form(written)[1:-1], None, None, None, expected, hint)
    return source


def nearest_files(written: str, shelf: Shelf | None, folder: Path = Path()) -> str:
    """A hint: files beside the one that is not there whose names are like it, and those on the `shelf`."""
    path, ending = folder / written, ".toml" if shelf is None else shelf.ending
    try:
        beside = [entry.name for entry in path.parent.iterdir() if entry.suffix == ending]
    except (OSError, ValueError):
        beside = []
    close = [str(path.parent / name) for name in nearest(path.name, beside, 3)]
    hint = f"Nearest files: {', '.join(close)}." if close else ""
    return " ".join(filter(None, (hint, "" if shelf is None else shelf.hint(path.stem))))


def read_layer(source: Source) -> Layer:
    """The TOML file of `source` as text and data; raises CaseError where it is none that a case may be."""
    text = _decoded(read_bytes(source), source.label)
    try:
        data = tomllib.loads(text)
    except RecursionError as error:
        raise _too_deep(source.label) from error
    except ValueError as error:  # TOMLDecodeError, or int() refusing thousands of digits
        raise _syntax_error(source.label, text, str(error)) from error
    if _depth_exceeds(data, DEEPEST):
        raise _too_deep(source.label)
    layer = Layer(source.label, text, data)
    for path in _too_long_integers(data, ()):
        raise at_key([layer], path, "a whole number of at most 64 bits", "TOML knows no larger ones.")
    return layer


def _too_long_integers(value: object, path: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    """Keys that hold a whole number beyond 64 bits, which TOML does not foresee and floats may not hold."""
    if isinstance(value, dict):
        for name, item in value.items():
            yield from _too_long_integers(item, (*path, name))
    elif isinstance(value, list):
        for item in value:
            yield from _too_long_integers(item, path)
    elif isinstance(value, int) and not -(2**63) <= value < 2**63:
        yield path


def read_bytes(source: Source) -> bytes:
    """The content of the ordinary file of `source`, up to 1 MB; raises CaseError."""
    label = source.label
    try:
        status = source.path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise CaseError(label, None, None, None, "a case file, not a folder", "Name the file inside it.")
        if not stat.S_ISREG(status.st_mode):
            raise CaseError(label, None, None, None, "an ordinary file", "Pipes and devices cannot be read as cases.")
        if status.st_size > LARGEST_FILE:
            size = f"{status.st_size} bytes"
            raise CaseError(label, None, None, size, "a case file below 1 MB", "This does not look like a case file.")
        return source.path.read_bytes()
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise CaseError(label, None, None, None, "a readable file", f"The system says: {reason}.") from error


def _decoded(raw: bytes, label: str) -> str:
    marks = (codecs.BOM_UTF8, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
    if raw.startswith(marks):
        hint = "Save it again as plain UTF-8; the editor calls it 'UTF-8' or 'UTF-8 without BOM'."
        raise CaseError(label, 1, None, "a byte order mark", "UTF-8 text without a byte order mark", hint)
    try:
        return raw.decode("utf-8").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        hint = "Save it again as UTF-8, or replace the character on this line."
        raise CaseError(label, line, None, f"byte 0x{raw[error.start]:02x}", "UTF-8 text", hint) from error


def _syntax_error(label: str, text: str, message: str) -> CaseError:
    found = re.search(r"\(at line (\d+), column (\d+)\)", message)
    line = int(found.group(1)) if found else (text.count("\n") + 1 if "end of document" in message else None)
    column = f" at column {found.group(2)}" if found else ""
    if "digits" in message:
        message = "A whole number has thousands of digits"
    reason = re.sub(r"\s*\(at .*\)$", "", message.splitlines()[0] if message else "no reason given")
    hint = f'{reason}{column}. Text and values with a unit stand in quotes: setpoint = "210 degC".'
    return CaseError(label, line, None, None, "a valid TOML file", hint)


def _too_deep(label: str) -> CaseError:
    return CaseError(
        label, None, None, None, f"at most {DEEPEST} tables or lists within one another", "A case needs three."
    )


def _depth_exceeds(data: object, limit: int) -> bool:
    level = [data]
    for _ in range(limit + 1):
        level = [item for part in level for item in _children(part)]
        if not level:
            return False
    return True


def _children(part: object) -> list[object]:
    if isinstance(part, dict):
        return list(part.values())
    return list(part) if isinstance(part, list) else []
