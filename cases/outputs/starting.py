"""A case file to begin with, written where none is yet."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.patterns import pattern_text
from meltzone.cases.inputs.starter import starter_text
from meltzone.cases.outputs.files import check_ending
from meltzone.cases.outputs.writing import staged_file


def new(path: str | os.PathLike[str], like: str | None = None, parts: Sequence[str] = ()) -> Path:
    """Write a commented case file to begin with, built on the example `like`; raises CaseError, also if `path` exists.

    With `parts`, names of answers such as "ring-heater", it holds only what they choose.
    """
    if like is not None and parts:
        raise CaseError(
            "--with", None, None, parts[0], "either --like or --with", "A pattern is built on the short block."
        )
    text = pattern_text(parts) if parts else starter_text(like)
    check_ending(Path(path), f"output {path}", "a case file", ".toml")
    with staged_file(Path(path), overwrite=False) as temporary:
        temporary.write_text(text, encoding="utf-8")
    return Path(path)
