"""A property over temperature: value, derivative, exact integral, range and source."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from meltzone.materials.pieces import Pieces, monotone

REFERENCE_TEMPERATURE = 296.15  # 23 degC: enthalpies count from here, and the filament's density is stated here [K]
END_ROUNDING = (
    5.0  # over this last stretch of a table the slope runs out to zero, so that holding it flat stays smooth [K]
)


@dataclass(frozen=True, eq=False)
class Curve:
    """A property over temperature, constant or table; monotone cubic between the points, held flat outside.

    `name` is the property's word ("conductivity"), `unit` the SI unit of `values`. `temperatures` [K] and `values` have
    shape (n,); n = 1 is a constant. Between the points runs the shape-preserving cubic of Fritsch & Butland (1984),
    so no overshoot; near both ends its slope is led to zero (`END_ROUNDING`), so that value and slope are
    continuous everywhere, as Newton's iteration wants. `stated_range` [K] is what the source claims for a constant,
    `measured_range` [K] where measurements of this very material stand behind the curve, None where a card does not tell.
    Raises ValueError on unsorted, unequal or non-finite tables.
    """

    name: str
    unit: str
    temperatures: np.ndarray
    values: np.ndarray
    source: str
    note: str = ""
    stated_range: tuple[float, float] | None = None
    measured_range: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        for field in ("temperatures", "values"):
            array = np.array(getattr(self, field), dtype=float, ndmin=1)
            array.setflags(write=False)
            object.__setattr__(self, field, array)
        if self.temperatures.ndim != 1 or self.temperatures.shape != self.values.shape or not self.values.size:
            raise ValueError(f"{self.name}: temperatures and values must be rows of one length")
        if not (np.isfinite(self.temperatures).all() and np.isfinite(self.values).all()):
            raise ValueError(f"{self.name}: every temperature and value must be finite")
        if np.any(np.diff(self.temperatures) <= 0.0):
            raise ValueError(f"{self.name}: temperatures must rise strictly")

    @classmethod
    def constant(cls, name: str, unit: str, value: float, source: str, note: str = "") -> Curve:
        """A property that does not depend on temperature."""
        return cls(name, unit, np.array([REFERENCE_TEMPERATURE]), np.array([value]), source, note)

    def scaled(self, factor: float) -> Curve:
        """The curve with all its values times `factor`."""
        return replace(self, values=self.values * factor)

    @property
    def is_constant(self) -> bool:
        """Whether one value holds at all temperatures."""
        return self.values.size == 1

    @property
    def valid_range(self) -> tuple[float, float]:
        """Temperatures [K] the numbers are stated for: the range given, else the table's ends, else (0, inf)."""
        if self.stated_range is not None:
            return self.stated_range
        if self.is_constant:
            return (0.0, float("inf"))
        return (float(self.temperatures[0]), float(self.temperatures[-1]))

    @property
    def backed_range(self) -> tuple[float, float]:
        """Temperatures [K] beyond which a result warns: those measured where the card tells them, else those stated."""
        return self.measured_range or self.valid_range

    def __call__(self, temperature: Any) -> np.ndarray:
        """Value in `unit` at `temperature` [K], any shape; the answer has the same shape."""
        if self.is_constant:
            return np.full(np.shape(temperature), self.values[0])
        return self._pieces(self._inside(temperature))

    def slope(self, temperature: Any) -> np.ndarray:
        """Derivative in `unit` per kelvin at `temperature` [K]; zero outside the table."""
        if self.is_constant:
            return np.zeros(np.shape(temperature))
        return self._pieces(self._inside(temperature), 1)

    def integral(self, temperature: Any) -> np.ndarray:
        """Exact integral of the interpolant from 296.15 K to `temperature` [K], in `unit` times kelvin."""
        temperature = np.asarray(temperature, dtype=float)
        if self.is_constant:
            return np.asarray(self.values[0] * (temperature - REFERENCE_TEMPERATURE))
        return self._from_first_point(temperature) - self._offset

    @cached_property
    def _pieces(self) -> Pieces:
        within = monotone(self.temperatures, self.values)
        steps = np.diff(self.temperatures)
        first = self.temperatures[0] + min(END_ROUNDING, steps[0] / 4.0)
        last = self.temperatures[-1] - min(END_ROUNDING, steps[-1] / 4.0)
        nodes = np.sort(np.concatenate([self.temperatures, [first, last]]))
        slopes = within(nodes, 1)
        slopes[0] = slopes[-1] = 0.0
        return Pieces(nodes, within(nodes), slopes)

    @cached_property
    def _offset(self) -> float:
        return float(self._from_first_point(np.asarray(REFERENCE_TEMPERATURE)))

    def _from_first_point(self, temperature: np.ndarray) -> np.ndarray:
        inside = self._inside(temperature)
        beyond = temperature - inside
        held = np.where(beyond < 0.0, self.values[0], self.values[-1])
        return np.asarray(self._pieces.area(inside) + held * beyond)

    def _inside(self, temperature: Any) -> np.ndarray:
        return np.clip(np.asarray(temperature, dtype=float), self.temperatures[0], self.temperatures[-1])
