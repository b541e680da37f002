"""What a calibration has solved so far, in a file beside its results: the same command goes on after an interruption."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

from meltzone.cases.inputs.errors import CaseError


class Journal:
    """Answers by key, as plain types; without a `path` nothing is kept. Of another `meaning` it begins anew.

    Raises CaseError for a file of something else.
    """

    def __init__(self, path: Path | None = None, meaning: str = "") -> None:
        self.path = path
        self._connection: sqlite3.Connection | None = None
        if path is None:
            return
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._connection = sqlite3.connect(path)
            _begin(self._connection, hashlib.sha256(meaning.encode()).hexdigest())
        except (sqlite3.Error, OSError) as error:
            hint = f"{error}. Remove it, or choose another --out."
            raise CaseError(str(path), None, None, None, "what an unfinished calibration left", hint) from error

    def once(self, key: tuple[Any, ...], answer: Callable[[], Any]) -> Any:
        """The `answer` under `key`, worked out only where it is not kept yet."""
        if self._connection is None:
            return answer()
        text = json.dumps(key)
        kept = self._connection.execute("SELECT answer FROM solved WHERE key = ?", (text,)).fetchone()
        if kept is not None:
            return json.loads(kept[0])
        found = answer()
        with self._connection:
            self._connection.execute("INSERT OR REPLACE INTO solved VALUES (?, ?)", (text, json.dumps(found)))
        return found

    def close(self, done: bool) -> None:
        """Close the file; where all is `done`, or nothing was solved, it goes."""
        if self._connection is not None:
            done = done or not self._connection.execute("SELECT count(*) FROM solved").fetchone()[0]
            self._connection.close()
            self._connection = None
            if done and self.path is not None:
                self.path.unlink(missing_ok=True)


def _begin(connection: sqlite3.Connection, digest: str) -> None:
    """Tables where there are none; answers of another meaning go."""
    tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if tables - {"calibration_meaning", "solved"}:
        raise sqlite3.DatabaseError("something else is in it")
    with connection:
        connection.execute("CREATE TABLE IF NOT EXISTS calibration_meaning (sha256 TEXT)")
        connection.execute("CREATE TABLE IF NOT EXISTS solved (key TEXT PRIMARY KEY, answer TEXT)")
        if connection.execute("SELECT sha256 FROM calibration_meaning").fetchall() != [(digest,)]:
            connection.execute("DELETE FROM solved")
            connection.execute("DELETE FROM calibration_meaning")
            connection.execute("INSERT INTO calibration_meaning VALUES (?)", (digest,))
