"""Tables as instruments write them: lines before the header, units in headings or below them, other columns passed over."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.files import Source, read_bytes
from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.spreadsheet import SEPARATORS, decoded
from meltzone.materials import units
from meltzone.materials.units import Kind, UnitError, parse_beside

# What a column may hold: its kinds of number, and the headings by which instruments call it, in lower case without signs
COLUMNS: Mapping[str, tuple[tuple[Kind, ...], tuple[str, ...]]] = {
    "temperature": ((units.TEMPERATURE,), ("temperature", "temp", "t", "ts", "tr", "sample temperature")),
    "heat_flow": ((units.SPECIFIC_POWER, units.POWER), ("heat flow", "heatflow", "hf", "dsc", "normalized heat flow")),
    "baseline": ((units.SPECIFIC_POWER, units.POWER), ("baseline", "empty pan", "blank")),
    "heat_capacity": (
        (units.HEAT_CAPACITY,),
        ("heat capacity", "cp", "c p", "specific heat", "specific heat capacity"),
    ),
    "shear_rate": ((units.RATE,), ("shear rate", "rate")),
    "frequency": ((units.RATE,), ("frequency", "angular frequency", "omega", "w")),
    "viscosity": ((units.VISCOSITY,), ("viscosity", "eta", "shear viscosity", "complex viscosity", "eta*")),
    "storage": ((units.STRESS,), ("storage modulus", "g'", "storage")),
    "loss": ((units.STRESS,), ("loss modulus", "g''", "loss", 'g"')),
    "pressure": ((units.STRESS,), ("pressure", "p")),
    "density": ((units.DENSITY,), ("density", "rho")),
    "specific_volume": ((units.SPECIFIC_VOLUME,), ("specific volume", "volume", "v")),
    "conductivity": ((units.CONDUCTIVITY,), ("conductivity", "thermal conductivity", "k", "lambda")),
}
MOST_LINES_BEFORE = 200  # of an instrument's own words
CYCLES = ("hz", "1/s (hz)")  # of which each is 2 pi radians
_UNIT = (re.compile(r"\[(.*)\]\s*$"), re.compile(r"/?\s*\((.*)\)\s*$"), re.compile(r"/\s*([^/\s()]+)\s*$"))
_NUMBER = re.compile(r"[+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?")


@dataclass(frozen=True, eq=False)
class InstrumentTable:
    """A table read: `columns` by name [SI], shape (n,) each, and which of them were of which `kinds`."""

    label: str
    columns: Mapping[str, np.ndarray]
    kinds: Mapping[str, Kind]


def read_instrument(source: Source, needed: Sequence[Sequence[str]]) -> InstrumentTable:
    """The table in the file `source`; of each group of `needed` columns one must be there. Raises CaseError."""
    label = source.label
    text = decoded(read_bytes(source), label).replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    start, separator, headings = _header(label, lines, needed)
    below = _cells(lines[start + 1], separator) if start + 1 < len(lines) else []
    units_below = bool(below) and not any(map(_NUMBER.fullmatch, filter(None, below)))
    first = start + 2 if units_below else start + 1
    known = {place: name for place, cell in enumerate(headings) if (name := _name(cell))}
    rows = _rows(label, lines, first, separator, known)
    columns, kinds = {}, {}
    for place, name in known.items():
        unit = _unit(headings[place]) or (below[place].strip(" []()") if units_below and place < len(below) else "")
        columns[name], kinds[name] = _in_si(label, start + 1, name, unit, rows[name])
    return InstrumentTable(label, columns, kinds)


def _header(label: str, lines: Sequence[str], needed: Sequence[Sequence[str]]) -> tuple[int, str, list[str]]:
    """Number of the first line that heads all that is `needed`, its separator and cells; raises CaseError."""
    for number, line in enumerate(lines[:MOST_LINES_BEFORE]):
        separator = max(SEPARATORS, key=line.count)
        cells = _cells(line, separator)
        names = {_name(cell) for cell in cells}
        if all(names & set(group) for group in needed):
            return number, separator, cells
    words = " and ".join(" or ".join(name.replace("_", " ") for name in group) for group in needed)
    hint = "Head the columns with their units, such as: temperature [degC]; heat flow [mW]."
    raise CaseError(label, None, None, None, f"a line of headings with {words}", hint)


def _rows(
    label: str, lines: Sequence[str], first: int, separator: str, known: Mapping[int, str]
) -> dict[str, list[float]]:
    found: dict[str, list[float]] = {name: [] for name in known.values()}
    for number, line in enumerate(lines[first:], start=first + 1):
        cells = _cells(line, separator)
        if not any(cells):
            continue
        for place, name in known.items():
            cell = cells[place] if place < len(cells) else ""
            if not _NUMBER.fullmatch(cell):
                hint = "Remove the lines that hold no measured values."
                raise CaseError(label, number, name.replace("_", " "), written_form(cell), "a number", hint)
            found[name].append(float(cell.replace(",", ".")))
    if len(next(iter(found.values()))) == 0:
        raise CaseError(label, None, None, None, "at least one row below the header", "One measured point a line.")
    return found


def _in_si(label: str, line: int, name: str, unit: str, values: list[float]) -> tuple[np.ndarray, Kind]:
    """A column in SI, and its kind; raises CaseError."""
    kinds = COLUMNS[name][0]
    turns = 2.0 * np.pi if name == "frequency" and unit.lower() in CYCLES else 1.0
    for kind in kinds:
        try:
            zero, one = (parse_beside(x, "1/s" if turns != 1.0 else unit, kind) for x in (0.0, 1.0))
        except UnitError:
            continue
        return turns * (zero + (one - zero) * np.array(values)), kind
    expected = f"{name.replace('_', ' ')} with its unit in the heading, such as [{kinds[0].shown}]"
    hint = "The unit stands in brackets behind the heading or in the line below."
    raise CaseError(label, line, name.replace("_", " "), written_form(unit) if unit else None, expected, hint)


def _cells(line: str, separator: str) -> list[str]:
    return [cell.strip(" \"'\t") if _NUMBER.search(cell) else cell.strip(' "\t') for cell in line.split(separator)]


def _name(heading: str) -> str | None:
    """Which column a `heading` means, None where none."""
    bare = heading.strip(' "#')
    for pattern in _UNIT:
        bare = pattern.sub("", bare)
    plain = " ".join(re.sub(r"[._,:-]+", " ", bare.lower()).split())
    return next((name for name, (_, headings) in COLUMNS.items() if plain in headings), None)


def _unit(heading: str) -> str:
    for pattern in _UNIT:
        if found := pattern.search(heading):
            return found.group(1).strip(" ()")
    return ""
