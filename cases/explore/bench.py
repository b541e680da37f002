"""The bench sheet as the page works on it: laid out, read, a mass entered and on disk at once, what it says so far."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from meltzone.cases.explore.state import PageState, WorkingFolder
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.files import Source, read_bytes
from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.seal import is_seal
from meltzone.cases.inputs.spreadsheet import decoded, flag, records, with_unit
from meltzone.cases.outputs.case_file import commented
from meltzone.cases.outputs.delimited import COMMENT, delimited
from meltzone.cases.outputs.files import write_text
from meltzone.cases.outputs.guard import files_of, table
from meltzone.cases.outputs.plan import AT_THE_BENCH, MASS, sheet_for
from meltzone.cases.outputs.quantities import rounded
from meltzone.cases.outputs.writing import staged_file
from meltzone.cases.statistics.resample import Estimate
from meltzone.cases.studies.bench.advice import advice
from meltzone.cases.studies.bench.balance import USUAL_RESOLUTION, Balance
from meltzone.cases.studies.bench.delivered import delivered_of
from meltzone.cases.studies.bench.plan import Wanted, plan
from meltzone.cases.studies.bench.reduce import Reduced, reduce
from meltzone.cases.studies.bench.samples_csv import QUANTITIES, load_samples
from meltzone.cases.studies.cautions import BURNS
from meltzone.fem.progress import Reporter
from meltzone.materials.limits import DEFERENCE
from meltzone.materials.units import UnitError, parse

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,60}\.csv")
SHEET = replace(table("order"), keeps=True)
UNCERTAINTY, REPEATS, HANDLING = 0.01, 3, 60.0  # as the command plan lays out
RESAMPLES = 199  # while weighing; the command reduce takes more


@dataclass(frozen=True)
class Sheet:
    """A sheet of the working folder: its `path`, comments, headings, and the cells of its rows by heading."""

    path: Path
    comments: tuple[str, ...]
    headings: tuple[str, ...]
    rows: tuple[dict[str, str], ...]


def sheets(place: WorkingFolder) -> list[str]:
    """Names of the sheets in the folder."""
    return sorted(path.name for path in place.folder.glob("*.csv") if _is_sheet(place, path))


def _is_sheet(place: WorkingFolder, path: Path) -> bool:
    if not NAME.fullmatch(path.name) or not path.is_file() or not place.holds(path):
        return False
    with path.open("rb") as file:
        return SHEET.ours(file.read(4096))


def named(place: WorkingFolder, name: str) -> Path:
    """The path of the sheet called `name`; raises CaseError for what is no name of a sheet in the folder."""
    path = place.folder / name
    if not NAME.fullmatch(name) or not place.holds(path):
        hint = "Letters, figures, blanks, dots and dashes; it lies in the working folder."
        raise CaseError("bench sheet", None, None, written_form(name), "a file name that ends in .csv", hint)
    return path


def lay_out(place: WorkingFolder, held: PageState, name: str, report: Reporter | None = None) -> None:
    """Write the sheet `name` for the state `held`; raises CaseError, also where weighings would be lost."""
    path = named(place, name)
    wanted = Wanted(Balance(USUAL_RESOLUTION), UNCERTAINTY, REPEATS, HANDLING, seed=0)
    case = place.case(held)
    with sheet_for(path, files_of(case)) as fill:
        if held.typed:  # a sheet has columns for numbers, not for parts: what was changed becomes a case file beside it
            file = path.with_suffix(".toml")
            write_text(file, commented(case), files_of(case))
            case = place.case(PageState(file.name, ()))
        fill(plan(case, wanted, None, report))


def read(place: WorkingFolder, name: str) -> Sheet:
    """The sheet `name`; raises CaseError."""
    path = named(place, name)
    if not _is_sheet(place, path):
        hint = "Lay one out first."
        raise CaseError(str(name), None, None, None, "a bench sheet in the working folder", hint)
    text = decoded(read_bytes(Source(path, name)), name)
    lines = list(records(name, text))
    headings = tuple(lines[0][1])
    comments = tuple(line.strip(' "#') for line in text.splitlines() if line.startswith(("#", '"#')))
    rows = tuple(dict(zip(headings, [*cells, *[""] * len(headings)], strict=False)) for _, cells in lines[1:])
    if MASS not in headings or "order" not in headings:
        raise CaseError(name, lines[0][0], None, None, f"columns headed order and {MASS}", "Lay one out anew.")
    return Sheet(path, comments, headings, rows)


def enter(place: WorkingFolder, name: str, order: str, changed: Mapping[str, str]) -> Sheet:
    """The sheet with a mass, a note or whether to use it changed in the row of that `order`, on disk when this returns."""
    sheet = read(place, name)
    if not any(row["order"] == order for row in sheet.rows):
        raise CaseError(name, None, "order", written_form(order), "the number of a sample", "Reload the page.")
    columns = {"mass": MASS, "note": "note", "use": "use"}
    cells = {columns[key]: _checked(name, key, text) for key, text in changed.items() if key in columns}
    rows = tuple(row | cells if row["order"] == order else row for row in sheet.rows)
    return _kept(Sheet(sheet.path, sheet.comments, sheet.headings, rows))


def add(place: WorkingFolder, name: str, flow: float, count: int) -> Sheet:
    """The sheet with `count` samples more at a commanded `flow` [mm3/s], measured as the one that is nearest."""
    sheet = read(place, name)
    if not 0.1 <= flow <= 1000.0 or not 1 <= count <= 10:
        raise CaseError(name, None, None, f"{count} at {flow:g} mm3/s", "up to ten at a flow of this world", "Reload.")
    head = "commanded [mm^3/s]"
    near = min(sheet.rows, key=lambda row: abs(float(row[head]) - flow))
    ratio, last = flow / float(near[head]), max(int(row["order"]) for row in sheet.rows)
    scaled = {
        key: f"{ratio * float(near[key]):.{digits}f}"
        for key, digits in ((head, 3), ("feeder speed [mm/min]", 1), ("length [mm]", 0)) if near.get(key)
    }  # fmt: skip
    blank = {MASS: "", "note": "", "use": "yes", "expected mass [g]": ""}
    more = tuple({**near, **scaled, **blank, "order": str(last + k)} for k in range(1, count + 1))
    return _kept(Sheet(sheet.path, sheet.comments, sheet.headings, (*sheet.rows, *more)))


def _checked(name: str, key: str, text: str) -> str:
    text = " ".join(text.split())
    if key == "use" and text:
        return "yes" if flag(name, 0, key, text) else "no"
    if key == "mass" and text:
        try:
            kilograms = parse(with_unit(text, "g"), QUANTITIES["mass"])
        except UnitError as error:
            raise CaseError(name, None, "mass", written_form(text), error.expected, error.hint) from error
        return f"{1e3 * kilograms:.9g}"
    return text[:200]


def _kept(sheet: Sheet) -> Sheet:
    """Write the sheet beside its place, see it on the disk, then move it there."""
    rows = ([row[heading] for heading in sheet.headings] for row in sheet.rows)
    comments = [comment for comment in sheet.comments if not is_seal(comment)]
    text = delimited(sheet.headings, rows, comments)
    text += "".join(f"{COMMENT.format(comment)}\n" for comment in sheet.comments if is_seal(comment))
    with staged_file(sheet.path, kind=SHEET) as temporary, temporary.open("w", encoding="utf-8", newline="\n") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    return sheet


def told(sheet: Sheet) -> dict[str, Any]:
    """The sheet for the page: its rows, and which is next."""
    rows = [_row(row) for row in sheet.rows]
    left = [row["order"] for row in rows if not row["mass"] and row["use"]]
    series = sheet.rows[0].get("series", "") if sheet.rows else ""
    return {
        "name": sheet.path.name, "title": sheet.comments[0] if sheet.comments else sheet.path.stem, "series": series,
        "rows": rows, "next": left[0] if left else None, "left": len(left), "file": str(sheet.path.name),
        "cautions": [BURNS, *AT_THE_BENCH, DEFERENCE],
    }  # fmt: skip


def _row(row: Mapping[str, str]) -> dict[str, Any]:
    keys = {
        "order": "order", "round": "round", "flow": "commanded [mm^3/s]", "speed": "feeder speed [mm/min]",
        "purge": "purge [mm]", "length": "length [mm]", "time": "time [s]", "expected": "expected mass [g]", "mass": MASS,
        "note": "note",
    }  # fmt: skip
    return {name: row.get(heading, "") for name, heading in keys.items()} | {"use": row.get("use", "yes") != "no"}


def reduced(sheet: Sheet, report: Reporter | None = None) -> dict[str, Any]:
    """Points, line, onset and ceiling with their intervals, and what to weigh next; raises CaseError for too few samples."""
    samples = load_samples(sheet.path)
    points = [_points(each) for each in reduce(samples, resamples=RESAMPLES, report=report).series]
    return {"series": points, "resamples": RESAMPLES}


def _points(each: Reduced) -> dict[str, Any]:
    line = np.linspace(0.0, float(each.delivered.commanded.max()), 120)
    found = advice(each)
    return {
        "name": each.series.name,
        "commanded": rounded(each.delivered.commanded.tolist()), "delivered": rounded(each.delivered.flow.tolist()),
        "random": rounded(each.delivered.random.tolist()), "outliers": each.outliers.tolist(),
        "line": [rounded(line.tolist()), rounded(each.fitted.curve.delivered(line).tolist())],
        "onset": _estimate(each.onset), "ceiling": _estimate(each.ceiling), "reached": each.reached,
        "advice": {"sentence": found.sentence, "flow": rounded(found.flow), "count": found.count},
    }  # fmt: skip


def _estimate(found: Estimate) -> dict[str, float]:
    return {"value": rounded(found.value), "low": rounded(found.low), "high": rounded(found.high)}


def weighed(sheet: Sheet) -> list[dict[str, Any]]:
    """Commanded and delivered flow [mm3/s] of what is weighed so far, series by series; raises CaseError."""
    found = [(each.name, delivered_of(each)) for each in load_samples(sheet.path).series if each.samples]
    return [
        {"name": name, "commanded": rounded(each.commanded.tolist()), "delivered": rounded(each.flow.tolist()),
         "random": rounded(each.random.tolist())}
        for name, each in found
    ]  # fmt: skip
