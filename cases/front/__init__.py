"""The front door: `import meltzone as mz` offers the verbs as plain functions, each loaded when it is first asked for."""

from __future__ import annotations

from importlib import import_module
from importlib.metadata import version
from typing import Any

from meltzone.cases.studies import notebook

VERBS = {
    "ceiling": "studies.run",
    "check": "studies.run",
    "new": "studies.run",
    "run": "studies.run",
    "solve": "studies.run",
    "compare": "studies.compare",
    "explain": "outputs.explain_files",
}
__all__ = [*VERBS, "load_case"]  # noqa: PLE0604  names that `__getattr__` finds


def _html(result: Any) -> str:
    page = import_module("meltzone.cases.outputs.report.notebook_page")  # templates load when a result is shown
    return str(page.result_html(result))


notebook.register(_html)


def __getattr__(name: str) -> Any:
    """The verb `name`, or the version; raises AttributeError."""
    if name == "__version__":
        return version("meltzone")
    if name in VERBS:
        return getattr(import_module(f"meltzone.cases.{VERBS[name]}"), name)
    if name == "load_case":
        return import_module("meltzone.cases.inputs.reader").load_case
    raise AttributeError(f"module 'meltzone' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*__all__, "__version__"])
