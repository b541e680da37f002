"""A table of samples as people keep it, text or workbook with headings in their own words, and what was understood of it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.files import Source, read_bytes
from meltzone.cases.inputs.headings import MANY, meaning, understood
from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.seal import is_seal
from meltzone.cases.inputs.spreadsheet import NUMBER, TableColumn, columns_of, decoded, records
from meltzone.cases.inputs.workbook import WORKBOOKS, workbook_rows

ABOVE = 20  # rows in which the headings are looked for
READ_OVER = "-"
FLOWS = ("commanded", "feeder_speed", "mass_rate")
USUAL = {  # units where --columns tells which is which, and no more
    "commanded": "mm^3/s", "length": "mm", "time": "s", "mass": "g", "gross_mass": "g", "tray_mass": "g",
    "density": "g/cm^3", "diameter": "mm", "balance_resolution": "g", "expected_mass": "g",
}  # fmt: skip


@dataclass(frozen=True)
class Understood:
    """A table's cells and what its headings were taken for: `headed` as it stands there, `read_as` as this program says it.

    `rows` hold line numbers, from 1, and cells. `own_words` tells whether anything was translated or told by options.
    """

    comments: tuple[str, ...]
    line: int
    headed: tuple[str, ...]
    read_as: tuple[str, ...]
    columns: tuple[TableColumn | None, ...]
    rows: tuple[tuple[int, list[str]], ...]
    own_words: bool


def understood_table(
    source: Source, known: Sequence[str], needed: Sequence[str], example: str, told: str | None = None
) -> Understood:
    """The table in the file `source`; `told` says which column is which, in their order. Raises CaseError.

    Of a text the separator is the commonest of semicolon, comma and tabulator. Rows above the headings are read over.
    """
    comments, rows = _cells(source)
    place = _header_place(rows)
    line, header = rows[place] if rows else (1, [])
    below = rows[place + 1 :]
    if told is not None:
        read_as = _told(told, header)
        if header and all(NUMBER.fullmatch(cell) for cell in header if cell):
            below, header = rows[place:], [""] * len(header)
    else:
        read_as = understood(header, known)
    names = [*known, *(f"mass_{number}" for number in range(2, MANY + 1))]
    shown = ["" if heading == READ_OVER else heading for heading in read_as]
    try:
        columns = columns_of(source.label, line, shown, names, needed, example)
    except CaseError as error:
        if not header or (error.key and told is None and error.expected == "each heading once"):
            raise
        hint = f"{error.hint} {question(header)}"
        raise CaseError(error.file, error.line, error.key, error.value, error.expected, hint) from error
    if told is not None:
        over = {place for place, heading in enumerate(read_as) if heading == READ_OVER}
        below = [(number, ["" if at in over else cell for at, cell in enumerate(cells)]) for number, cells in below]
    own = told is not None or place > 0 or source.path.suffix.lower() in WORKBOOKS or list(header) != list(read_as)
    return Understood(comments, line, tuple(header), tuple(read_as), tuple(columns), tuple(below), own)


def question(header: Sequence[str]) -> str:
    """How to tell which column is which, with a guess to be corrected, for a person who reads an error."""
    guesses = []
    for heading in header:
        key, unit = meaning(heading)
        unit = unit or USUAL.get(key, "")
        guesses.append((f"{key.replace('_', ' ')} [{unit}]" if unit else key.replace("_", " ")) or READ_OVER)
    return f'Or tell which is which, - for a column to read over: --columns "{"; ".join(guesses)}"'


def _cells(source: Source) -> tuple[tuple[str, ...], list[tuple[int, list[str]]]]:
    """Comments, the seal left out, and rows that are neither blank nor a comment."""
    if source.path.suffix.lower() in WORKBOOKS:
        read_bytes(source)  # an ordinary file of a usual size
        every = workbook_rows(source.path, source.label)
        comments = [cells[0].strip(' "#;,') for _, cells in every if cells[0].startswith("#")]
        rows = [(number, cells) for number, cells in every if not cells[0].startswith("#")]
    else:
        text = decoded(read_bytes(source), source.label)
        comments = [line.strip(' "#;,') for line in text.splitlines() if re.match(r'"?#', line)]
        rows = list(records(source.label, text))
    return tuple(comment for comment in comments if not is_seal(comment)), rows


def _header_place(rows: Sequence[tuple[int, list[str]]]) -> int:
    """The first row whose headings mean a mass and a flow, a length or a time; the first of all where there is none."""
    for place, (_, cells) in enumerate(rows[:ABOVE]):
        keys = {meaning(cell)[0] for cell in cells if cell}
        if keys & {"mass", "gross_mass", "mass_rate"} and keys & {"commanded", "feeder_speed", "length", "time"}:
            return place
    return 0


def _told(told: str, header: Sequence[str]) -> list[str]:
    """The headings that `told` gives, with the usual units where it tells none; raises CaseError."""
    parts = [part.strip() for part in told.split(";")]
    if len(parts) > max(len(header), 1):
        expected = f"at most {len(header)} columns, as in the table"
        raise CaseError("--columns", None, None, written_form(told), expected, f"It has: {'; '.join(header)}.")
    found = []
    for part in understood(parts, ()):
        key, unit = meaning(part)
        base = re.sub(r"\W\d+$", "", part)
        key = key or meaning(base)[0]
        usual = USUAL.get(key, "")
        found.append(part if unit or not usual or "[" in part else f"{part} [{usual}]")
    return [part or READ_OVER for part in found] + [READ_OVER] * (len(header) - len(found))
