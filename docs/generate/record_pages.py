"""The pages that document the records: what each file of results holds, key by key, from the tables in the code."""

from __future__ import annotations

from pathlib import Path

from meltzone.cases.outputs import compare_record, record, transient
from meltzone.cases.outputs.quantities import documented as rows_of

DOCS = Path(__file__).resolve().parents[1]
RESULT = DOCS / "result-json.md"
COMPARE = DOCS / "compare-json.md"
TRANSIENT = DOCS / "transient-json.md"

RESULT_INTRODUCTION = """# The file result.json

`meltzone run` and `meltzone solve --out` write it beside the pictures; `meltzone ceiling --json` prints a list of the same
records, one for each case. UTF-8, numbers to eight digits, the unit in the key's name; what does not exist is `null`.

This page is generated from the table in the code (`python docs/regenerate.py`).

| key | unit | meaning |
|---|---|---|
"""


def result_page() -> str:
    """The page that documents it, as Markdown."""
    return RESULT_INTRODUCTION + rows_of(record.KEYS)


COMPARE_INTRODUCTION = """# What `meltzone compare` writes for machines

`--json` prints a record with `form`, `versions`, `working_flow_mm3_per_s`, `working_flow_chosen`, `deference` and a list
`cases`; each case has the keys below, its `limits` part by part (`material`, `limit_degC`, `hottest_at_ceiling_degC`,
`severity_at_ceiling`, `hottest_stuck_on_degC`, `severity_stuck_on`) and its `cautions` as in [result.json](result-json.md).
`--csv FILE` writes the keys below as columns, a row a case, and the working flow as the last column. What does not exist is
`null`, and empty in CSV.

This page is generated from the table in the code (`python docs/regenerate.py`).

| key | unit | meaning |
|---|---|---|
"""


def compare_page() -> str:
    """The page that documents it, as Markdown."""
    return COMPARE_INTRODUCTION + rows_of(compare_record.KEYS)


TRANSIENT_INTRODUCTION = """# What `meltzone transient` writes for machines

`--json` prints the record below, and `--out DIR` writes it as `transient.json`, with the history as `history.csv` and the
picture as `transient.png`. Numbers to eight digits, the unit in the key's name; what does not exist is `null`.

This page is generated from the table in the code (`python docs/regenerate.py`).

| key | unit | meaning |
|---|---|---|
"""

HISTORY = """
The columns of the history, in `history` and in `history.csv`:

| column | unit | meaning |
|---|---|---|
"""


def transient_page() -> str:
    """The page that documents it, as Markdown."""
    return TRANSIENT_INTRODUCTION + rows_of(transient.KEYS) + HISTORY + rows_of(transient.COLUMNS)
