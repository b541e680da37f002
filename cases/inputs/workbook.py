"""Workbooks, .xlsx and .ods, as rows of text cells like those of a table in plain text, and tables as workbooks."""

from __future__ import annotations

import math
import re
import zipfile
from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from xml.parsers.expat import ExpatError

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.seal import sealed, unchanged
from meltzone.cases.inputs.spreadsheet import in_seconds

XLSX, ODS = ".xlsx", ".ods"
WORKBOOKS = (XLSX, ODS)
MOST_ROWS, MOST_COLUMNS = 5000, 200  # of a sheet that is looked at; a bench has tens of samples
Numbered = tuple[int, list[str]]


def workbook_rows(path: Path, label: str) -> list[Numbered]:
    """Row number, from 1, and cells of the first sheet of the workbook at `path` that holds anything; raises CaseError.

    Cells are what they hold as text: numbers with a decimal point, a share shown in percent with its sign, a time of day or a
    duration in seconds with their unit, a day as 2026-11-25. Formulas count by the value last saved.
    """
    try:
        sheets = _xlsx(path, label) if path.suffix.lower() == XLSX else _ods(path)
    except CaseError:
        raise
    except (
        zipfile.BadZipFile,
        KeyError,
        ValueError,
        OSError,
        TypeError,
        AttributeError,
        IndexError,
        ExpatError,
    ) as error:
        hint = "Open it in the spreadsheet and save it again, or save the sheet as CSV."
        raise CaseError(label, None, None, None, f"a workbook, {' or '.join(WORKBOOKS)}", hint) from error
    for rows in sheets:
        found = [(number, cells) for number, cells in rows if any(cells)]
        if found:
            return found
    raise CaseError(label, None, None, None, "a sheet with something in it", "Its sheets are empty.")


def write_workbook(path: Path, rows: Iterable[Sequence[str]]) -> None:
    """Write `rows` of text as the only sheet of a workbook, of the kind that the ending of `path` tells.

    What reads as a plain number becomes one; whatever else stays text, formulas too.
    """
    writer: Callable[[Path, list[list[float | str]]], None] = _write_xlsx if path.suffix.lower() == XLSX else _write_ods
    writer(path, [[_number(cell) for cell in row] for row in rows])


def write_sealed(path: Path, rows: Sequence[Sequence[str]]) -> None:
    """Write `rows` likewise, with a last row by which `workbook_edited` sees whether anything was changed."""
    write_workbook(path, rows)
    seal = sealed(_as_text(workbook_rows(path, str(path))))
    write_workbook(path, [*rows, [seal.splitlines()[-1]]])


def workbook_edited(path: Path, label: str) -> bool:
    """Whether the workbook at `path` is none with a seal, or one that was changed; raises CaseError for one that is none."""
    return not unchanged(_as_text(workbook_rows(path, label)))


def _as_text(rows: Iterable[Numbered]) -> str:
    return "".join("\t".join(cells).rstrip("\t") + "\n" for _, cells in rows)


def _number(cell: str) -> float | str:
    try:
        value = float(cell)
    except ValueError:
        return cell
    return value if math.isfinite(value) else cell


def _xlsx(path: Path, label: str) -> list[list[Numbered]]:
    from openpyxl import load_workbook  # slow to load

    values, formulas = (load_workbook(path, data_only=told) for told in (True, False))
    sheets = []
    for sheet in values.worksheets:
        rows = []
        beside = formulas[sheet.title]
        for row in sheet.iter_rows(max_row=min(sheet.max_row, MOST_ROWS), max_col=min(sheet.max_column, MOST_COLUMNS)):
            for cell in row:
                if cell.value is None and beside[cell.coordinate].value is not None:
                    hint = "Open it in the spreadsheet and save it, so that the values are kept beside the formulas."
                    raise CaseError(label, cell.row, None, f"formula in {cell.coordinate}", "its value", hint)
            rows.append((row[0].row, [_text(cell.value, "%" in (cell.number_format or "")) for cell in row]))
        sheets.append(rows)
    return sheets


