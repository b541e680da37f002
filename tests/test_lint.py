"""The code passes ruff and mypy as configured; both run here so that one command checks everything."""

from __future__ import annotations

import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def _passes(*command: str) -> None:
    done = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}{done.stderr}"


def test_ruff_finds_nothing() -> None:
    _passes("ruff", "check", ".")


def test_ruff_would_format_nothing_otherwise() -> None:
    _passes("ruff", "format", "--check", ".")


@pytest.mark.slow
def test_mypy_finds_nothing() -> None:
    """The folders are type-checked as the package they become, by a link that version control leaves out."""
    link = ROOT / ".typing" / "meltzone"
    link.parent.mkdir(exist_ok=True)
    with suppress(FileExistsError):
        link.symlink_to("..", target_is_directory=True)
    _passes("mypy")
