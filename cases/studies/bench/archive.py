"""Weighings of many sessions in one SQLite file: what was measured when, on which case, with which spool."""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.tolerance import Toleranced
from meltzone.cases.studies.bench.balance import Balance
from meltzone.cases.studies.bench.samples import LeftOut, MeasuredFilament, Sample, SampleFile, Series

ENDINGS = (".sqlite", ".sqlite3", ".db")
FORM, KIND = 1, "weighings"  # the form is raised when a column changes its name, its unit or its meaning
TABLES = """
CREATE TABLE metadata (key TEXT PRIMARY KEY, value TEXT);
CREATE TABLE series (number INTEGER PRIMARY KEY, name TEXT, measured_on TEXT, spool TEXT, case_file TEXT, overrides TEXT,
  density_kg_per_m3 REAL, density_uncertainty_kg_per_m3 REAL, diameter_m REAL, diameter_uncertainty_m REAL,
  balance_resolution_kg REAL, balance_repeatability_kg REAL, source TEXT, source_sha256 TEXT, kept_at TEXT, comments TEXT,
  assumed TEXT);
CREATE TABLE samples (series INTEGER REFERENCES series (number), line INTEGER, commanded_m3_per_s REAL, time_s REAL,
  time_uncertainty_s REAL, mass_kg REAL, note TEXT);
CREATE TABLE left_out (series INTEGER REFERENCES series (number), line INTEGER, reason TEXT);
"""


@dataclass(frozen=True)
class Kept:
    """A series as it is kept: when it was measured, of which spool, the file it came from with its SHA-256, its comments."""

    number: int
    series: Series
    measured_on: str
    spool: str
    source: str
    sha256: str
    kept_at: str
    comments: tuple[str, ...]
    assumed: tuple[str, ...]


