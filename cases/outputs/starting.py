"""A case file to begin with, written where none is yet."""

from __future__ import annotations

import os
from pathlib import Path

from meltzone.cases.inputs.starter import starter_text
from meltzone.cases.outputs.files import check_ending
from meltzone.cases.outputs.writing import staged_file


def new(path: str | os.PathLike[str], like: str | None = None) -> Path:
    """Write a commented case file to begin with, built on the example `like`; raises CaseError, also if `path` exists."""
    text = starter_text(like)
    check_ending(Path(path), f"output {path}", "a case file", ".toml")
    with staged_file(Path(path), overwrite=False) as temporary:
        temporary.write_text(text, encoding="utf-8")
    return Path(path)
