"""Reads a measured file: rows of ceilings and of weighed series, checked, with the place of each for messages."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any

from meltzone.cases.inputs.errors import CaseError, nearest
from meltzone.cases.inputs.layers import find_line, written_form
from meltzone.cases.inputs.reader import Source, file_or_shipped, read_layer
from meltzone.cases.studies.bench.rows import CurveRow, Measured, RawRow, Row
from meltzone.cases.studies.validation.measurements_csv import rows_of_csv
from meltzone.cases.studies.validation.row_checks import checked_curve, checked_row, text_of, unknown_key

MOST_ROWS = 500
REDUCED = "ceilings.csv"  # as `meltzone reduce` calls the table that it writes beside its own files
TOP_KEYS = ("title", "source", "free", "uncertainty", "row")
_HEADER = re.compile(r"[ \t]*\[\[[ \t]*row[ \t]*\]\]")


def _name_of(path: Path) -> str:
    """The file's name; for a reduction's table, of which there are many of one name, that of the reduction."""
    reduced = path.name == REDUCED and path.resolve().parent.name
    return reduced.removeprefix("reduce-") if reduced else path.stem


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
    rows: list[Row | CurveRow] = []
    for row in raw:
        known = [each.name for each in rows]
        if "samples" in row.values and "ceiling" not in row.values:
            rows.append(checked_curve(source.label, row, folder, known))
        else:
            rows.append(checked_row(source.label, row, top.get("uncertainty"), known))
    ceilings = [(row, place) for row, place in zip(rows, raw, strict=True) if isinstance(row, Row)]
    _check_comparisons(source.label, ceilings)
    words = {name: text_of(source.label, find_line(text, [name]), name, top.get(name, "")) for name in TOP_KEYS[:2]}
    return Measured(
        _name_of(source.path),
        source.label,
        folder,
        words["title"],
        words["source"],
        _free_of(source.label, text, top.get("free", "")),
        tuple(row for row, _ in ceilings),
        tuple(row for row in rows if isinstance(row, CurveRow)),
    )


def _free_of(label: str, text: str, value: object) -> tuple[str, ...]:
    """The keys that the file frees: one in quotes, or a list of them."""
    wanted = value if isinstance(value, list) else [value]
    line = find_line(text, ["free"])
    keys = [text_of(label, line, "free", each) for each in wanted]
    return tuple(key for key in keys if key)


def _source_of(written: str) -> Source:
    """The file `written`, or the shipped one of that name; raises CaseError where there is neither."""
    names = measured_names()
    shipped = Source(shipped_folder() / f"{written}.toml", f"{written} (shipped measurements)")
    hint = f"Shipped measurements: {', '.join(nearest(written, names, 3) or names)}."
    expected = "a file of measured ceilings, .toml or .csv, or a shipped one's name"
    return file_or_shipped(written, names, shipped, expected, hint)


def _rows_of_toml(label: str, text: str, data: Mapping[str, Any]) -> list[RawRow]:
    for name in data:
        if name not in TOP_KEYS:
            raise unknown_key(label, find_line(text, [name]), name, "a file of measured ceilings", TOP_KEYS)
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


def _check_comparisons(label: str, rows: list[tuple[Row, RawRow]]) -> None:
    names = [row.name for row, _ in rows]
    for row, place in rows:
        if row.compared_with is None:
            continue
        if row.compared_with not in names or row.compared_with == row.name:
            close = nearest(row.compared_with, [name for name in names if name != row.name])
            hint = f'Did you mean "{close[0]}"?' if close else f"Rows: {', '.join(names)}."
            value = written_form(row.compared_with)
            expected = "the name of another row"
            raise CaseError(label, place.line("compared_with"), "compared_with", value, expected, hint)
