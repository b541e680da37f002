"""Reads a file of measurements with the tables that it names, into numbers in SI."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from meltzone.cases.inputs.errors import CaseError, at_key
from meltzone.cases.inputs.files import Source, found, look_up, nearest_files, read_layer
from meltzone.cases.inputs.layers import Layer
from meltzone.cases.inputs.translate import checked
from meltzone.cases.studies.material.flow_curve import Points
from meltzone.cases.studies.material.instrument_table import InstrumentTable, read_instrument
from meltzone.cases.studies.material.melt_flow_rate import FlowRate
from meltzone.cases.studies.material.moduli import Moduli
from meltzone.cases.studies.material.sapphire import Run, against_sapphire
from meltzone.cases.studies.material.schema import (
    CalorimetryTable,
    ConductivityTable,
    DensityTable,
    FlowRateTable,
    MeasurementsModel,
    MeasurementTable,
    ModuliTable,
)
from meltzone.cases.studies.material.typical import CLASSES
from meltzone.materials import units
from meltzone.materials.errors import nearest
from meltzone.materials.library import names

FEWEST = 40  # points of a heating run
Row = TypeVar("Row", bound=MeasurementTable)


@dataclass(frozen=True, eq=False)
class Measurements:
    """What a file holds: `name`, `file` as shown, `reads`, its `model`; None or nothing for what was not measured.

    `run` is a heating run, (2, n): temperature [K], heat capacity [J/kg/K]. `densities` and `conductivities` are (2, n) with
    temperatures [K] first, sorted. `sources` tell who measured what.
    """

    name: str
    file: str
    reads: tuple[Path, ...]
    model: MeasurementsModel
    run: np.ndarray | None
    points: Points | None
    moduli: Moduli | None
    flow_rates: tuple[FlowRate, ...]
    densities: np.ndarray | None
    conductivities: np.ndarray | None
    sources: Mapping[str, str]
    notes: tuple[str, ...]


def load_measurements(path: str | Path) -> Measurements:
    """Read the file at `path`; raises CaseError for anything that cannot be used."""
    source = found(str(path), None, "a file of measurements, .toml", "meltzone material --help shows what it may hold.")
    layer = read_layer(source)
    model = checked(MeasurementsModel, layer.data, [layer])
    known = (*CLASSES, *names("polymer"))
    if model.like not in known:
        close = nearest(model.like, known)
        hint = f"Did you mean {close[0]}?" if close else "Take the class it belongs to."
        raise at_key([layer], ["like"], f"one of {', '.join(known)}", hint)
    tables = _Tables(layer, source.path.parent)
    notes: list[str] = []
    run = None if model.dsc is None else tables.run(model.dsc, notes)
    moduli = None if model.moduli is None else tables.moduli(model.moduli)
    points = None if model.viscosity is None else tables.points("viscosity", model.viscosity.file)
    if points is None and moduli is not None:
        hot = np.full(moduli.frequency.size, moduli.temperature)
        points = Points(hot, moduli.frequency, moduli.viscosity, by_frequency=True)
    rates = [checked(FlowRateTable, row, [layer], ("melt_flow", k)) for k, row in enumerate(model.melt_flow)]
    densities = tables.pairs(DensityTable, "density", model.density)
    if model.pvt is not None:
        densities = tables.pvt(model.pvt.file)
    sources = {name: table.source for name in ("dsc", "viscosity", "moduli", "pvt") if (table := getattr(model, name))}
    sources |= {
        name: row["source"]
        for name in ("density", "conductivity", "melt_flow")
        for row in getattr(model, name)
        if "source" in row
    }
    return Measurements(
        source.path.stem, source.label, (source.path, *tables.reads), model, run, points, moduli,
        tuple(FlowRate(each.temperature, each.load, each.rate) for each in rates),
        densities, tables.pairs(ConductivityTable, "conductivity", model.conductivity), sources, tuple(notes),
    )  # fmt: skip


class _Tables:
    """The tables that a file of measurements names, from the folder it stands in; `reads` are their places."""

    def __init__(self, layer: Layer, folder: Path) -> None:
        self.layer, self.folder, self.reads = layer, folder, list[Path]()

    def source(self, key: str, written: str, place: str = "file") -> Source:
        """Where the table named at `key`.`place` lies; raises CaseError."""
        source = look_up(written, None, self.folder)
        if source is None:
            hint = nearest_files(written, None, self.folder) or "It is looked for beside this file."
            raise at_key([self.layer], [key, place], "a table that exists", hint)
        self.reads.append(source.path)
        return source

    def run(self, table: CalorimetryTable, notes: list[str]) -> np.ndarray:
        """The longest heating in a calorimeter's table, by rising temperature; raises CaseError."""
        read = read_instrument(self.source("dsc", table.file), [["temperature"], ["heat_flow", "heat_capacity"]])
        hot, values = read.columns["temperature"], read.columns.get("heat_capacity")
        if values is None and (table.sapphire is not None or table.empty is not None):
            hot, values = self._against_sapphire(table, read)
            notes.append(f"{read.label}: heat capacity against sapphire, from three runs (ISO 11357-4)")
        elif values is None:
            flow = read.columns["heat_flow"] - read.columns.get("baseline", 0.0)
            values = (1.0 if table.endothermic == "up" else -1.0) * flow / self._rate(table, read.kinds["heat_flow"])
        temperature, values, left_out = _heating(hot, values)
        if left_out:
            notes.append(f"{read.label}: {left_out} points outside its longest heating are left out")
        if temperature.size < FEWEST or np.ptp(temperature) < 40.0:
            expected, hint = f"a heating run of at least {FEWEST} points over 40 K", "Is it a cooling run?"
            raise CaseError(read.label, None, "temperature", f"{temperature.size} points", expected, hint)
        if np.median(values) < 300.0:
            hint = "Subtract the empty pan's heat flow (a column baseline), and check mass, rate and endothermic."
            found_ = f"{np.median(values):.0f} J/kg/K in the middle"
            raise CaseError(
                read.label, None, "heat flow", found_, "heat capacities of a polymer, above 300 J/kg/K", hint
            )
        return np.array([temperature, values])

    def _against_sapphire(self, table: CalorimetryTable, read: InstrumentTable) -> tuple[np.ndarray, np.ndarray]:
        """Temperatures and heat capacities of the sample where all three runs reach; raises CaseError."""
        for name in ("sapphire", "sapphire_mass", "empty", "mass"):
            if getattr(table, name) is None:
                example = type(table).model_fields[name].description or ""
                raise at_key([self.layer], ["dsc", name], "a value: three runs need it", example)
        assert table.sapphire and table.empty and table.sapphire_mass and table.mass
        sample = _run_of(read)
        sapphire, empty = (
            _run_of(read_instrument(self.source("dsc", written, place), [["temperature"], ["heat_flow"]]))
            for written, place in ((table.sapphire, "sapphire"), (table.empty, "empty"))
        )
        hot = sample.temperature
        blank = empty.at(hot)
        above, sapphire_above = sample.flow - blank, sapphire.at(hot) - blank
        heated = (1.0 if table.endothermic == "up" else -1.0) * sapphire_above
        reached = heated > 0.0  # not where a run has yet to begin, nor beyond its end
        if 2 * np.count_nonzero(reached) < np.count_nonzero(np.isfinite(heated)) or not reached.any():
            hint = "Check which table is which, and endothermic."
            raise at_key([self.layer], ["dsc", "sapphire"], "a run that takes more heat than the empty pans", hint)
        hot, ratio = hot[reached], table.sapphire_mass / table.mass
        return hot, against_sapphire(hot, above[reached], sapphire_above[reached], ratio)

    def _rate(self, table: CalorimetryTable, kind: units.Kind) -> float:
        """What a heat flow is divided by for a heat capacity; raises CaseError where it is not told."""
        for name, needed in (("heating_rate", True), ("mass", kind is units.POWER)):
            if needed and getattr(table, name) is None:
                example = type(table).model_fields[name].description or ""
                raise at_key([self.layer], ["dsc", name], "a value: the table holds a heat flow", example)
        assert table.heating_rate is not None
        return table.heating_rate * (table.mass or 1.0) if kind is units.POWER else table.heating_rate

    def points(self, key: str, written: str) -> Points:
        """A rheometer's table; raises CaseError."""
        needed = [["temperature"], ["viscosity"], ["shear_rate", "frequency"]]
        read = read_instrument(self.source(key, written), needed)
        by_frequency = "shear_rate" not in read.columns
        rate = read.columns["frequency" if by_frequency else "shear_rate"]
        _positive(read.label, {"viscosity": read.columns["viscosity"], "rate": rate})
        return Points(read.columns["temperature"], rate, read.columns["viscosity"], by_frequency)

    def moduli(self, table: ModuliTable) -> Moduli:
        """A table of moduli, at the first of its temperatures; raises CaseError."""
        read = read_instrument(self.source("moduli", table.file), [["frequency"], ["storage"], ["loss"]])
        columns = dict(read.columns)
        _positive(read.label, {name: columns[name] for name in ("frequency", "storage", "loss")})
        hot = columns.get("temperature")
        if hot is None and table.temperature is None:
            raise at_key([self.layer], ["moduli", "temperature"], "the temperature of the sweep", "The table has none.")
        first = table.temperature if hot is None else float(hot[0])
        assert first is not None
        kept = np.ones(columns["loss"].size, dtype=bool) if hot is None else np.abs(hot - first) < 1.0
        return Moduli(first, *(columns[name][kept] for name in ("frequency", "storage", "loss")))

    def pvt(self, written: str) -> np.ndarray:
        """Density over temperature at the lowest pressure of a table; raises CaseError."""
        read = read_instrument(self.source("pvt", written), [["temperature"], ["density", "specific_volume"]])
        volume = read.columns.get("specific_volume")
        density = read.columns["density"] if volume is None else 1.0 / volume
        pressure = read.columns.get("pressure", np.zeros(density.size))
        kept = pressure <= pressure.min() + 1e5
        return _sorted(read.columns["temperature"][kept], density[kept])

    def pairs(self, model: type[DensityTable | ConductivityTable], key: str, rows: Sequence[Any]) -> np.ndarray | None:
        """Rows of temperature and value, (2, n), None without any; raises CaseError."""
        read = [checked(model, row, [self.layer], (key, number)) for number, row in enumerate(rows)]
        if not read:
            return None
        return _sorted(np.array([row.temperature for row in read]), np.array([row.value for row in read]))


