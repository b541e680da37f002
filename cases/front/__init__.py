"""The front door: `import meltzone as mz` offers the verbs as plain functions, each loaded when it is first asked for."""

from __future__ import annotations

from importlib import import_module
from importlib.metadata import version
from typing import Any

VERBS = {
    "ceiling": "run",
    "check": "run",
    "new": "run",
    "run": "run",
    "solve": "run",
    "compare": "compare",
    "explain": "explain",
}
__all__ = [*VERBS, "load_case"]  # noqa: PLE0604  names that `__getattr__` finds


def __getattr__(name: str) -> Any:
    """The verb `name`, or the version; raises AttributeError."""
    if name == "__version__":
        return version("meltzone")
    if name in VERBS:
        return getattr(import_module(f"meltzone.cases.studies.{VERBS[name]}"), name)
    if name == "load_case":
        return import_module("meltzone.cases.inputs.reader").load_case
    raise AttributeError(f"module 'meltzone' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*__all__, "__version__"])
