"""Reads a table of weighed samples into series; a row that cannot be used is named by its line."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.files import Shelf, Source, found
from meltzone.cases.inputs.headings import plain
from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.spreadsheet import TableColumn, filled, flag, in_seconds, with_unit
from meltzone.cases.inputs.tolerance import Toleranced, parse_percent
from meltzone.cases.studies.bench.archive import ENDINGS, samples_of
from meltzone.cases.studies.bench.balance import USUAL_RESOLUTION, Balance
from meltzone.cases.studies.bench.filament import filament_of_case
from meltzone.cases.studies.bench.samples import (
    Given,
    LeftOut,
    MeasuredFilament,
    Sample,
    SampleFile,
    Series,
    with_default_uncertainty,
)
from meltzone.cases.studies.bench.samples_table import Understood, question, understood_table
from meltzone.materials.units import DENSITY, FLOW, LENGTH, MASS, MASS_FLOW, SPEED, TIME, Kind, UnitError, parse, show

MOST_SAMPLES = 2000
QUANTITIES: Mapping[str, Kind] = {  # with the least and greatest value that is no slip [SI]
    "commanded": FLOW.within(1e-11, 1e-6),
    "feeder_speed": SPEED.within(1e-6, 0.5),
    "length": LENGTH.within(1e-3, 100.0),
    "time": TIME.within(0.1, 1e5),
    "time_uncertainty": TIME.within(0.0, 1e3),
    "mass": MASS.within(0.0, 10.0),
    "gross_mass": MASS.within(0.0, 10.0),
    "tray_mass": MASS.within(0.0, 10.0),
    "mass_rate": MASS_FLOW.within(0.0, 1e-2),
    "density": DENSITY.within(500.0, 10_000.0),
    "density_uncertainty": DENSITY.within(0.0, 1_000.0),
    "diameter": LENGTH.within(0.5e-3, 6e-3),
    "diameter_uncertainty": LENGTH.within(0.0, 1e-3),
    "balance_resolution": MASS.within(1e-9, 1e-2),
    "balance_repeatability": MASS.within(0.0, 1e-2),
    "expected_mass": MASS.within(0.0, 10.0),
    "purge": LENGTH.within(0.0, 100.0),
}
WORDS = ("series", "case", "note", "use", "order", "round", "measured_on", "spool", "source")
COLUMNS = (*QUANTITIES, *WORDS)
OF_SERIES = ("case", *(name for name in QUANTITIES if name.startswith(("density", "diameter", "balance"))))
EXAMPLE = "commanded [mm^3/s]; length [mm]; mass [g]; density [g/cm^3]; diameter [mm]"
# Where nothing else is said: common practice, no source
USUAL_DENSITY_SHARE, USUAL_DIAMETER, USUAL_DIAMETER_TOLERANCE = 0.005, 1.75e-3, 0.02e-3

DEMONSTRATIONS = Shelf("demo", ".csv", "demonstration", "demonstrations")


@dataclass(frozen=True)
class _Row:
    """A row before its checks against others: numbers [SI] and words by key, `own` the dotted headings."""

    line: int
    numbers: Mapping[str, float]
    words: Mapping[str, str]
    own: Mapping[str, str]
    left_out: str


def demo_folder() -> Path:
    """The folder of the invented samples that come with the program."""
    return DEMONSTRATIONS.folder


def demo_names() -> tuple[str, ...]:
    """Names of the invented samples, sorted."""
    return DEMONSTRATIONS.names


def load_samples(written: str | Path, given: Given | None = None, folder: Path = Path()) -> SampleFile:
    """Read the table `written`, from `folder`, or the demonstration of that name; `given` fills in what rows do not say.

    Raises CaseError that names the line for anything that cannot be used.
    """
    if (path := folder / written).suffix.lower() in ENDINGS and path.is_file():
        return samples_of(path)
    expected = "a table of weighed samples, .csv, .xlsx or .ods, a data base of them, or a shipped demonstration's name"
    source, given = found(str(written), DEMONSTRATIONS, expected, folder=folder), given or Given()
    table = understood_table(source, COLUMNS, (), EXAMPLE, given.columns)
    _check_headings(source.label, table)
    rows = [row for line, cells in table.rows for row in _rows(source.label, line, table.columns, cells, given)]
    if not rows:
        raise CaseError(source.label, None, None, None, "at least one row below the header", "One sample a line.")
    if len(rows) > MOST_SAMPLES:
        expected = f"at most {MOST_SAMPLES} samples"
        raise CaseError(source.label, None, None, f"{len(rows)} rows", expected, "Split the file.")
    assumed: list[str] = []
    names = list(dict.fromkeys(row.words.get("series") or source.path.stem for row in rows))
    series = []
    for name in names:
        own = [row for row in rows if (row.words.get("series") or source.path.stem) == name]
        series.append(_series(source, name, own, given, assumed))
    told = tuple(dict.fromkeys(assumed))
    return SampleFile(source.path.stem, source.label, source.path.parent, table.comments, tuple(series), told, table)


def _check_headings(label: str, table: Understood) -> None:
    """Raises CaseError for a table without masses, flows or lengths, or with masses that may hold the tray or not."""
    line, keys = table.line, {column.key for column in table.columns if column}
    asked = f" {question(table.headed)}" if any(table.headed) else ""
    if not keys & {"mass", "gross_mass", "mass_rate"}:
        raise CaseError(label, line, "mass", None, "a column headed mass", f"Headings such as: {EXAMPLE}{asked}")
    derived = {"length", "time"} <= keys
    for one, other in (("commanded", "feeder_speed"), ("length", "time")):
        if one not in keys and other not in keys and not derived:
            expected = f"a column headed {one} or one headed {other.replace('_', ' ')}"
            raise CaseError(label, line, one, None, expected, f"Headings such as: {EXAMPLE}{asked}")
    net = any("net" in plain(heading).split() for heading in table.headed)
    if {"mass", "tray_mass"} <= keys and not net:
        expected = "masses that are said to be with the tray or without it"
        raise CaseError(label, line, "tray mass", None, expected, "Head them gross mass or net mass.")


def _rows(
    label: str, line: int, columns: Sequence[TableColumn | None], cells: Sequence[str], given: Given
) -> list[_Row]:
    """The samples of a row: one, or as many as there are masses in it."""
    numbers: dict[str, float] = {}
    words: dict[str, str] = {}
    own: dict[str, str] = {}
    used = True
    for column, cell in filled(label, line, columns, cells):
        if "." in column.key:
            own[f"{column.key} [{column.unit}]" if column.unit else column.key] = cell
        elif column.key == "use":
            used = flag(label, line, "use", cell) if cell else True
        elif column.key in WORDS:
            words[column.key] = cell
        elif cell:
            numbers[column.key] = _number(label, line, column, cell, numbers)
    why = "" if used else f"not to be used: {words.get('note') or 'no reason given'}"
    masses = _masses(label, line, numbers, given)
    return [
        _Row(
            line,
            numbers if mass is None else numbers | {"mass": mass},
            words,
            own,
            why or ("" if weighed else "no mass"),
        )
        for mass in (masses or (None,))
        for weighed in (mass is not None or "mass_rate" in numbers,)
    ]


def _masses(label: str, line: int, numbers: dict[str, float], given: Given) -> tuple[float, ...]:
    """What is weighed in a row, the tray taken off [kg]; raises CaseError for a tray that is not told, or heavier."""
    found = [
        numbers.pop(key) for key in [key for key in numbers if key.partition("_")[0] == "mass" and key != "mass_rate"]
    ]
    tray = numbers.pop("tray_mass", given.tray)
    if "gross_mass" in numbers:
        found = [numbers.pop("gross_mass")]
        if tray is None:
            hint = 'Add a column tray mass [g], or --tray "12.3 g".'
            raise CaseError(label, line, "gross mass", None, "the mass of the empty tray too", hint)
    elif given.tray is None:
        return tuple(found)
    off = tray or 0.0
    if any(mass < off for mass in found):
        hint = "Masses are taken with the tray here; it is taken off."
        raise CaseError(
            label, line, "mass", show(min(found), MASS), f"at least that of the tray, {show(off, MASS)}", hint
        )
    return tuple(mass - off for mass in found)


def _number(label: str, line: int, column: TableColumn, cell: str, before: Mapping[str, float]) -> float:
    name = "mass" if re.fullmatch(r"mass_\d+", column.key) else column.key
    kind, written = QUANTITIES[name], with_unit(_clock(cell) if name == "time" else cell, column.unit)
    key = column.key.replace("_", " ")
    try:
        if column.key in ("density_uncertainty", "diameter_uncertainty") and written.endswith("%"):
            return parse_percent(written) * before[column.key.removesuffix("_uncertainty")]
        return parse(written, kind)
    except KeyError as error:
        hint = "A share in percent counts of the column that stands before it."
        raise CaseError(label, line, key, written_form(cell), f"a column {key.split()[0]} before it", hint) from error
    except UnitError as error:
        where = f"Head the column {key} [{kind.shown}]." if not column.unit else f"The column's unit is {column.unit}."
        raise CaseError(label, line, key, written_form(cell), error.expected, f"{error.hint} {where}") from error


def _clock(cell: str) -> str:
    """A time such as 1:23 or 0:01:23.5 in seconds; anything else as it stands."""
    found = re.fullmatch(r"(?:(\d+):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)", cell)
    if found is None:
        return cell
    return in_seconds(found.groups())


def _series(source: Source, name: str, rows: Sequence[_Row], given: Given, assumed: list[str]) -> Series:
    label = source.label
    for row in rows[1:]:
        _check_same(label, name, rows[0], row)
    first, case = rows[0].numbers, rows[0].words.get("case") or given.case
    card = given.of_case
    if card is None and not {"density", "diameter"} <= set(first):
        card = filament_of_case(case, source.path.parent)
    filament = MeasuredFilament(_density(label, rows[0], given, card, assumed), _diameter(first, given, card, assumed))
    if "density_uncertainty" not in first and not (given.density and given.density.tolerance):
        assumed.append(f"density uncertain by {100 * USUAL_DENSITY_SHARE:g} %")
    resolution = first.get("balance_resolution", given.resolution)
    if resolution is None:
        resolution = USUAL_RESOLUTION
        assumed.append(f"balance with a last digit of {show(USUAL_RESOLUTION, MASS)}")
    repeatability = first.get("balance_repeatability", given.repeatability)
    if repeatability is None:
        assumed.append("balance that repeats to one step of its last digit")
    samples = tuple(_sample(label, row, filament) for row in rows if not row.left_out)
    left_out = tuple(LeftOut(row.line, row.left_out) for row in rows if row.left_out)
    return Series(name, case, rows[0].own, filament, Balance(resolution, repeatability), samples, left_out)


def _check_same(label: str, name: str, first: _Row, row: _Row) -> None:
    """Density, diameter, balance and case are one for all samples of a series; raises CaseError for a row that departs."""
    for key in (*OF_SERIES, *first.own):
        values = [{**each.numbers, "case": each.words.get("case"), **each.own}.get(key) for each in (first, row)]
        if values[0] != values[1]:
            hint = "Give these samples a series of their own, or correct the row."
            expected = f"the same as in line {first.line}, throughout the series {name}"
            raise CaseError(label, row.line, key.replace("_", " "), None, expected, hint)


def _density(label: str, row: _Row, given: Given, card: MeasuredFilament | None, assumed: list[str]) -> Toleranced:
    if "density" in row.numbers:
        stated = row.numbers.get("density_uncertainty", 0.0)
        found = Toleranced(row.numbers["density"], stated)
    elif given.density is not None:
        found = given.density
    elif card is not None:
        found = card.density
        assumed.append(f"density {show(found.value, DENSITY)} from the card")
    else:
        hint = 'Add a column density [g/cm^3], or --density "1.24 g/cm^3 +/- 0.5 %".'
        raise CaseError(label, row.line, "density", None, "the density of the solid filament", hint)
    return with_default_uncertainty(found, USUAL_DENSITY_SHARE * found.value)


def _diameter(
    first: Mapping[str, float], given: Given, card: MeasuredFilament | None, assumed: list[str]
) -> Toleranced:
    if "diameter" in first:
        found = Toleranced(first["diameter"], first.get("diameter_uncertainty", 0.0))
    elif given.diameter is not None:
        found = given.diameter
    elif card is not None:
        found = Toleranced(card.diameter.value)
        assumed.append(f"filament of {show(found.value, LENGTH)}, as in the case")
    else:
        found = Toleranced(USUAL_DIAMETER)
        assumed.append(f"filament of {show(USUAL_DIAMETER, LENGTH)}")
    if not found.tolerance:
        assumed.append(f"diameter uncertain by {show(USUAL_DIAMETER_TOLERANCE, LENGTH)}")
    return with_default_uncertainty(found, USUAL_DIAMETER_TOLERANCE)


def _sample(label: str, row: _Row, filament: MeasuredFilament) -> Sample:
    """A sample; where the feeder speed is told, the commanded flow is reckoned from it and the measured diameter."""
    known: Callable[[str], float | None] = row.numbers.get
    speed, commanded = known("feeder_speed"), known("commanded")
    fed, taken = known("length"), known("time")
    if speed is None and commanded is None and fed is not None and taken is not None:
        speed = fed / taken
    if speed is None and commanded is None:
        raise CaseError(label, row.line, "commanded", None, "a commanded flow or a feeder speed", "Fill in the cell.")
    if speed is not None:
        commanded = speed * filament.area
    assert commanded is not None
    length, time = known("length"), known("time")
    if time is None and length is None:
        raise CaseError(label, row.line, "length", None, "the length fed or the time it took", "Fill in the cell.")
    if length is not None:
        time = length * filament.area / commanded
    assert time is not None
    mass = row.numbers["mass"] if "mass" in row.numbers else row.numbers["mass_rate"] * time
    return Sample(row.line, commanded, time, known("time_uncertainty") or 0.0, mass, row.words.get("note", ""))
