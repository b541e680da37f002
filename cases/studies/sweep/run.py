"""A sweep of ceilings from its file to its results: on all cores or a cluster, resumed where it was interrupted."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Generator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.studies.results import CUBIC_MM
from meltzone.cases.studies.sweep import pool
from meltzone.cases.studies.sweep.plan import Sweep
from meltzone.cases.studies.sweep.read import load_sweep
from meltzone.cases.studies.sweep.store import Row, opened, rows_of
from meltzone.cases.studies.sweep.work import Outcome, findings_of, own_mesh_ceiling
from meltzone.cases.studies.versions import versions
from meltzone.materials.limits import Finding

MOST_WORKERS = 512
FLOW = "flow_mm3_per_s"  # name of the column of ceilings


@dataclass(frozen=True)
class Progress:
    """How far a sweep is: `done` of `total` points, `before` of them by earlier calls, `without` a ceiling."""

    done: int
    total: int
    before: int
    without: int


ProgressReporter = Callable[[Progress], None]


@dataclass(frozen=True)
class Swept:
    """A finished sweep: what it was, its results file and the rows in it.

    `mesh_error` is the share by which the highest ceiling lies off that on the case's own mesh [-], None without a ceiling.
    """

    sweep: Sweep
    path: Path
    rows: tuple[Row, ...]
    mesh_error: float | None = None

    @property
    def found(self) -> list[Row]:
        """The rows with a ceiling."""
        return [row for row in self.rows if row["status"] == "found"]

    @property
    def solved(self) -> list[Row]:
        """The rows that say how much flows, be it nothing."""
        return [row for row in self.rows if row["status"] in ("found", "no ceiling")]

    @property
    def counts(self) -> Counter[str]:
        """How many points have which status."""
        return Counter(row["status"] for row in self.rows)

    @property
    def findings(self) -> list[Finding]:
        """What the temperatures of all points mean for the materials."""
        return [finding for row in self.rows for finding in findings_of(row["findings"] or "[]")]


def run_sweep(
    file: str | Path | Sweep,
    out: str | Path,
    workers: int | None = None,
    scheduler: str | None = None,
    report: ProgressReporter | None = None,
) -> Swept:
    """Find the ceiling at every point of the sweep `file` and keep them in the SQLite file `out`.

    Points that `out` holds already are not solved again. Without `scheduler` there are `workers` processes, by default one
    for each core; with it, the address of a running Dask scheduler, the points go to that cluster. A point that fails is
    recorded with its reason. Raises CaseError for a fault of the files, before any solve. Scripts that call this need
    the usual guard, if __name__ == "__main__", since worker processes read them again.
    """
    sweep = file if isinstance(file, Sweep) else load_sweep(file)
    if workers is not None and not 1 <= workers <= MOST_WORKERS:
        expected = f"a number of processes from 1 to {MOST_WORKERS}"
        raise CaseError("--workers", None, None, str(workers), expected, "Leave it out for one per core.")
    path = Path(out)
    with opened(path, sweep, versions()) as store:
        counts = Counter(store.counts())
        total, waiting = sum(counts.values()), store.waiting()
        before = total - len(waiting)
        without = before - counts["found"]
        done = before
        _say(report, done, total, before, without)
        with closing(_outcomes(sweep, waiting, workers, scheduler)) as outcomes:
            for number, outcome in outcomes:
                store.keep(number, outcome)
                done += 1
                without += outcome.status != "found"
                _say(report, done, total, before, without)
    rows = tuple(rows_of(path))
    return Swept(sweep, path, rows, _mesh_error(sweep, rows))


def _mesh_error(sweep: Sweep, rows: Sequence[Row]) -> float | None:
    """The highest ceiling over that on the case's own mesh, less one [-]."""
    highest = max((row for row in rows if row["status"] == "found"), key=lambda row: row[FLOW], default=None)
    if highest is None:
        return None
    own = CUBIC_MM * own_mesh_ceiling(sweep.base, json.loads(highest["overrides"]))
    return highest[FLOW] / own - 1.0 if own else None


def _say(report: ProgressReporter | None, done: int, total: int, before: int, without: int) -> None:
    if report is not None:
        report(Progress(done, total, before, without))


def _outcomes(
    sweep: Sweep, waiting: Sequence[pool.Point], workers: int | None, scheduler: str | None
) -> Generator[tuple[int, Outcome], None, None]:
    if scheduler is None:
        return pool.outcomes(sweep.base, waiting, workers or pool.cores())
    from meltzone.cases.studies.sweep import cluster  # only with a cluster

    return cluster.outcomes(sweep.base, waiting, scheduler)
