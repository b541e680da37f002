"""Linear algebra on one thread: the matrices are small, and a second thread at them costs more than it gains."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from threadpoolctl import ThreadpoolController

ASKED = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")  # who sets one of these is left what it says


@contextmanager
def one_thread() -> Iterator[None]:
    """Within it, or within a function that it decorates, matrices are worked on by one thread, unless `ASKED` otherwise."""
    if any(name in os.environ for name in ASKED):
        yield
        return
    with _pools().limit(limits=1):
        yield


@cache
def _pools() -> ThreadpoolController:
    from threadpoolctl import ThreadpoolController  # looks for libraries that are loaded: once, and after they are

    return ThreadpoolController()
