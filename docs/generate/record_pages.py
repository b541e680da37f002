"""The pages that document the records: what each file of results holds, key by key, from the tables in the code."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from meltzone.cases.outputs import (
    archive,
    calibration,
    compare,
    creep,
    curve,
    design,
    explain,
    material,
    record,
    reduce,
    transient,
    trial,
    validate,
)
from meltzone.cases.outputs.quantities import Quantity, documented

DOCS = Path(__file__).resolve().parents[1]
RESULT = DOCS / "result-json.md"
COMPARE = DOCS / "compare-json.md"
TRANSIENT = DOCS / "transient-json.md"
RECORDS = DOCS / "records-json.md"

RESULT_INTRODUCTION = """# The file result.json

`meltzone run` and `meltzone solve --out` write it beside the pictures; `meltzone ceiling --json` prints a list of the same
records, one for each case. UTF-8, numbers to eight digits, the unit in the key's name; what does not exist is `null`.

This page is generated from the table in the code (`python docs/regenerate.py`).

| key | unit | meaning |
|---|---|---|
"""


def result_page() -> str:
    """The page that documents it, as Markdown."""
    return RESULT_INTRODUCTION + documented(record.KEYS)


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
    return COMPARE_INTRODUCTION + documented(compare.KEYS)


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
    return TRANSIENT_INTRODUCTION + documented(transient.KEYS) + HISTORY + documented(transient.COLUMNS)


RECORDS_INTRODUCTION = """# What explain, curve, creep, design, reduce, trial, kept and validate write for machines

Each writes its record as JSON, by `--out DIR` where it does not write without being asked. UTF-8, numbers to eight
digits, the unit in the key's name; what does not exist is `null`. Keys that [result.json](result-json.md) has too
mean the same. A folder holds `report.html` besides: what the terminal shows, with its pictures, as one page that
needs nothing besides itself. Tables are comma-separated values under the same keys.

This page is generated from the tables in the code (`python docs/regenerate.py`).
"""
KEY, COLUMN = "key", "column"
Tables = Iterable[
    tuple[str, str, Iterable[Quantity]]
]  # what stands over a table, the heading of its first column, its rows
PARTS: dict[str, Tables] = {
    "explain.json": (
        ("", KEY, explain.KEYS),
        ("Each lever, in `design_levers` and `data_levers`:", KEY, explain.LEVER),
        ("`interval`:", KEY, explain.INTERVAL),
        ("`samples`:", KEY, explain.SAMPLES),
        ("Each of `contributions`:", KEY, explain.CONTRIBUTION),
    ),
    "curve.json": (
        ("", KEY, curve.KEYS),
        ("Each of `measured`:", KEY, curve.MEASURED),
        ("`curve.csv`:", COLUMN, curve.POINT),
    ),
    "creep.json": (
        ("", KEY, creep.KEYS),
        ("Each of `states`:", KEY, creep.STATE),
        ("Each of `levers`:", KEY, creep.LEVER),
    ),
    "design.json": (
        ("", KEY, design.KEYS),
        ("`start` and `end`:", KEY, design.SIDE),
        ("Each of `steps`:", KEY, design.STEP),
        ("Each of `front`:", KEY, design.FRONT),
    ),
    "material.json": (
        ("", KEY, material.KEYS),
        ("Each of `melt_flow`:", KEY, material.FLOW),
    ),
    "reduced.json": (
        ("", KEY, reduce.KEYS),
        ("Each of `series`:", KEY, reduce.SERIES),
        ("Each of its `samples`, and the columns of `reduced.csv` after `series`:", KEY, reduce.SAMPLE),
        ("Each of `compared`:", KEY, reduce.COMPARED),
    ),
    "trial.json": (
        ("", KEY, trial.KEYS),
        ("Each of `stretches`, and the columns of `trial.csv`:", KEY, trial.STRETCH),
        ("`printed`:", KEY, trial.PRINTED),
    ),
    "kept --json": (
        ("", KEY, archive.KEYS),
        ("Each of `series`:", KEY, archive.SERIES),
        ("Each of its `samples`:", KEY, archive.SAMPLE),
    ),
    "validation.json": (
        ("", KEY, validate.KEYS),
        ("`calibration`:", KEY, validate.CALIBRATION),
        ("Each of `rows`:", KEY, validate.ROW),
        ("Each of `forces`:", KEY, validate.FORCE),
        ("Each of `changes`:", KEY, validate.CHANGE),
        ("Each of `curves`:", KEY, calibration.CURVE),
        ("`joint`:", KEY, calibration.JOINT),
        ("Each of its `numbers`:", KEY, calibration.NUMBER),
        ("Each of `tangled`:", KEY, calibration.CONFOUNDED),
        ("Each of `filaments`:", KEY, calibration.FILAMENT),
    ),
}


def records_page() -> str:
    """The page that documents them, as Markdown."""
    lines = [RECORDS_INTRODUCTION]
    for name, tables in PARTS.items():
        lines.append(f"## {name}\n")
        for title, first, quantities in tables:
            above = f"{title}\n\n" if title else ""
            lines.append(f"{above}| {first} | unit | meaning |\n|---|---|---|\n{documented(quantities)}")
    return "\n".join(lines)
