"""Measured ceilings as data: the rows of a file, checked, with the place of each for messages."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from typing import Any

from meltzone.cases.errors import CaseError, nearest
from meltzone.cases.layers import find_line, written_form
from meltzone.cases.reader import Source, example_names, read_layer
from meltzone.cases.units import FLOW, UnitError, parse
from meltzone.cases.validation.measurements_csv import rows_of_csv

MOST_ROWS = 500
HIGHEST = 1e-6  # a thousand mm3/s: beyond any hot end [m3/s]
TOP_KEYS = ("title", "source", "free", "uncertainty", "row")
ROW_KEYS = ("name", "case", "set", "ceiling", "uncertainty", "calibrates", "compared_with", "note")
_PERCENT = re.compile(r"\s*(\d+\.?\d*|\.\d+)\s*%\s*")
_HEADER = re.compile(r"[ \t]*\[\[[ \t]*row[ \t]*\]\]")


@dataclass(frozen=True)
class Row:
    """One measured ceiling: the `case` with its `overrides`, `ceiling` and its standard `uncertainty` [m3/s].

    `compared_with` names the row from which the change is counted. `line` is where the row begins, from 1, if known.
    """

    name: str
    case: str
    overrides: Mapping[str, Any]
    ceiling: float
    uncertainty: float
    calibrates: bool
    compared_with: str | None
    note: str
    line: int | None


@dataclass(frozen=True)
class Measured:
    """All rows of a measured file; `free` is the key that the file itself names to be calibrated, if any."""

    name: str
    file: str
    folder: Path
    title: str
    source: str
    free: str | None
    rows: tuple[Row, ...]

    def row(self, name: str) -> Row:
        """The row of that name."""
        return next(row for row in self.rows if row.name == name)

    def calibrating(self, names: Sequence[str]) -> Measured:
        """The same with the rows of these names calibrating too; raises CaseError for a name that no row has."""
        known = [row.name for row in self.rows]
        for name in names:
            if name not in known:
                hint = f"Rows of {self.file}: {', '.join(known)}."
                raise CaseError("--calibrate", None, None, written_form(name), "the name of a row", hint)
        rows = (replace(row, calibrates=row.calibrates or row.name in names) for row in self.rows)
        return replace(self, rows=tuple(rows))


@dataclass(frozen=True)
class RawRow:
    """A row before its checks: its `values` by key, and the line of a key or of the row itself (key '')."""

    values: Mapping[str, Any]
    line: Callable[[str], int | None]


def measured_names() -> tuple[str, ...]:
    """Names of the shipped measured files, sorted."""
    return tuple(sorted(path.stem for path in shipped_folder().glob("*.toml")))


def shipped_folder() -> Path:
    """The folder of the shipped measured files."""
    return Path(str(files("meltzone.cases.measured")))


def load_measured(written: str | Path) -> Measured:
    """Read the measured file `written` (TOML, or CSV by its ending), or the shipped one of that name; raises CaseError."""
    source = _source_of(str(written))
    folder = source.path.parent
    if source.path.suffix.lower() == ".csv":
        raw = [RawRow(values, lambda _, line=line: line) for line, values in rows_of_csv(source)]  # type: ignore[misc]
        top: Mapping[str, Any] = {}
        text = ""
    else:
        layer = read_layer(source)
        text, top = layer.text, layer.data
        raw = _rows_of_toml(source.label, text, top)
    if not raw:
        hint = "Begin each with [[row]] on a line of its own." if text else "Below the header, one row a line."
        raise CaseError(source.label, None, "row", None, "at least one row with a measured ceiling", hint)
    if len(raw) > MOST_ROWS:
        raise CaseError(source.label, None, "row", f"{len(raw)} rows", f"at most {MOST_ROWS} rows", "Split the file.")
    rows: list[Row] = []
    for row in raw:
        rows.append(_checked(source.label, row, top.get("uncertainty"), [known.name for known in rows]))
    _check_comparisons(source.label, rows, raw)
    words = {name: _text(source.label, find_line(text, [name]), name, top.get(name, "")) for name in TOP_KEYS[:3]}
    return Measured(
        source.path.stem, source.label, folder, words["title"], words["source"], words["free"] or None, tuple(rows)
    )


def _source_of(written: str) -> Source:
    path = Path(written)
    try:
        is_file = path.is_file()
        is_there = is_file or path.exists()
    except (OSError, ValueError):  # ValueError: a null byte in the name
        is_file = is_there = False
    if written in measured_names() and not is_file:
        return Source(shipped_folder() / f"{written}.toml", f"{written} (shipped measurements)")
    if not is_there:
        close = nearest(written, measured_names(), 3)
        hint = f"Shipped measurements: {', '.join(close or measured_names())}."
        expected = "a file of measured ceilings, .toml or .csv, or a shipped one's name"
        raise CaseError(written_form(written)[1:-1], None, None, None, expected, hint)
    return Source(path, str(path))


def _rows_of_toml(label: str, text: str, data: Mapping[str, Any]) -> list[RawRow]:
    for name in data:
        if name not in TOP_KEYS:
            raise _unknown(label, find_line(text, [name]), name, "a file of measured ceilings", TOP_KEYS)
    rows = data.get("row", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        expected = "a list of tables"
        raise CaseError(
            label, find_line(text, ["row"]), "row", written_form(rows), expected, "Begin each row with [[row]]."
        )
    return [RawRow(row, _line_finder(text, number, len(rows))) for number, row in enumerate(rows)]


def _line_finder(text: str, number: int, count: int) -> Callable[[str], int | None]:
    """Lines of the keys of row `number`, found below its own header."""
    lines = text.split("\n")
    headers = [index for index, line in enumerate(lines) if _HEADER.match(line)]
    if len(headers) != count:  # rows as inline tables
        return lambda _: find_line(text, ["row"])
    end = [*headers, len(lines)][number + 1]
    section = "\n".join(lines[headers[number] : end])

    def line(key: str) -> int | None:
        found = find_line(section, ["row", *key.split(".")] if key else ["row"])
        return None if found is None else headers[number] + found

    return line


def _checked(label: str, raw: RawRow, usual_uncertainty: Any, known: list[str]) -> Row:
    """A row with every value checked; `known` are the names taken by the rows before it."""
    values = raw.values
    for key in values:
        if key not in ROW_KEYS:
            raise _unknown(label, raw.line(key), key, "a row", ROW_KEYS)
    for key in ("case", "ceiling"):
        if key not in values:
            hint = 'case = "short-block"' if key == "case" else 'ceiling = "13 mm^3/s"'
            raise CaseError(label, raw.line(""), key, None, "a value; every row needs it", f"Add {hint}.")
    words = {
        key: _text(label, raw.line(key), key, values.get(key, "")) for key in ("case", "name", "compared_with", "note")
    }
    name = words["name"] or words["case"]
    if name in known:
        hint = 'Give each row a name of its own, as in name = "short block, hot".'
        raise CaseError(label, raw.line("name"), "name", written_form(name), "a name that no other row has", hint)
    ceiling = _flow(label, raw.line("ceiling"), values["ceiling"])
    uncertainty = values.get("uncertainty", usual_uncertainty)
    return Row(
        name=name,
        case=words["case"],
        overrides=_overrides(label, raw),
        ceiling=ceiling,
        uncertainty=_uncertainty(label, raw.line("uncertainty"), uncertainty, ceiling),
        calibrates=_flag(label, raw.line("calibrates"), values.get("calibrates", False)),
        compared_with=words["compared_with"] or None,
        note=words["note"],
        line=raw.line(""),
    )


def _text(label: str, line: int | None, key: str, value: object) -> str:
    if not isinstance(value, str) or (key == "case" and not value.strip()):
        raise CaseError(label, line, key, written_form(value), "text", "Put it in quotes.")
    return " ".join(value.split())


def _flow(label: str, line: int | None, value: object) -> float:
    try:
        flow = parse(value, FLOW)
    except UnitError as error:
        raise CaseError(label, line, "ceiling", written_form(value), error.expected, error.hint) from error
    if not 0.0 < flow <= HIGHEST:
        expected = "a volume flow above 0 and up to 1000 mm^3/s"
        hint = "Check the number and its unit."
        raise CaseError(label, line, "ceiling", written_form(value), expected, hint)
    return flow


def _uncertainty(label: str, line: int | None, value: object, ceiling: float) -> float:
    """The standard uncertainty [m3/s] of a share such as "5 %" or of a flow."""
    key, expected = "uncertainty", 'a standard uncertainty, as in "5 %" or "0.6 mm^3/s"'
    hint = "One standard deviation; state what you assume where you do not know it."
    if value is None:
        raise CaseError(label, line, key, None, expected, f"{hint} At the top of the file it counts for every row.")
    if isinstance(value, str) and (share := _PERCENT.fullmatch(value)):
        uncertainty = float(share.group(1)) / 100.0 * ceiling
    else:
        try:
            uncertainty = parse(value, FLOW)
        except UnitError as error:
            raise CaseError(label, line, key, written_form(value), expected, hint) from error
    if not 1e-4 * ceiling <= uncertainty <= ceiling or not math.isfinite(uncertainty):
        raise CaseError(label, line, key, written_form(value), "from 0.01 % to 100 % of the ceiling", hint)
    return uncertainty


def _flag(label: str, line: int | None, value: object) -> bool:
    if not isinstance(value, bool):
        hint = "It says whether this row calibrates the free number."
        raise CaseError(label, line, "calibrates", written_form(value), "true or false, without quotes", hint)
    return value


def _overrides(label: str, raw: RawRow) -> dict[str, Any]:
    """The row's own values by dotted key; nested tables of a TOML row are flattened."""
    value = raw.values.get("set", {})
    if not isinstance(value, Mapping):
        expected, hint = "a table of dotted keys of a case", 'set = { "heater.setpoint" = "235 degC" }'
        raise CaseError(label, raw.line("set"), "set", written_form(value), expected, hint)
    return dict(_flattened(value, ""))


