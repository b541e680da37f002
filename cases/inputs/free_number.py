"""The one number that a calibration frees: its key, unit and range, and its value in a case."""

from __future__ import annotations

import math
from dataclasses import dataclass

from meltzone.cases.inputs.errors import CaseError, nearest, table_model
from meltzone.cases.inputs.fields import Measured, Ratio, measure_of
from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.outline import entries, tables
from meltzone.cases.inputs.reader import Case
from meltzone.fem.problem import Problem
from meltzone.materials.units import ANGLE, TEMPERATURE, ZERO_CELSIUS

DEFAULT_FREE = "contacts.bore_melt"
FARTHEST_FACTOR = 1000.0  # searched up and down from the case's own value
FARTHEST_KELVIN = 150.0


@dataclass(frozen=True)
class FreeNumber:
    """A numeric key of a case; `least` and `most` [SI] are what its schema allows."""

    key: str
    measure: Measured | Ratio

    @property
    def is_temperature(self) -> bool:
        """Whether it is sought on a linear scale; anything else in its logarithm."""
        return isinstance(self.measure, Measured) and self.measure.kind is TEMPERATURE

    def coordinate(self, value: float) -> float:
        """The scale on which it is sought: kelvin, or the natural logarithm of the SI value."""
        return value if self.is_temperature else math.log(value)

    def value(self, coordinate: float) -> float:
        """The SI value, kept within what the schema allows."""
        value = coordinate if self.is_temperature else math.exp(coordinate)
        return min(max(value, self.measure.least), self.measure.most)

    def limits(self, start: float) -> tuple[float, float]:
        """Least and greatest value [SI] that are tried from `start`."""
        if self.is_temperature:
            near, far = start - FARTHEST_KELVIN, start + FARTHEST_KELVIN
        else:
            near, far = start / FARTHEST_FACTOR, start * FARTHEST_FACTOR
        return max(near, self.measure.least), min(far, self.measure.most)

    def exact(self, value: float) -> str | float:
        """The SI value as a case file may hold it, to twelve digits."""
        if isinstance(self.measure, Ratio):
            return value
        kind = self.measure.kind
        if kind is TEMPERATURE:
            return f"{value - float(ZERO_CELSIUS):.12g} degC"
        number = math.degrees(value) if kind is ANGLE else value / float(kind.factors[kind.shown])
        return f"{number:.12g} {kind.shown}"

    def words(self, value: float) -> str:
        """The SI value to four digits with its unit, for people."""
        if isinstance(self.measure, Ratio):
            return f"{value:.4g}"
        kind = self.measure.kind
        if kind is TEMPERATURE:
            return f"{value - float(ZERO_CELSIUS):.1f} degC"
        number = math.degrees(value) if kind is ANGLE else value / float(kind.factors[kind.shown])
        return (
            f"{round(number, 3 - math.floor(math.log10(abs(number)))):g} {kind.shown}" if number else f"0 {kind.shown}"
        )


def free_number(key: str, where: str) -> FreeNumber:
    """The number behind the dotted `key`; raises CaseError, naming `where` the key was given."""
    table, _, name = key.partition(".")
    model = table_model(table)
    field = model.model_fields.get(name) if model is not None else None
    measure = measure_of(field) if field is not None and "dict" not in str(field.annotation) else None
    if measure is None:
        known = _numeric_keys()
        close = nearest(key, known, 3)
        hint = f"Did you mean {' or '.join(close)}?" if close else f"The usual one is {DEFAULT_FREE}."
        raise CaseError(where, None, "free", written_form(key), "a dotted key of a case that holds one number", hint)
    return FreeNumber(key, measure)


def _numeric_keys() -> list[str]:
    return [entry.key for table, _ in tables() for entry in entries(table)]


def value_in(free: FreeNumber, case: Case, problem: Problem) -> float:
    """The value [SI] that `case` itself gives the number; raises CaseError where it is not above zero or not there."""
    table, _, name = free.key.partition(".")
    section = getattr(case.model, table)
    value = None if section is None else getattr(section, name)
    if value is None:
        value = {
            "polymer.flow_temperature": problem.materials.polymer.flow_temperature,
            "polymer.softening_temperature": problem.materials.polymer.softening_temperature,
            "heater.sensor_height": problem.arrangement.block.sensor_level,
            "heat_break.bore": problem.arrangement.heat_break.bore,
        }.get(free.key)
    if section is None or value is None or not value > 0.0:
        hint = "Write it in the case, or free another key."
        expected = "a number above zero in the cases of the rows that calibrate"
        raise CaseError(case.file, None, free.key, None if value is None else f"{value:g}", expected, hint)
    return float(value)