def _text(value: Any, share: bool = False) -> str:
    """A cell's value as text."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{_plain(100.0 * value)} %" if share else _plain(value)
    if isinstance(value, timedelta):
        return f"{_plain(value.total_seconds())} s"
    if isinstance(value, time):
        return f"{_plain(3600.0 * value.hour + 60.0 * value.minute + value.second + 1e-6 * value.microsecond)} s"
    if isinstance(value, datetime):
        return value.isoformat(sep=" ", timespec="minutes").removesuffix(" 00:00")
    if isinstance(value, date):
        return value.isoformat()
    return str(value).strip()


def _plain(value: float) -> str:
    """A number to twelve digits, so that none of those that binary fractions add are seen."""
    return f"{value:.12g}"


def _ods(path: Path) -> list[list[Numbered]]:
    from odf.opendocument import load  # slow to load
    from odf.table import Table, TableRow

    sheets = []
    for sheet in load(str(path)).getElementsByType(Table):
        rows: list[Numbered] = []
        number = 1
        for row in sheet.getElementsByType(TableRow):
            cells, again = _cells_of(row), int(row.getAttribute("numberrowsrepeated") or 1)
            if any(cells):
                rows += [(number + place, cells) for place in range(min(again, MOST_ROWS))]
            number += again
        sheets.append(rows[:MOST_ROWS])
    return sheets


def _cells_of(row: Any) -> list[str]:
    from odf.table import CoveredTableCell, TableCell

    cells: list[str] = []
    kinds = (TableCell().qname, CoveredTableCell().qname)
    for cell in row.childNodes:
        if getattr(cell, "qname", None) in kinds and len(cells) < MOST_COLUMNS:
            again = int(cell.getAttribute("numbercolumnsrepeated") or 1)
            cells += [_of_cell(cell)] * min(again, MOST_COLUMNS - len(cells))
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _of_cell(cell: Any) -> str:
    from odf.teletype import extractText
    from odf.text import P

    kind, value = cell.getAttribute("valuetype"), cell.getAttribute("value")
    if kind in ("float", "currency") and value is not None:
        return _plain(float(value))
    if kind == "percentage" and value is not None:
        return f"{_plain(100.0 * float(value))} %"
    if kind == "boolean":
        return "yes" if cell.getAttribute("booleanvalue") == "true" else "no"
    if kind == "date":
        return str(cell.getAttribute("datevalue"))[:16].replace("T", " ").removesuffix(" 00:00")
    if kind == "time":
        return _duration(str(cell.getAttribute("timevalue")))
    return " ".join(extractText(part) for part in cell.getElementsByType(P)).strip()


def _duration(written: str) -> str:
    """A duration of ISO 8601, PT1H2M3S, in seconds."""
    found = re.fullmatch(r"PT(?:(\d+)H)?(?:(\d+)M)?(?:([\d.,]+)S)?", written)
    if found is None:
        return written
    return in_seconds(found.groups())


def _write_xlsx(path: Path, rows: list[list[float | str]]) -> None:
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    for number, row in enumerate(rows, start=1):
        for place, value in enumerate(row, start=1):
            cell = sheet.cell(number, place, value if value != "" else None)
            if isinstance(value, str):
                cell.data_type = "s"
    with path.open("wb") as file:
        book.save(file)


def _write_ods(path: Path, rows: list[list[float | str]]) -> None:
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    book, sheet = OpenDocumentSpreadsheet(), Table(name="samples")
    for row in rows:
        line = TableRow()
        for value in row:
            number = isinstance(value, float)
            cell = TableCell(valuetype="float", value=value) if number else TableCell(valuetype="string")
            cell.addElement(P(text=_plain(value) if isinstance(value, float) else value))
            line.addElement(cell if value != "" else TableCell())
        sheet.addElement(line)
    book.spreadsheet.addElement(sheet)
    with path.open("wb") as file:
        book.write(file)
