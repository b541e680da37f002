"""The model against every measured ceiling, each arrangement predicted by the others; run as a module it writes the data."""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import groupby
from pathlib import Path

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.studies.bands.compared import FILE, Compared
from meltzone.cases.studies.bands.reach import conditions_of
from meltzone.cases.studies.bench.rows import CeilingRow, MeasuredFile, case_of_row
from meltzone.cases.studies.run import sought
from meltzone.cases.studies.validation.measurements import load_measured, measured_names
from meltzone.cases.studies.validation.validate import validate
from meltzone.fem.inputs import Profile
from meltzone.fem.problem import Problem
from meltzone.fem.progress import Reporter

COARSE = {"mesh.level": 0.25}  # moves a ceiling by 3e-4 at most
PROFILES: tuple[Profile, ...] = ("plug", "shaped", "solved", "power-law")


def known_files() -> list[MeasuredFile]:
    """The shipped measured files whose arrangements are known."""
    return [read for read in map(load_measured, measured_names()) if read.rows and not read.assumes]


def arrangements(read: MeasuredFile) -> list[list[CeilingRow]]:
    """The rows by the parts that they were measured with, whatever the setpoint and the fan."""
    rows = [(repr(problem_of_row(read, row).arrangement), _solids(read, row), row) for row in read.rows]
    rows.sort(key=lambda item: item[:2])
    return [[row for *_, row in group] for _, group in groupby(rows, key=lambda item: item[:2])]


def problem_of_row(read: MeasuredFile, row: CeilingRow) -> Problem:
    """What is solved for a row as its case stands."""
    return problem_of(load_case(case_of_row(read, row), row.overrides))


def _solids(read: MeasuredFile, row: CeilingRow) -> str:
    materials = problem_of_row(read, row).materials
    return " ".join(getattr(getattr(materials, part), "key", "-") for part in ("block", "nozzle", "sleeve", "wrap"))


def compared(read: MeasuredFile, say: Reporter, overrides: Mapping[str, float] | None = None) -> Iterator[Compared]:
    """Every row of a file, predicted without any row of its own arrangement.

    Where the file calibrates, it does so on all the other arrangements; otherwise rows are predicted as their cases stand.
    """
    groups, calibrates = arrangements(read), any(row.calibrates for row in read.rows)
    for number, left_out in enumerate(groups):
        names = {row.name for row in left_out}
        say(f"{read.name}: without {', '.join(sorted(names))}")
        marked = tuple(replace(row, calibrates=calibrates and row.name not in names) for row in read.rows)
        found = validate(replace(read, rows=marked), overrides={**COARSE, **(overrides or {})})
        for each in found.rows:
            if each.row.name in names:
                yield Compared(
                    read.name, each.row.name, number, each.row.compared_with or "", each.measured, each.ceiling,
                    100.0 * each.uncertainty / each.measured, conditions_of(problem_of_row(read, each.row)),
                )  # fmt: skip


def profiles(read: MeasuredFile, say: Reporter) -> dict[str, float]:
    """Mean over the calibrating rows of the logarithm of the ceiling by each velocity profile over that of the plug [-]."""
    found: dict[str, list[float]] = {name: [] for name in PROFILES}
    for row in (row for row in read.rows if row.calibrates):
        flows = {}
        for name in PROFILES:
            say(f"{row.name}: profile {name}")
            case = case_of_row(read, row)
            flows[name] = sought(case, {**row.overrides, **COARSE, "polymer.profile": name}).flow_ceiling or math.nan
        for name in PROFILES:
            found[name].append(math.log(flows[name] / flows["plug"]))
    return {name: sum(logs) / len(logs) for name, logs in found.items() if logs}


def text(rows: list[Compared], by_profile: Mapping[str, float], sources: Mapping[str, str]) -> str:
    """The data file as TOML."""
    lines = [
        "# Written by the program: PYTHONPATH=docs python -m generate.evidence.compared. Do not edit.",
        "# Every measured ceiling whose arrangement is known, predicted without any row of its own arrangement.",
        "",
        "[profile]  # logarithm of the ceiling over that of the plug, mean of the rows that calibrate",
        *(f'"{name}" = {value:.4f}' for name, value in by_profile.items()),
        "",
        "[source]",
        *(f'"{name}" = "{source}"' for name, source in sources.items()),
    ]
    for row in rows:
        lines += ["", "[[row]]", *row.as_toml()]
    return "\n".join(lines) + "\n"


def write(say: Reporter, path: Path = FILE) -> None:
    """Find everything and rewrite the data file."""
    files = known_files()
    rows = [each for read in files for each in compared(read, say)]
    by_profile = next(found for read in files if (found := profiles(read, say)))
    path.write_text(text(rows, by_profile, {read.name: read.source for read in files}), encoding="utf-8")


if __name__ == "__main__":
    write(lambda what: print(what, file=sys.stderr, flush=True))
