"""The results of a sweep in one SQLite file: every point with its values, kept as it comes, through any interruption."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.studies.quantities import Quantity
from meltzone.cases.studies.sweep.plan import Sweep
from meltzone.cases.studies.sweep.work import COLUMNS, Outcome

FORM = 4  # raised when a column changes its name, its unit or its meaning
WAITING = "waiting"
_INTEGERS = ("factorisations",)
_FRESH = "Choose another --to, or remove that file to begin again."

Row = dict[str, Any]


class Store:
    """An open results file of one sweep; the only writer. Raises CaseError where the file cannot be used."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def waiting(self) -> list[tuple[int, Mapping[str, Any]]]:
        """Number and values by dotted key of the points that have no outcome yet, in order."""
        found = self._connection.execute(
            "SELECT number, overrides FROM points WHERE status = ? ORDER BY number", (WAITING,)
        )
        return [(number, json.loads(overrides)) for number, overrides in found]

    def counts(self) -> dict[str, int]:
        """How many points have which status."""
        return dict(self._connection.execute("SELECT status, count(*) FROM points GROUP BY status").fetchall())

    def keep(self, number: int, outcome: Outcome) -> None:
        """Write the outcome of a point and commit it."""
        columns = ", ".join(f"{each.name} = ?" for each in COLUMNS)
        with self._connection:
            self._connection.execute(
                f"UPDATE points SET {columns} WHERE number = ? AND status = '{WAITING}'",
                (*(each.read(outcome) for each in COLUMNS), number),
            )


@contextmanager
def opened(path: Path, sweep: Sweep, versions: Mapping[str, str]) -> Iterator[Store]:
    """The results file at `path`, made with all points of `sweep` if it is not there, else checked to be of this sweep.

    Raises CaseError for a file of anything else, and where another process is writing it.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with _locked(path), closing(sqlite3.connect(path)) as connection:
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            if _tables(connection):
                _check(path, connection, sweep, versions)
            else:
                _fill(connection, sweep, versions)
            yield Store(connection)
    except (sqlite3.Error, OSError) as error:
        raise _refused(
            path, "a file that can be written, or a name that is still free", f"{error}. {_FRESH}"
        ) from error


@contextmanager
def _locked(path: Path) -> Iterator[None]:
    """Keep a second writer out; the lock ends with the process, however that ends, and leaves reading free."""
    beside = path.with_name(f"{path.name}.lock")
    ours = not beside.exists()
    if not ours and beside.stat().st_size > 0:  # a lock that was left behind is empty
        expected = f"a name beside which {beside.name} is free"
        raise _refused(path, expected, "A file of that name is something else; choose another --to.")
    with closing(sqlite3.connect(beside, timeout=0.0, isolation_level=None)) as lock:
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            hint = "Wait for it, or choose another --to."
            raise _refused(path, "a file that no other sweep is writing", hint) from error
        try:
            yield
        finally:
            if ours:
                beside.unlink(missing_ok=True)


def _tables(connection: sqlite3.Connection) -> set[str]:
    return {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}


def _fill(connection: sqlite3.Connection, sweep: Sweep, versions: Mapping[str, str]) -> None:
    """Tables, metadata and all points, in one transaction."""
    keys = [quoted(axis.column) for axis in sweep.axes]
    kinds = ["TEXT" if axis.parameter is None else "REAL" for axis in sweep.axes]
    columns = [f"{key} {kind}" for key, kind in zip(keys, kinds, strict=True)]
    columns += [f"{each.name} {_kind(each)}" for each in COLUMNS]
    meaning = json.dumps(sweep.meaning, ensure_ascii=False)
    told = {
        "form": FORM,
        "title": sweep.title,
        "sweep": sweep.text,
        "base case": sweep.base.file,
        "columns": json.dumps([axis.column for axis in sweep.axes]),
        "meaning": meaning,
        "sha256": hashlib.sha256(meaning.encode()).hexdigest(),
        "begun": datetime.now(UTC).isoformat(timespec="seconds"),
        **{f"version of {name}": version for name, version in versions.items()},
    }
    with connection:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("CREATE TABLE metadata (key TEXT PRIMARY KEY, value TEXT)")
        connection.execute(f"CREATE TABLE points (number INTEGER PRIMARY KEY, {', '.join(columns)}, overrides TEXT)")
        connection.executemany("INSERT INTO metadata VALUES (?, ?)", [(key, str(value)) for key, value in told.items()])
        places = ", ".join("?" * (len(keys) + 3))
        connection.executemany(
            f"INSERT INTO points (number, {', '.join(keys)}, status, overrides) VALUES ({places})",
            _planned(sweep),
        )


def _planned(sweep: Sweep) -> Iterator[tuple[Any, ...]]:
    for number, values in enumerate(sweep.points(), start=1):
        shown = (axis.shown(value) for axis, value in zip(sweep.axes, values, strict=True))
        yield number, *shown, WAITING, json.dumps(sweep.overrides(values), ensure_ascii=False)


def _check(path: Path, connection: sqlite3.Connection, sweep: Sweep, versions: Mapping[str, str]) -> None:
    """Raise CaseError unless the file holds points of exactly this sweep, from this version of the program."""
    if not {"metadata", "points"} <= _tables(connection):
        raise _refused(path, "a results file of this program, or a name that is still free", _FRESH)
    told = dict(connection.execute("SELECT key, value FROM metadata").fetchall())
    now: dict[str, Any] = json.loads(json.dumps(sweep.meaning))
    then: dict[str, Any] = json.loads(told.get("meaning", "{}"))
    changed = [key for key in {**then, **now} if then.get(key) != now.get(key)]
    if changed:
        hint = f"It holds points of another sweep or base case; changed: {', '.join(changed[:6])}. {_FRESH}"
        raise _refused(path, f"results of {sweep.file} as it stands", hint)
    before, ours = told.get("version of meltzone"), versions["meltzone"]
    if told.get("form") != str(FORM) or before != ours:
        hint = f"It was begun by version {before}, this is {ours}. {_FRESH}"
        raise _refused(path, "results of one version of the program", hint)


def rows_of(path: str | Path) -> list[Row]:
    """Every point of the results file at `path` as a mapping of columns, in order; raises CaseError."""
    return _read(Path(path), "SELECT * FROM points ORDER BY number")


def _read(path: Path, query: str) -> list[Row]:
    try:
        if not path.is_file():
            raise _refused(path, "an existing results file", "Carry out the sweep first.")
        with closing(sqlite3.connect(path)) as connection:
            connection.row_factory = sqlite3.Row
            return [dict(row) for row in connection.execute(query)]
    except sqlite3.Error as error:
        raise _refused(path, "a results file of this program", f"{error}.") from error


def _kind(column: Quantity[Outcome]) -> str:
    """The type of a column in SQL."""
    if column.name in _INTEGERS:
        return "INTEGER"
    return "REAL" if column.unit else "TEXT"


def quoted(name: str) -> str:
    """`name` as an identifier of SQL."""
    return '"' + name.replace('"', '""') + '"'


def _refused(path: Path, expected: str, hint: str) -> CaseError:
    return CaseError(f"output {path}", None, None, None, expected, hint)
