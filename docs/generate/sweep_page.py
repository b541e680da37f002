"""The reference page of sweep files, generated from their schema."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from meltzone.cases.inputs.fields import Table, about
from meltzone.cases.inputs.outline import kind_of
from meltzone.cases.outputs.quantities import documented
from meltzone.cases.studies.sweep.read import load_sweep, sweep_names
from meltzone.cases.studies.sweep.schema import MOST_KEYS, MOST_POINTS, MOST_VALUES, RangeTable, SampleTable, SweepModel
from meltzone.cases.studies.sweep.work import COLUMNS

PAGE = Path(__file__).resolve().parents[1] / "sweep.md"

INTRODUCTION = """# The sweep file

`meltzone sweep FILE` finds the ceilings of one case at many points and keeps every point as it comes. A sweep file is TOML:
the case, and the keys of a case that are varied. Points are found on a coarser mesh than single ceilings, within 0.1 % of them.

```toml
title = "Setpoint against the nozzle's metal"
case = "short-block"

[vary]
"heater.setpoint" = { from = "190 degC", to = "260 degC", steps = 8 }
"contacts.bore_melt" = { from = "5000 W/m^2/K", to = "30000 W/m^2/K", steps = 5, scale = "log" }
"nozzle.material" = ["brass", "copper"]
"surroundings.fan" = [false, true]
sleeve = [false, { material = "brass", height = "8.5 mm", width = "10 mm" }]
```

This page is generated from the schema (`python docs/regenerate.py`).

> **Caution.** Molten plastic, a hot end and its mains supply can burn people and start fires; overheated polymers, PTFE and
> adhesives give off fumes. A point that has a ceiling is not thereby safe to run; the summary and the column `caution` say
> what the temperatures mean for the materials. The makers' data sheets, local codes and qualified people come first.
"""

RULES = f"""- A key is any dotted key of [the case file](case-file.md), in quotes or not. Ranges are for numbers; lists take
  anything: materials, true and false, quantities, whole tables.
- A whole table goes on top of the case's own, key by key; `false` drops a sleeve or a wrap. Use whole tables for
  dimensions that change together, as length and exposed length of a nozzle do.
- Without `[sample]` all combinations are solved, the last key changing fastest. With it, a Latin hypercube is drawn.
- At most {MOST_KEYS} keys, {MOST_VALUES} values of one key, {MOST_POINTS} points.
- Every fault of the file is reported before anything is solved. Dimensions that do not fit together at some point are
  recorded with that point, and the others go on.
"""

RESULTS = """## Results

One SQLite file (write-ahead log, one writer), with `--csv` a CSV file as well. Interrupt the sweep however you like; the same
command goes on, with nothing lost and nothing solved twice. Where the sweep file or the base case has changed in anything but
comments and titles, the old results are refused: choose another `--out`, or remove them. While a sweep runs there is a file
of the same name and `.lock` beside it, which keeps a second sweep out.

The table `points` has a column `number`, one column for each varied key, named by the key and its unit, and:

| column | unit | meaning |
|---|---|---|
"""

AFTER = """
The column `overrides` holds the varied values as a case file would, as JSON (not in the CSV file). The table `metadata` holds
the text of the sweep file, a hash of all that the results depend on, and the versions of the program and its libraries.

## Pictures

`--plot FILE` draws the ceilings over the first two varied keys, or over those named by `--over`: lines over a number, bars
over words, a coloured map over two numbers, dots for a sample. Where further keys vary, means are drawn, with the range of
the points about them; points at which nothing flows count as 0.

## Speed, processes, clusters

Points are solved by as many processes as there are cores, or by `--workers N`, each with one numerical thread. All of them are
solved from cold: a start from the neighbour's field saves a tenth to a fifth of the time, depending on the step, and the
numbers would depend on what was solved before.

`--scheduler ADDRESS` solves on a Dask cluster that runs already; its workers need this program too (`pip install
'meltzone[cluster]'`), and should be started with one thread each.

## From Python

`meltzone.sweep` takes the same file and a results file and gives the rows; call it under `if __name__ == "__main__":`,
since the worker processes read the calling script again. `meltzone.cases.outputs.sweep_figure.sweep_figure` draws,
`meltzone.cases.studies.sweep.store.rows_of` reads a results file, `meltzone.cases.outputs.sweep.write_csv` writes rows.

## Shipped sweeps

| name | what it asks |
|---|---|
"""


def sweep_page() -> str:
    """The whole page as Markdown."""
    shipped = [f"| `{name}` | {load_sweep(name).title} |" for name in sweep_names()]
    sections = [
        INTRODUCTION,
        _section("Top of the file", SweepModel),
        _section("[vary]: ranges", RangeTable),
        RULES,
        _section("[sample]", SampleTable),
        RESULTS + documented(COLUMNS) + AFTER + "\n".join(shipped) + "\n",
    ]
    return "\n".join(sections)


def _section(title: str, model: type[Table]) -> str:
    lines = [f"## {title}", "", model.__doc__ or "", "", "| key | value | default | meaning |", "|---|---|---|---|"]
    return "\n".join([*lines, *(_row(name, field) for name, field in model.model_fields.items())]) + "\n"


def _row(name: str, field: Any) -> str:
    default = "required" if field.is_required() else "none" if field.default in (None, "") else f"`{field.default!r}`"
    words = about(field).words or kind_of(field)
    return f"| `{field.alias or name}` | {words} | {default.replace(chr(39), chr(34))} | {field.description} |"
