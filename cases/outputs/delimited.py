"""Tables as comma separated values: one way to write headings, numbers, words and what does not exist."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any

from meltzone.cases.outputs.plain_text import cell_text, printable
from meltzone.cases.studies.quantities import rounded

COMMENT = '"# {}"'  # a line that is none of the table's rows


def delimited(headings: Sequence[str], rows: Iterable[Sequence[Any]], comments: Sequence[str] = ()) -> str:
    """`headings` and `rows` as text for a file in UTF-8; `comments` stand before them, each on a line that begins with #."""
    out = io.StringIO()
    out.writelines(COMMENT.format(printable(comment).replace('"', "'")) + "\n" for comment in comments)
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([cell_text(heading) for heading in headings])
    writer.writerows([written(value) for value in row] for row in rows)
    return out.getvalue()


def written(value: Any) -> Any:
    """`value` as it stands in a cell: numbers to eight digits, true and false, nothing for None, lists joined by "; "."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return cell_text(value)
    if isinstance(value, list | tuple):
        return cell_text("; ".join(str(item) for item in value))
    return rounded(value)