def _positive(label: str, columns: Mapping[str, np.ndarray]) -> None:
    for name, values in columns.items():
        if not (values > 0.0).all():
            raise CaseError(
                label, None, name, f"{values.min():g}", "numbers above 0", "Remove what the instrument did not read."
            )


def _run_of(read: InstrumentTable) -> Run:
    """The longest heating of a table of heat flows in watts; raises CaseError."""
    if read.kinds["heat_flow"] is not units.POWER:
        hint = "Three runs are compared as the instrument measured them, not per mass."
        raise CaseError(read.label, None, "heat flow", read.kinds["heat_flow"].shown, "a heat flow such as [mW]", hint)
    return Run(*_heating(read.columns["temperature"], read.columns["heat_flow"])[:2])


def _sorted(temperature: np.ndarray, values: np.ndarray) -> np.ndarray:
    """(2, n) by rising temperature, values at one temperature averaged."""
    levels, place = np.unique(np.round(temperature, 2), return_inverse=True)
    means = np.bincount(place, values) / np.bincount(place)
    return np.array([levels, means])


def _heating(temperature: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray, int]:
    """The longest stretch of rising temperature, strictly rising, and how many points are outside it."""
    falls = np.flatnonzero(np.diff(temperature) < -0.5)
    ends = np.concatenate([[0], falls + 1, [temperature.size]])
    spans = [(temperature[b - 1] - temperature[a], a, b) for a, b in pairwise(ends)]
    _, first, last = max(spans)
    hot, part = temperature[first:last], values[first:last]
    rising = np.concatenate([[True], hot[1:] > np.maximum.accumulate(hot)[:-1]])
    return hot[rising], part[rising], temperature.size - int(last - first)
