"""Points of a sweep on all cores of this machine: spawned workers that load the solver once, one numerical thread each."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Generator, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import connection
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from meltzone.cases.studies.sweep.plan import Base
    from meltzone.cases.studies.sweep.work import Outcome

# No numbers are loaded at the top of this module: a worker reads it before it is told how many threads it may use.
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
AHEAD = 3  # points handed out for each worker, so that none waits for the parent
CRASHED = "the process ended while it solved this point, twice; was there enough memory for the mesh?"

Point = tuple[int, Mapping[str, Any]]  # its number, its values by dotted key
_base: list[Base] = []  # of a worker: set once as it begins


def cores() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def outcomes(base: Base, points: Sequence[Point], workers: int) -> Generator[tuple[int, Outcome], None, None]:
    """Number and outcome of every point, as they come. Close the iterator to stop the workers.

    A worker that dies takes its pool with it; the points under way are then tried again one by one, and the one that ends
    its process again is reported as failed.
    """
    from meltzone.cases.studies.sweep.work import Outcome  # see above

    waiting, suspects = deque(points), deque[Point]()
    while waiting or suspects:
        alone, running = bool(suspects), dict[Future[Outcome], Point]()
        pool = _pool(base, 1 if alone else min(workers, len(waiting)))
        try:
            yield from _worked_off(pool, suspects if alone else waiting, running, 1 if alone else AHEAD * workers)
        except BrokenProcessPool:
            if alone:
                yield from ((number, Outcome("failed", CRASHED)) for number, _ in running.values())
            else:
                suspects.extend(running.values())
        finally:
            pool.shutdown(cancel_futures=True)


def _worked_off(
    pool: ProcessPoolExecutor, queue: deque[Point], running: dict[Future[Outcome], Point], ahead: int
) -> Iterator[tuple[int, Outcome]]:
    """Outcomes of `queue`, of which `running` holds those under way; raises BrokenProcessPool."""
    while queue or running:
        while queue and len(running) < ahead:
            with _as_a_worker_begins():
                future = pool.submit(_find, queue[0][1])
            running[future] = queue.popleft()
        for future in wait(running, return_when=FIRST_COMPLETED).done:
            outcome = future.result()
            yield running.pop(future)[0], outcome


def _pool(base: Base, workers: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(workers, multiprocessing.get_context("spawn"), _begin, (base,))


@contextmanager
def _as_a_worker_begins() -> Iterator[None]:
    """What a new process takes over from this one: a single numerical thread, and deaf ears for Ctrl-C."""
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))
    on_main = threading.current_thread() is threading.main_thread()
    handler = signal.signal(signal.SIGINT, signal.SIG_IGN) if on_main else None
    try:
        yield
    finally:
        if on_main:
            signal.signal(signal.SIGINT, handler)
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def _begin(base: Base) -> None:
    """In a worker: leave Ctrl-C to the parent, end when the parent ends, keep the base case."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _base[:] = [base]


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os._exit(1)


def _find(overrides: Mapping[str, Any]) -> Outcome:
    """In a worker: solve a point and let go of its arrays, which refer to one another in circles.

    What was loaded before the first point is left out of the search for such circles; so it takes no time.
    """
    from meltzone.cases.studies.sweep.work import outcome_of  # see above

    if not gc.get_freeze_count():
        gc.freeze()
    outcome = outcome_of(_base[0], overrides)
    gc.collect()
    return outcome
