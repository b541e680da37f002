"""From a path or the name of a shipped example to a checked case: reading, extending, overriding."""

from __future__ import annotations

import codecs
import os
import re
import stat
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from meltzone.cases.inputs.errors import CaseError, at_key, from_validation
from meltzone.cases.inputs.layers import Layer, merge, written_form
from meltzone.cases.inputs.schema import CaseModel
from meltzone.materials.errors import nearest

LARGEST_FILE = 1_000_000  # bytes; a case is a page or two of text
DEEPEST = 8  # tables within tables
LONGEST_CHAIN = 20  # files that extend one another
MOST_FILES = 40  # of one case, with lists of files to extend


@dataclass(frozen=True, eq=False)
class Case:
    """A checked case: its `model` in SI, `name`, `file` as shown to people, and `layers`, nearest first."""

    name: str
    file: str
    model: CaseModel
    layers: tuple[Layer, ...]


@dataclass(frozen=True)
class Source:
    """A file: where it is read from, and how it is called in messages."""

    path: Path
    label: str


@lru_cache(maxsize=1)
def example_names() -> tuple[str, ...]:
    """Names of the shipped examples, sorted."""
    return tuple(sorted(path.stem for path in _examples_folder().glob("*.toml")))


def load_case(path: str | os.PathLike[str], overrides: Mapping[str, Any] | None = None) -> Case:
    """Read the case at `path`, or the shipped example of that name, with what it extends.

    `overrides` maps dotted keys to values as a file would hold them: {"heater.setpoint": "235 degC", "sleeve": False}.
    Raises CaseError, and nothing else, whatever the file holds.
    """
    source = found_source(str(path), Path(), _missing)
    return case_of(source.path.stem, source.label, _chain(source), overrides)


def case_of(name: str, file: str, chain: Sequence[Layer], overrides: Mapping[str, Any] | None = None) -> Case:
    """The checked case of the layers that `chain` holds already, nearest first, with `overrides` on top; raises CaseError."""
    layers = (*_override_layers(overrides or {}), *chain)
    try:
        model = CaseModel.model_validate(merge(layers))
    except ValidationError as error:
        raise from_validation(error, layers) from error
    return Case(name, file, model, layers)


def _override_layers(overrides: Mapping[str, Any]) -> list[Layer]:
    """One layer for each override, the last one given being the nearest."""
    layers = []
    for key, value in overrides.items():
        if key == "extends":
            raise CaseError(
                "overrides", None, key, written_form(value), "a key that can be overridden", "Name that case instead."
            )
        data: Any = value
        for part in reversed(key.split(".")):
            data = {part: data}
        layers.append(Layer(f"override {key} = {written_form(value)}", "", data))
    return layers[::-1]


def _chain(source: Source) -> list[Layer]:
    """The file of `source` and all it extends, nearest first.

    A file that several others extend comes after all of them, so that none is overruled by what it builds on.
    """
    found = _with_extended(source, ())
    last = {path: number for number, (path, _) in enumerate(found)}
    return [layer for number, (path, layer) in enumerate(found) if last[path] == number]


def _with_extended(source: Source, above: tuple[Path, ...]) -> list[tuple[Path, Layer]]:
    """File and layer of `source` and of all it extends, as often as they are named; `above` leads to `source`."""
    layer = read_layer(source)
    path = (*above, _identity(source.path))
    found = [(path[-1], layer)]
    for name in _extended_names(layer):
        following = _extended(layer, name, source.path.parent)
        circle = _identity(following.path) in path
        if circle or len(path) >= LONGEST_CHAIN:
            hint = f"{following.label} closes a circle." if circle else "Merge some of them."
            raise at_key([layer], ["extends"], f"a chain of at most {LONGEST_CHAIN} files, none of them twice", hint)
        found += _with_extended(following, path)
        if len(found) > MOST_FILES:
            raise at_key([layer], ["extends"], f"at most {MOST_FILES} files in all", "Merge some of them.")
    return found


def _extended_names(layer: Layer) -> list[str]:
    """What `extends` names, nearest first."""
    wanted = layer.data.get("extends")
    names = [] if wanted is None else wanted if isinstance(wanted, list) else [wanted]
    if wanted == [] or not all(isinstance(name, str) and name.strip() for name in names):
        expected = "a file name or a shipped example's name, in quotes, or a list of them"
        raise at_key([layer], ["extends"], expected, _examples_hint(""))
    return names


def _extended(layer: Layer, wanted: str, folder: Path) -> Source:
    """The file that `layer`, in `folder`, extends under the name `wanted`."""

    def missing(_: str, path: Path) -> CaseError:
        hint = _missing("", path).hint
        if isinstance(layer.data["extends"], list):
            hint = f"There is no {written_form(wanted)}. {hint}"
        return at_key([layer], ["extends"], "a file beside this one, or the name of a shipped example", hint)

    return found_source(wanted, folder, missing)


def found_source(name: str, folder: Path, missing: Any) -> Source:
    """The file `name` in `folder`, or else the shipped example of that name; raises what `missing` makes of it."""
    path = folder / name
    try:
        mode = path.stat().st_mode
    except (OSError, ValueError):  # ValueError: a null byte in the name
        mode = None
    if name in example_names() and (mode is None or stat.S_ISDIR(mode)):
        return Source(_examples_folder() / f"{name}.toml", f"{name} (shipped example)")
    if mode is None:
        raise missing(name, path)
    if path.parent == _examples_folder():
        return Source(path, f"{path.stem} (shipped example)")
    return Source(path, str(path))


def file_or_shipped(written: str, names: Sequence[str], shipped: Source, expected: str, hint: str) -> Source:
    """The file `written`, or `shipped` where that is one of `names` and no file is called so; raises CaseError for neither."""
    path = Path(written)
    try:
        is_file, is_there = path.is_file(), path.exists()
    except (OSError, ValueError):  # ValueError: a null byte in the name
        is_file = is_there = False
    if written in names and not is_file:
        return shipped
    if not is_there:
        raise CaseError(written_form(written)[1:-1], None, None, None, expected, hint)
    return Source(path, str(path))


def _examples_folder() -> Path:
    return Path(str(files("meltzone.cases.examples")))


def _identity(path: Path) -> Path:
    return path.resolve()


def _missing(name: str, path: Path) -> CaseError:
    try:
        beside = [entry.name for entry in path.parent.iterdir() if entry.suffix == ".toml"]
    except (OSError, ValueError):
        beside = []
    close = [str(path.parent / found) for found in nearest(path.name, beside, 3)]
    hint = f"Nearest files: {', '.join(close)}. " if close else ""
    return CaseError(
        written_form(name)[1:-1], None, None, None, "an existing case file", hint + _examples_hint(path.stem)
    )


def _examples_hint(name: str) -> str:
    close = nearest(name, example_names(), 4) if name else []
    if close:
        return f"Shipped examples of a similar name: {', '.join(close)}."
    return f"Shipped examples: {', '.join(example_names())}."


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
