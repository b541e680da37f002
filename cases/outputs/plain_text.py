"""Text from outside made harmless: no control characters, no formulas in tables, no letter that an encoding lacks."""

from __future__ import annotations

import codecs
import unicodedata

from meltzone.cases.studies.validation.measurements_csv import FORMULA_MARK, FORMULA_SIGNS

KEPT = "\n\u00a0"  # line breaks, and the space that keeps a number with its unit
PLAINER = {"█": "#", "±": "+/-", "–": "-", "—": "-", "…": "...", "×": "x", "→": "->", "≥": ">=", "≤": "<="}
ENCODING_FAULTS = "meltzone.plainer"  # name of the error handler below


def plain(text: str) -> str:
    """`text` with every character that a terminal or a file could obey (control characters, escapes, C1 codes, marks that
    turn the direction, halves of a surrogate pair) replaced by a question mark."""
    return "".join(each if each.isprintable() or each in KEPT else "?" for each in text)


def cell_text(text: str) -> str:
    """`text` fit for a cell of a table: plain, and with a mark before it where a spreadsheet would take it for a formula.

    Reading such a table again takes the mark away. A number that is written as text stays as it is.
    """
    return (FORMULA_MARK if text[:1] in FORMULA_SIGNS and not _is_number(text) else "") + plain(text)


def plainer(character: str) -> str:
    """What stands for `character` where an encoding lacks it: its plain form, or a question mark."""
    decomposed = unicodedata.normalize("NFKD", character).encode("ascii", "ignore").decode("ascii")
    return PLAINER.get(character) or decomposed or "?"


def _plainer(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(plainer, error.object[error.start : error.end])), error.end


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return not text
    return True


codecs.register_error(ENCODING_FAULTS, _plainer)
