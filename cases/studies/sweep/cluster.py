"""Points of a sweep on a Dask cluster that runs already; the only module that needs the library of that cluster."""

from __future__ import annotations

import gc
import logging
from collections.abc import Generator, Iterator, Mapping, Sequence
from importlib.metadata import version
from itertools import count
from typing import Any

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.studies.sweep.plan import Base
from meltzone.cases.studies.sweep.pool import AHEAD, Point
from meltzone.cases.studies.sweep.work import Outcome, outcome_of

PATIENCE = 10  # seconds for the scheduler to answer
TIDY = 16  # points between two searches for arrays to let go, which take a fifth of a point's time each

_solved = count(1)  # on a worker


def outcomes(base: Base, points: Sequence[Point], address: str) -> Generator[tuple[int, Outcome], None, None]:
    """Number and outcome of every point, as they come, from the cluster whose scheduler listens at `address`.

    Close the iterator to take back what is under way. Raises CaseError where there is no such cluster, or none with this
    version of the program.
    """
    if not points:
        return
    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # it logs tracebacks where a connection ends
    client = _client(address)
    try:
        _check_workers(client, address)
        yield from _worked_off(client, base, list(points), address)
    finally:
        client.close()


def _worked_off(client: Any, base: Base, points: list[Point], address: str) -> Iterator[tuple[int, Outcome]]:
    """Hand out a few points ahead, and one more for each that comes back.

    The base case, a page of text, goes with every point: what is stored on a worker is lost with it.
    """
    from distributed import as_completed  # an optional library

    def handed_out(point: Point) -> Any:
        return client.submit(_find, base, point[1], pure=False)

    ahead = AHEAD * sum(client.nthreads().values())
    numbers = {handed_out(point): point[0] for point in points[:ahead]}
    left = iter(points[ahead:])
    under_way = as_completed(list(numbers), loop=client.loop)
    for future in under_way:
        if future.status in ("cancelled", "lost"):
            raise _lost(address, "The scheduler no longer answers")
        fault = future.exception()
        yield (
            numbers.pop(future),
            future.result() if fault is None else Outcome("failed", f"{type(fault).__name__}: {fault}"),
        )
        for point in left:
            another = handed_out(point)
            numbers[another] = point[0]
            under_way.add(another)
            break


def _find(base: Base, overrides: Mapping[str, Any]) -> Outcome:
    """On a worker: solve a point; now and then let go of arrays that refer to one another in circles."""
    outcome = outcome_of(base, overrides)
    if next(_solved) % TIDY == 0:
        gc.collect()
    return outcome


def _client(address: str) -> Any:
    try:
        from distributed import Client  # an optional library
    except ImportError as error:
        hint = "Install it: pip install 'meltzone[cluster]'. Without --scheduler the cores of this machine are used."
        raise CaseError("--scheduler", None, None, address, "the library distributed", hint) from error
    try:
        return Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:  # TimeoutError is an OSError
        raise _lost(address, f"{type(error).__name__}: {error}") from error


def _lost(address: str, reason: str) -> CaseError:
    expected = "the address of a Dask scheduler that answers, such as tcp://192.168.1.20:8786"
    hint = f"{reason}. What has been found so far is kept; the same command goes on."
    return CaseError("--scheduler", None, None, address, expected, hint)


def _check_workers(client: Any, address: str) -> None:
    """Every worker has this version of the program, and there is at least one."""
    try:
        found = client.run(_version)
    except ImportError as error:
        raise _unfit(address, f"a worker cannot load it: {error}") from error
    others = {other for other in found.values() if other != version("meltzone")}
    if not found:
        raise _unfit(address, "the cluster has no workers")
    if others:
        raise _unfit(address, f"workers have {', '.join(sorted(map(str, others)))}")


def _unfit(address: str, reason: str) -> CaseError:
    expected = f"workers that have meltzone {version('meltzone')} installed"
    return CaseError("--scheduler", None, None, address, expected, f"There, {reason}.")


def _version() -> str:
    return version("meltzone")
