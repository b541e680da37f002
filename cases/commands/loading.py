"""Keeps parts of numpy that no number needs from loading with scipy, which asks for all of numpy by name."""

from __future__ import annotations

import sys
from importlib.util import LazyLoader, find_spec, module_from_spec

NEVER_NEEDED = (
    "f2py",
    "testing",
)  # a Fortran compiler's front end and a test framework: a tenth of a command's loading


def spare_what_numbers_never_need() -> None:
    """Have the `NEVER_NEEDED` parts of numpy stand there without being loaded; they load where something is asked of them."""
    import numpy

    for part in NEVER_NEEDED:
        name = f"numpy.{part}"
        spec = None if name in sys.modules else find_spec(name)
        if spec is None or spec.loader is None:
            continue
        spec.loader = LazyLoader(spec.loader)
        module = module_from_spec(spec)
        sys.modules[name] = module
        setattr(numpy, part, module)
        spec.loader.exec_module(module)
