"""Versions of everything that the numbers depend on, for records and results files."""

from __future__ import annotations

import platform
from importlib.metadata import version


def versions() -> dict[str, str]:
    """Version of the program, of the libraries that carry the numbers, and of Python."""
    names = ("meltzone", "numpy", "scipy", "scikit-fem")
    return {name: version(name) for name in names} | {"python": platform.python_version()}