def _flattened(value: Mapping[str, Any], above: str) -> list[tuple[str, Any]]:
    found: list[tuple[str, Any]] = []
    for name, item in value.items():
        key = f"{above}{name}"
        found += _flattened(item, f"{key}.") if isinstance(item, Mapping) else [(key, item)]
    return found


def _check_comparisons(label: str, rows: list[Row], raw: list[RawRow]) -> None:
    names = [row.name for row in rows]
    for row, place in zip(rows, raw, strict=True):
        if row.compared_with is None:
            continue
        if row.compared_with not in names or row.compared_with == row.name:
            close = nearest(row.compared_with, [name for name in names if name != row.name])
            hint = f'Did you mean "{close[0]}"?' if close else f"Rows: {', '.join(names)}."
            value = written_form(row.compared_with)
            expected = "the name of another row"
            raise CaseError(label, place.line("compared_with"), "compared_with", value, expected, hint)


def _unknown(label: str, line: int | None, name: str, where: str, known: tuple[str, ...]) -> CaseError:
    close = nearest(name, known)
    hint = f"Did you mean {close[0]}?" if close else "Remove it, or see docs/validation.md."
    if "." in name or name in ("heater", "nozzle", "block", "polymer"):
        hint = 'Keys of the case stand in the row\'s set table: set = { "heater.setpoint" = "235 degC" }.'
    return CaseError(label, line, name, None, f"a key of {where}: {', '.join(known)}", hint)


def case_of_row(measured: Measured, row: Row) -> str:
    """The path or example's name to load for `row`: beside the measured file before shipped; raises CaseError."""
    beside = measured.folder / row.case
    try:
        if beside.is_file():
            return str(beside)
    except (OSError, ValueError):
        pass
    if row.case in example_names():
        return row.case
    close = nearest(row.case, example_names(), 3)
    hint = f"Shipped examples: {', '.join(close or example_names())}."
    expected = "a case file beside this one, or the name of a shipped example"
    raise CaseError(measured.file, row.line, "case", written_form(row.case), expected, hint)
