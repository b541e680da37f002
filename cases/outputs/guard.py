"""What a command may write over: nothing that it reads, no device, and only files of the kind that it writes there itself."""

from __future__ import annotations

import stat
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.seal import edited

LOOKED_AT = 4096  # bytes at the beginning of a file
EDITABLE, LARGEST_TEXT = (
    (".csv", ".toml", ".gcode"),
    10_000_000,
)  # endings of texts that people change, and bytes looked at


@dataclass(frozen=True)
class Kind:
    """A kind of file: what it is in `words`, and whether the beginning of a file is `ours`.

    `keeps` says that who writes it has read it, and keeps what was filled in.
    """

    words: str
    ours: Callable[[bytes], bool]
    keeps: bool = False


def begins(words: str, *marks: bytes) -> Kind:
    """The kind of file that begins with one of `marks`, in small or capital letters."""
    return Kind(words, lambda head: head.lower().startswith(marks))


def table(first: str = "") -> Kind:
    """Comma separated values; with `first`, those whose first column is headed so."""

    def ours(head: bytes) -> bool:
        lines = [line for line in head.splitlines() if not line.lstrip(b'"').startswith(b"#")]
        heading = lines[0].lstrip(b"\xef\xbb\xbf").replace(b'"', b"") if lines else b""
        return b"\0" not in head and b"=" not in heading and heading.startswith(first.encode())

    return Kind("a table of comma separated values" + (f" that begins with {first}" if first else ""), ours)


CSV = table()
KINDS = {
    ".png": begins("a picture", b"\x89png"),
    ".svg": begins("a picture", b"<?xml", b"<svg"),
    ".pdf": begins("a picture", b"%pdf"),
    ".html": begins("a page", b"<!doctype html"),
    ".json": begins("a record", b"{", b"["),
    ".vtu": begins("a field", b"<"),
    ".bib": begins("a bibliography of this program", b"@software{meltzone"),
    ".pvd": begins("a series of fields", b"<"),
    ".toml": begins("a file with comments on top", b"# "),
    ".csv": CSV,
    **dict.fromkeys((".gcode", ".gco", ".g"), begins("a program with comments on top", b";")),
    ".xlsx": begins("a workbook", b"pk"),
    ".ods": begins("a workbook", b"pk"),
}


def guard(path: Path, reads: Iterable[Path] = (), kind: Kind | None = None) -> None:
    """Raise CaseError where `path` must not be written: see the first line. A missing or an empty file is no hindrance.

    Without a `kind` the ending of the name decides; a file of an ending that is not known is never written over.
    """
    try:
        status = path.stat()
    except FileNotFoundError:
        return
    if not stat.S_ISREG(status.st_mode):
        raise refused(path, "the name of an ordinary file", "Pipes and devices cannot take results.")
    if any(other.exists() and other.samefile(path) for other in reads):
        raise refused(path, "another file than those that are read", "It would be written over; choose another name.")
    kind = kind or KINDS.get(path.suffix.lower())
    with path.open("rb") as file:
        head = file.read(LOOKED_AT)
        rest = file.read(LARGEST_TEXT) if path.suffix.lower() in EDITABLE else b""
    if head and not (kind and kind.ours(head)):
        expected = f"a free name, or {kind.words} of this program" if kind else "a name that is still free"
        raise refused(path, expected, "A file of that name is something else; choose another name or remove it.")
    if not (kind and kind.keeps) and edited((head + rest).decode("utf-8", "replace")):
        hint = "What was filled in or changed there would be lost; choose another name or remove it."
        raise refused(path, "a free name, or a file that is still as this program wrote it", hint)


def files_of(*cases: Case) -> list[Path]:
    """The files that `cases` are read from."""
    return [Path(layer.label) for case in cases for layer in case.layers if layer.text]


def refused(path: Path, expected: str, hint: str) -> CaseError:
    """The error for an output at `path`."""
    return CaseError(f"output {path}", None, None, None, expected, hint)
