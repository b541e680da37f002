"""The one error that reading a file raises: where, which key and value, what was expected, what to do."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill
from typing import Any

from meltzone.cases.inputs.fields import in_case_file, number_kind
from meltzone.cases.inputs.layers import KeyPath, Layer, dotted, locate, printable, written_form
from meltzone.cases.inputs.parameters import table_model
from meltzone.cases.inputs.schema import CaseModel

_ABSENT = object()
_LAYOUT: dict[str, Any] = {
    "width": 110,
    "initial_indent": "  ",
    "subsequent_indent": " " * 12,
    "break_long_words": False,
    "break_on_hyphens": False,
}


class CaseError(Exception):
    """A case that cannot be used: str() is the whole message for the person who wrote it.

    `file` as shown, `line` (from 1) or None, dotted `key` or None, `value` as written or None, what was `expected`,
    and a `hint` what to do.
    """

    def __init__(
        self, file: str, line: int | None, key: str | None, value: str | None, expected: str, hint: str
    ) -> None:
        self.file, self.line, self.key, self.value = file, line, key, value
        self.expected, self.hint = expected, hint
        super().__init__(str(self))

    def __str__(self) -> str:
        rows = {"key": self.key, "value": self.value, "expected": self.expected, "hint": self.hint}
        where = self.file if self.line is None else f"{self.file}, line {self.line}"
        lines = [fill(f"{name + ':':<10}{printable(text)}", **_LAYOUT) for name, text in rows.items() if text]
        return "\n".join([printable(where), *lines])


def at_key(
    layers: Sequence[Layer], path: KeyPath, expected: str, hint: str, default: Any = _ABSENT, value: str | None = None
) -> CaseError:
    """The error for the key `path`, with file, line and value as written; `default` [SI] is shown where it is not, `value` even
    where it is.
    """
    key = dotted(path)
    place = locate(layers, path)
    if place is not None:
        return CaseError(place.file, place.line, key, value or written_form(place.written), expected, hint)
    files = [layer for layer in layers if layer.text] or list(layers)  # an override has set something else
    above = [found for depth in range(len(path) - 1, 0, -1) if (found := locate(files, path[:depth])) is not None]
    file, line = (above[0].file, above[0].line) if above else (files[0].label, None)
    value = value if default is _ABSENT else f"{_default_form(path, default)} (the default, not written in the case)"
    return CaseError(file, line, key, value, expected, hint)


def _default_form(path: KeyPath, value: Any) -> str:
    model = CaseModel if len(path) < 2 else table_model(str(path[0])) or CaseModel
    field = model.model_fields.get(str(path[-1]))
    kind = None if field is None else number_kind(field)
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return in_case_file(value, kind) if kind is not None and is_number else written_form(value)
