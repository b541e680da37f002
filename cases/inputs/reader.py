"""From a path or the name of a shipped example to a checked case: reading, extending, overriding."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from meltzone.cases.inputs.errors import CaseError, at_key
from meltzone.cases.inputs.files import Shelf, Source, found, look_up, nearest_files, read_layer
from meltzone.cases.inputs.layers import Layer, merge, written_form
from meltzone.cases.inputs.schema import CaseModel
from meltzone.cases.inputs.translate import checked

LONGEST_CHAIN = 20  # files that extend one another
MOST_FILES = 40  # of one case, with lists of files to extend


@dataclass(frozen=True, eq=False)
class Case:
    """A checked case: its `model` in SI, `name`, `file` as shown to people, and `layers`, nearest first."""

    name: str
    file: str
    model: CaseModel
    layers: tuple[Layer, ...]

    def changed(self, overrides: Mapping[str, Any], name: str | None = None) -> Case:
        """The case with `overrides` by dotted key on top of all it has, checked anew, called `name`; raises CaseError."""
        return case_of(name or self.name, self.file, self.layers, overrides)


EXAMPLES = Shelf("examples", ".toml", "example", "examples")
CASE_FILE = (
    "a case file beside this one, or the name of a shipped example"  # what is expected of a case that a file names
)


def example_names() -> tuple[str, ...]:
    """Names of the shipped examples, sorted."""
    return EXAMPLES.names


def load_case(path: str | os.PathLike[str], overrides: Mapping[str, Any] | None = None) -> Case:
    """Read the case at `path`, or the shipped example of that name, with what it extends.

    `overrides` maps dotted keys to values as a file would hold them: {"heater.setpoint": "235 degC", "sleeve": False}.
    Raises CaseError, and nothing else, whatever the file holds.
    """
    return case_from(found(str(path), EXAMPLES, "an existing case file"), overrides)


def layers_of(path: str | os.PathLike[str]) -> tuple[str, tuple[Layer, ...]]:
    """How the file at `path` is called in messages, and its layers, nearest first; unlike a case it need not be whole.

    Raises CaseError for a file that cannot be read.
    """
    source = found(str(path), EXAMPLES, "an existing case file")
    return source.label, tuple(_chain(source))


def new_case(tables: Mapping[str, Any], name: str = "case", like: str | None = None) -> Case:
    """A case without a file: `tables` as a file would hold them, on top of the case or example `like`; raises CaseError."""
    chain = () if like is None else layers_of(like)[1]
    return case_of(name, name, (Layer(name, "", dict(tables)), *chain))


def case_from(source: Source, overrides: Mapping[str, Any] | None = None) -> Case:
    """The case in the file of `source`, with what it extends and `overrides` on top; raises CaseError."""
    return case_of(source.path.stem, source.label, _chain(source), overrides)


def case_of(name: str, file: str, chain: Sequence[Layer], overrides: Mapping[str, Any] | None = None) -> Case:
    """The checked case of the layers that `chain` holds already, nearest first, with `overrides` on top; raises CaseError."""
    layers = (*_override_layers(overrides or {}), *chain)
    return Case(name, file, checked(CaseModel, merge(layers), layers), layers)


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
        raise at_key([layer], ["extends"], expected, EXAMPLES.hint(""))
    return names


def _extended(layer: Layer, wanted: str, folder: Path) -> Source:
    """The file that `layer`, in `folder`, extends under the name `wanted`."""
    found_there = look_up(wanted, EXAMPLES, folder)
    if found_there is None:
        hint = nearest_files(wanted, EXAMPLES, folder)
        if isinstance(layer.data["extends"], list):
            hint = f"There is no {written_form(wanted)}. {hint}"
        raise at_key([layer], ["extends"], CASE_FILE, hint)
    return found_there


def _identity(path: Path) -> Path:
    return path.resolve()
