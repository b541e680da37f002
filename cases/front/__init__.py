"""The front door: `import meltzone as mz` offers the verbs as plain functions, each loaded when it is first asked for.

Verbs that write files on the command line take a folder for them as `out`; what they return shows itself in notebooks.
"""

from __future__ import annotations

import warnings
from functools import wraps
from importlib import import_module
from inspect import signature
from pathlib import Path
from typing import Any

# Where each name lives below meltzone; verbs with files, besides, the module of outputs that makes them
NAMES = {
    "Asked": "cases.studies.transient:Asked",
    "Motion": "cases.studies.machine.ring:Motion",
    "TrialAsked": "cases.studies.machine.trial:TrialAsked",
    "Wanted": "cases.studies.bench.plan:Wanted",
    "ceiling": "cases.studies.run:ceiling",
    "bibliography": "cases.outputs.citing:bibliography",
    "check": "cases.outputs.check:check",
    "dataset": "cases.outputs.arrays:dataset",
    "frame": "cases.outputs.arrays:frame",
    "load_case": "cases.inputs.reader:load_case",
    "load_samples": "cases.studies.bench.samples_csv:load_samples",
    "material_names": "materials.library:names",
    "load_measurements": "cases.studies.material.read:load_measurements",
    "new": "cases.outputs.starting:new",
    "new_case": "cases.inputs.reader:new_case",
    "plan": "cases.studies.bench.plan:plan",
    "polymer": "materials.library:polymer",
    "solid": "materials.library:solid",
    "sweep": "cases.studies.sweep.run:run_sweep",
    "table": "cases.outputs.arrays:table",
}
VERBS = {
    "compare": ("cases.studies.compare:compare", "cases.outputs.compare"),
    "creep": ("cases.studies.creep:creep", "cases.outputs.creep"),
    "curve": ("cases.studies.delivery:delivery", "cases.outputs.curve"),
    "design": ("cases.studies.design.run:design", "cases.outputs.design"),
    "explain": ("cases.studies.explain:explain", "cases.outputs.explain"),
    "material": ("cases.studies.material.make:material", "cases.outputs.material"),
    "reduce": ("cases.studies.bench.reduce:reduce", "cases.outputs.reduce"),
    "run": ("cases.studies.run:run", "cases.outputs.result"),
    "solve": ("cases.studies.run:solve", "cases.outputs.result"),
    "transient": ("cases.studies.transient:transient", "cases.outputs.transient"),
    "trial": ("cases.studies.machine.trial:trial", "cases.outputs.trial"),
    "validate": ("cases.studies.validation.validate:validate", "cases.outputs.validate"),
}
RENAMED: dict[str, str] = {}  # names that go, with what takes their place; two minor versions long
__all__ = [*NAMES, *VERBS]  # noqa: PLE0604  names that `__getattr__` finds


def __getattr__(name: str) -> Any:
    """The verb `name`, or the version; warns of a name that goes, raises AttributeError."""
    if name == "__version__":
        from importlib.metadata import version  # slow to load

        return version("meltzone")
    if name in RENAMED:
        told = f"meltzone.{name} is now meltzone.{RENAMED[name]} and will go"
        warnings.warn(told, DeprecationWarning, stacklevel=2)
        name = RENAMED[name]
    if name not in NAMES and name not in VERBS:
        raise AttributeError(f"module 'meltzone' has no attribute {name!r}")
    _module("cases.outputs.notebook")
    if name in NAMES:
        return _found(NAMES[name])
    place, shown = VERBS[name]
    return _with_files(_found(place), shown)


def _module(name: str) -> Any:
    return import_module(f"meltzone.{name}")


def _found(place: str) -> Any:
    module, _, name = place.partition(":")
    return getattr(_module(module), name)


def _with_files(verb: Any, shown: str) -> Any:
    """The `verb` with a folder `out` for the files that the module `shown` makes."""

    @wraps(verb)
    def carried(*args: Any, out: Any = None, **kwargs: Any) -> Any:
        folder = None if out is None else Path(out)
        find = lambda: verb(*args, **kwargs)  # noqa: E731
        report = signature(verb).bind(*args, **kwargs).arguments.get("report")
        return _module("cases.outputs.files").carried_out(find, _module(shown), folder, report=report)

    return carried


def __dir__() -> list[str]:
    return sorted([*__all__, "__version__"])
