"""The one place where text from outside becomes output: what could steer a terminal, break a file or run in a table goes."""

from __future__ import annotations

import codecs
import unicodedata

KEPT = "\n\t"
PLAINER = {"█": "#", "±": "+/-", "–": "-", "—": "-", "…": "...", "×": "x", "→": "->", "≥": ">=", "≤": "<="}
ENCODING_FAULTS = "meltzone.plainer"  # name of the error handler below


def printable(text: str) -> str:
    """`text` with every character that steers instead of showing replaced by a question mark.

    Such are control characters of both sets but line feed and tab, marks that turn the direction, and lone surrogates.
    """
    if text.isprintable():
        return text
    return "".join(
        each if each.isprintable() or each in KEPT or (each.isspace() and each > "\x9f") else "?" for each in text
    )


def cell_text(text: str) -> str:
    """`text` fit for a cell of a table: printable, with a mark before it where a spreadsheet would take it for a formula.

    Reading such a table again takes the mark away. A number that is written as text stays as it is.
    """
    from meltzone.cases.inputs.spreadsheet import FORMULA_MARK, FORMULA_SIGNS  # slow to load, and few texts are cells

    return (FORMULA_MARK if text[:1] in FORMULA_SIGNS and not _is_number(text) else "") + printable(text)


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
        return False
    return True


codecs.register_error(ENCODING_FAULTS, _plainer)
