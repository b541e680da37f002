"""A Python child process, measured by the operating system: seconds on the clock and of processor, peak memory."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from dataclasses import dataclass


@dataclass(frozen=True)
class Finished:
    """What a child process took: `wall` and `processor` [s], `peak` resident memory [MiB], and what it printed."""

    code: int
    wall: float
    processor: float
    peak: float
    output: str


def measured(arguments: list[str], threads: int = 1) -> Finished:
    """Run this interpreter with `arguments` to its end, on `threads` threads of the numerical libraries."""
    count = str(threads)
    environment = os.environ | {"OMP_NUM_THREADS": count, "OPENBLAS_NUM_THREADS": count, "PYTHONWARNINGS": "ignore"}
    begun = time.perf_counter()
    child = subprocess.Popen([sys.executable, *arguments], stdout=subprocess.PIPE, env=environment, text=True)
    assert child.stdout is not None
    with child.stdout:
        output = child.stdout.read()
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    wall = time.perf_counter() - begun
    return Finished(child.returncode, wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024.0, output)
