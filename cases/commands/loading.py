"""Keeps modules that no number needs from loading with the libraries that ask for them by name."""

from __future__ import annotations

import sys
from importlib import import_module
from importlib.util import LazyLoader, find_spec, module_from_spec

# A Fortran compiler's front end, a test framework, masked arrays, random numbers, polynomials, Fourier transforms, what is
# installed: a fifth of a command's loading
NEVER_NEEDED = (
    "importlib.metadata",
    "numpy.f2py",
    "numpy.fft",
    "numpy.ma",
    "numpy.polynomial",
    "numpy.random",
    "numpy.testing",
)


def spare_what_numbers_never_need() -> None:
    """Have the `NEVER_NEEDED` modules stand there without being loaded; they load where something is asked of them."""
    for name in NEVER_NEEDED:
        above, _, part = name.rpartition(".")
        parent = import_module(above)
        spec = None if name in sys.modules else find_spec(name)
        if spec is None or spec.loader is None:
            continue
        spec.loader = LazyLoader(spec.loader)
        module = module_from_spec(spec)
        sys.modules[name] = module
        setattr(parent, part, module)
        spec.loader.exec_module(module)
