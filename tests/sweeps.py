"""Shared by the tests of sweeps: small sweep files on the coarsest mesh, and what a row holds besides the time it took."""

from __future__ import annotations

from pathlib import Path
from typing import Any

FOUR = """
"heater.setpoint" = { from = "200 degC", to = "220 degC", steps = 2 }
nozzle.material = ["brass", "copper"]
"""


def written(folder: Path, vary: str = FOUR, more: str = "", case: str = "short-block") -> Path:
    """A sweep file in `folder`, on the coarsest mesh."""
    path = folder / "mine.toml"
    text = f'title = "Mine"\ncase = "{case}"\n\n[vary]\n"mesh.level" = [0.25]\n{vary.strip()}\n{more}'
    path.write_text(text, encoding="utf-8")
    return path


def numbers(row: dict[str, Any]) -> dict[str, Any]:
    """A row without the time it took."""
    return {name: value for name, value in row.items() if name != "seconds"}
