"""Tables as spreadsheets write them: separators, decimal commas, units in the header, what such cells hold."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.files import Source, read_bytes
from meltzone.cases.inputs.headings import in_brackets
from meltzone.cases.inputs.layers import written_form
from meltzone.materials.errors import nearest

SEPARATORS = (";", ",", "\t")
FORMULA_SIGNS = tuple("=+-@\t\r")  # what a spreadsheet takes for the beginning of a formula
FORMULA_MARK = "'"  # stands before such a sign in tables that this program writes
TRUE, FALSE = ("true", "yes", "x", "1", "wahr", "vrai"), ("false", "no", "", "0", "falsch", "faux")
_COLUMN = re.compile(r"([^\[\]]+?)\s*(?:\[([^\[\]]+)\])?")
NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)|^,(?=\d)")


@dataclass(frozen=True)
class TableColumn:
    """A column: the `key` it fills (a row's own, or a dotted key of the case) and the `unit` of its header, or ''."""

    key: str
    unit: str


@dataclass(frozen=True)
class TableOfCells:
    """A table read: its whole `text`, the line of the header, its `columns`, and line number and cells of every row."""

    text: str
    header_line: int
    columns: list[TableColumn | None]
    rows: Iterator[tuple[int, list[str]]]


def read_table(source: Source, known: Sequence[str], needed: Sequence[str], example: str) -> TableOfCells:
    """The table in the file `source`, its headings checked as by `columns_of`; raises CaseError.

    The separator is the commonest of semicolon, comma and tabulator in the header. Numbers may have a decimal comma. A byte
    order mark, a first line `sep=;`, blank lines and trailing empty cells are what spreadsheets leave, and no fault.
    """
    text = decoded(read_bytes(source), source.label)
    rows = records(source.label, text)
    header_line, header = next(rows, (1, []))
    return TableOfCells(text, header_line, columns_of(source.label, header_line, header, known, needed, example), rows)


def decoded(raw: bytes, label: str) -> str:
    """The text of a table as spreadsheets save it; raises CaseError."""
    wide = raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    encodings = ["utf-16"] if wide else ["utf-8-sig", "cp1252"]  # the last is what spreadsheets of western Windows save
    for encoding in encodings:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    hint = "Save it again from the spreadsheet as CSV, UTF-8."
    raise CaseError(label, None, None, None, "a table in plain text, UTF-8", hint)


def records(label: str, text: str) -> Iterator[tuple[int, list[str]]]:
    """First line and cells of every row that is neither blank nor a comment, which begins with #; raises CaseError."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    skipped, separator = 0, ""
    if found := re.match(r"\"?sep=(.)\"?\n", text, re.IGNORECASE):
        separator, skipped = found.group(1), 1
        text = text[found.end() :]
    reader = csv.reader(io.StringIO(text), delimiter=separator or _separator(text), strict=True)
    begin = 1 + skipped
    try:
        for cells in reader:
            stripped = [_without_mark(cell.strip()) for cell in cells]
            if any(stripped) and not stripped[0].startswith("#"):
                yield begin, stripped
            begin = reader.line_num + 1 + skipped
    except csv.Error as error:
        hint = f"{str(error)[:1].upper()}{str(error)[1:]}. Quotes around a cell come in pairs."
        raise CaseError(label, begin, None, None, "a row of cells", hint) from error


def _without_mark(cell: str) -> str:
    return cell[1:] if cell.startswith(tuple(FORMULA_MARK + sign for sign in FORMULA_SIGNS)) else cell


def _separator(text: str) -> str:
    """The commonest separator in the first line that is neither blank nor a comment, outside quotes and brackets."""
    first = next((line for line in text.split("\n") if line.strip(" \t,;") and not line.startswith(("#", '"#'))), "")
    bare = re.sub(r"\"[^\"]*\"|\[[^\]]*\]", "", first)
    return max(SEPARATORS, key=bare.count)


def columns_of(
    label: str, line: int, header: Sequence[str], known: Sequence[str], needed: Sequence[str], example: str
) -> list[TableColumn | None]:
    """What each column fills, None for one without a heading; CaseError for headings not `known`, or absent but `needed`."""
    columns: list[TableColumn | None] = []
    for cell in (in_brackets(each, known) for each in header):
        found = _COLUMN.fullmatch(cell)
        if not cell:
            columns.append(None)
            continue
        name = found.group(1).strip() if found else cell
        key = name if "." in name else re.sub(r"[\s_-]+", "_", name.lower())
        if found is None or ("." not in key and key not in known):
            close = nearest(key, known)
            hint = f"Did you mean {close[0]}?" if close else "A dotted key of the case may head a column of its own."
            expected = f"a heading: {', '.join(known)}, or a dotted key, with a unit in brackets"
            raise CaseError(label, line, None, written_form(cell), expected, hint)
        if any(column and column.key == key for column in columns):
            raise CaseError(label, line, key, None, "each heading once", "Remove one of the columns.")
        columns.append(TableColumn(key, (found.group(2) or "").strip()))
    for name in needed:
        if not any(column and column.key == name for column in columns):
            raise CaseError(label, line, name, None, f"a column headed {name}", f"Headings such as: {example}")
    return columns


def filled(
    label: str, line: int, columns: Sequence[TableColumn | None], cells: Sequence[str]
) -> Iterator[tuple[TableColumn, str]]:
    """Every headed column with its cell of the row, which may be empty; raises CaseError for cells that no heading covers."""
    if any(cells[len(columns) :]):
        hint = "Is a cell with a comma not in quotes, or does a number have a decimal comma in a table separated by commas?"
        raise CaseError(
            label, line, None, f"{len(cells)} cells", f"at most {len(columns)} cells, as in the header", hint
        )
    for column, cell in zip(columns, cells, strict=False):
        if column is not None:
            yield column, cell
        elif cell:
            hint = "Head the column, or empty the cell."
            raise CaseError(label, line, None, written_form(cell), "no cell below an empty heading", hint)


def flag(label: str, line: int, key: str, cell: str) -> bool:
    """Yes or no as people and spreadsheets write it; an empty cell is no. Raises CaseError."""
    if cell.lower() not in (*TRUE, *FALSE):
        raise CaseError(label, line, key, written_form(cell), "yes or no", "An empty cell is no.")
    return cell.lower() in TRUE


def with_unit(cell: str, unit: str) -> str:
    """A number with a decimal point and the header's unit; a cell with a unit of its own keeps that."""
    pointed = _DECIMAL_COMMA.sub(".", cell) if cell.count(",") == 1 and "." not in cell else cell
    bare = NUMBER.fullmatch(cell)
    return f"{pointed} {unit}" if bare and unit else pointed


def override_of(cell: str, unit: str) -> Any:
    """A cell as a case file would hold it: text with a unit, a plain number, true or false, or words."""
    if unit:
        return with_unit(cell, unit)
    if cell.lower() in ("true", "wahr", "vrai"):
        return True
    if cell.lower() in ("false", "falsch", "faux"):
        return False
    return float(cell.replace(",", ".")) if NUMBER.fullmatch(cell) else with_unit(cell, "")


def in_seconds(parts: Sequence[str | None]) -> str:
    """Hours, minutes and seconds as they are written, None for none, as one time such as "83.5 s"."""
    hours, minutes, seconds = (float((part or "0").replace(",", ".")) for part in parts)
    return f"{3600.0 * hours + 60.0 * minutes + seconds:.12g} s"