def keep(path: Path, samples: SampleFile, spool: str, measured_on: date) -> list[Kept]:
    """Add every series of `samples` to the file at `path`, which is made where it is not there; what was added.

    Raises CaseError for a file that is no such data base, and for samples that are kept already.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    raw = (Path(samples.folder) / Path(samples.file).name) if Path(samples.file).is_file() else None
    digest = hashlib.sha256(raw.read_bytes() if raw else repr(samples.series).encode()).hexdigest()
    with _opened(path, make=True) as connection, connection:
        told = connection.execute("SELECT count(*) FROM series WHERE source_sha256 = ?", (digest,)).fetchone()
        if told[0]:
            raise CaseError(
                samples.file, None, None, None, f"samples that {path} does not hold yet", "They are kept already."
            )
        numbers = [
            _add(connection, path, samples, each, spool, measured_on.isoformat(), digest) for each in samples.series
        ]
    return [each for each in kept(path) if each.number in numbers]


def _add(
    connection: sqlite3.Connection, path: Path, samples: SampleFile, each: Series, spool: str, day: str, digest: str
) -> int:
    filament, balance = each.filament, each.balance
    values = (
        each.name, day, spool, _case(each.case, samples.folder, path.parent), json.dumps(dict(each.overrides)),
        filament.density.value, filament.density.tolerance, filament.diameter.value, filament.diameter.tolerance,
        balance.resolution, balance.repeatability, samples.file, digest, datetime.now(UTC).isoformat(timespec="seconds"),
        json.dumps(samples.comments), json.dumps(samples.assumed),
    )  # fmt: skip
    places = ", ".join("?" * len(values))
    number = connection.execute(f"INSERT INTO series VALUES (NULL, {places})", values).lastrowid
    assert number is not None
    connection.executemany(
        "INSERT INTO samples VALUES (?, ?, ?, ?, ?, ?, ?)",
        [(number, s.line, s.commanded, s.time, s.time_uncertainty, s.mass, s.note) for s in each.samples],
    )
    connection.executemany("INSERT INTO left_out VALUES (?, ?, ?)", [(number, g.line, g.reason) for g in each.left_out])
    return number


def _case(written: str, beside: Path, folder: Path) -> str:
    """How `folder` calls the case file that samples name, `beside` themselves or where the command runs."""
    for path in (beside / written, Path(written)):
        if written and path.is_file():
            return os.path.relpath(path.resolve(), folder.resolve())
    return written


def kept(path: Path) -> list[Kept]:
    """Every series that the file at `path` holds, in the order in which they were kept; raises CaseError."""
    with _opened(path, make=False) as connection:
        found = connection.execute("SELECT * FROM series ORDER BY number").fetchall()
        return [_kept(connection, row) for row in found]


def _kept(connection: sqlite3.Connection, row: sqlite3.Row) -> Kept:
    of_series = "WHERE series = ? ORDER BY rowid"
    samples = connection.execute(f"SELECT * FROM samples {of_series}", (row["number"],))
    gone = connection.execute(f"SELECT line, reason FROM left_out {of_series}", (row["number"],))
    filament = MeasuredFilament(
        Toleranced(row["density_kg_per_m3"], row["density_uncertainty_kg_per_m3"]),
        Toleranced(row["diameter_m"], row["diameter_uncertainty_m"]),
    )
    series = Series(
        row["name"], row["case_file"], json.loads(row["overrides"]), filament,
        Balance(row["balance_resolution_kg"], row["balance_repeatability_kg"]),
        tuple(Sample(*each[1:]) for each in samples), tuple(LeftOut(*each) for each in gone),
    )  # fmt: skip
    return Kept(
        row["number"], series, row["measured_on"], row["spool"], row["source"], row["source_sha256"], row["kept_at"],
        tuple(json.loads(row["comments"])), tuple(json.loads(row["assumed"])),
    )  # fmt: skip


def samples_of(path: Path) -> SampleFile:
    """All that the file at `path` holds as samples for a reduction; series of one name are told apart by day and number."""
    every = kept(path)
    if not every:
        raise CaseError(
            str(path), None, None, None, "at least one series", "Add some: meltzone keep SAMPLES --in FILE."
        )
    names = [each.series.name for each in every]
    days = [f"{each.series.name}, {each.measured_on}" for each in every]
    series = []
    for each, name, day in zip(every, names, days, strict=True):
        own = name if names.count(name) == 1 else day if days.count(day) == 1 else f"{day} ({each.number})"
        series.append(replace(each.series, name=own))
    comments = dict.fromkeys(comment for each in every for comment in each.comments)
    assumed = dict.fromkeys(
        f"{text} ({each.series.name}, {each.measured_on})" for each in every for text in each.assumed
    )
    return SampleFile(path.stem, str(path), path.parent, tuple(comments), tuple(series), tuple(assumed))


def back_up(path: Path, place: Path) -> None:
    """A copy of the file at `path`, as of one moment, in the file `place`, which is whole also while another writes."""
    with _opened(path, make=False) as connection, closing(sqlite3.connect(place)) as copy:
        connection.backup(copy)


@contextmanager
def _opened(path: Path, make: bool) -> Iterator[sqlite3.Connection]:
    """The data base at `path`, checked; made where it is not there and `make` says so. Raises CaseError."""
    fresh = not path.exists() or not path.stat().st_size
    if fresh and not make:
        raise CaseError(
            str(path), None, None, None, "a data base of weighings", "Make one: meltzone keep SAMPLES --in FILE."
        )
    try:
        with closing(sqlite3.connect(path)) as connection:
            connection.row_factory = sqlite3.Row
            connection.execute("PRAGMA synchronous = FULL")
            if fresh:
                _fill(connection)
            known = dict(connection.execute("SELECT key, value FROM metadata").fetchall())
            if (known.get("kind"), known.get("form")) != (KIND, str(FORM)):
                raise sqlite3.DatabaseError("something else is in it")
            yield connection
    except (sqlite3.Error, OSError, KeyError, ValueError) as error:
        hint = f"{error}. Choose another file."
        raise CaseError(str(path), None, None, None, "a data base of weighings of this form", hint) from error


def _fill(connection: sqlite3.Connection) -> None:
    with connection:
        for statement in filter(None, map(str.strip, TABLES.split(";"))):
            connection.execute(statement)
        connection.executemany("INSERT INTO metadata VALUES (?, ?)", [("kind", KIND), ("form", str(FORM))])
