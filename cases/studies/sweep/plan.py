"""What a sweep is: its base case, what is varied over which values, and its points: all combinations or a Latin hypercube."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
from scipy.stats import qmc

from meltzone.cases.inputs.fields import Numeric
from meltzone.cases.inputs.layers import Layer, merge, written_form
from meltzone.cases.inputs.parameters import Parameter
from meltzone.cases.inputs.reader import Case, case_of
from meltzone.cases.inputs.schema import OPTIONAL_TABLES
from meltzone.cases.studies.sweep.schema import SampleTable
from meltzone.materials.units import in_shown, spelled


@dataclass(frozen=True)
class Axis:
    """A varied `key` with its `values` as a case file would hold them, or a continuous range `between` two SI values.

    `path` is the key as the sweep file writes it below [vary]; `log` says on which scale a continuous range is drawn. The key
    of a number has its `parameter`.
    """

    key: str
    path: tuple[str, ...]
    values: tuple[Any, ...]
    parameter: Parameter | None
    between: tuple[float, float] | None = None
    log: bool = False

    @property
    def unit(self) -> str:
        """Unit of the numbers shown, '' for plain numbers and words."""
        return "" if self.parameter is None else spelled(self.parameter.kind.shown)

    @property
    def column(self) -> str:
        """The key with its unit, as it heads tables and pictures."""
        return f"{self.key} [{self.unit}]" if self.unit else self.key

    def at(self, share: float) -> Any:
        """The value at `share` (0 to 1) of the range, or the one of the list that this share falls on."""
        if self.between is None:
            return self.values[min(int(share * len(self.values)), len(self.values) - 1)]
        return value_at(self, between(*self.between, share, self.log))

    def shown(self, value: Any) -> float | str:
        """`value` as tables show it: a number in `unit`, or words."""
        if self.parameter is None:
            return "none" if value is False and self.key in OPTIONAL_TABLES else words(value)
        kind = self.parameter.kind
        number = Numeric(kind).check(value)
        return digits(in_shown(number, kind)) if kind.unit else number


@dataclass(frozen=True)
class Base:
    """The base case as its files stood when the sweep was read; cases are built from it without reading files again.

    `banded` is whether its points have bands.
    """

    name: str
    file: str
    layers: tuple[Layer, ...]
    banded: bool = False

    def case(self, overrides: Mapping[str, Any]) -> Case:
        """The case with `overrides` on top; raises CaseError."""
        return case_of(self.name, self.file, self.layers, overrides)


@dataclass(frozen=True)
class Sweep:
    """A checked sweep: its `name`, `file` as shown to people, `text`, `title`, base case, axes; `sample` is None for all
    combinations."""

    name: str
    file: str
    text: str
    title: str
    base: Base
    axes: tuple[Axis, ...]
    sample: SampleTable | None

    @property
    def meaning(self) -> dict[str, Any]:
        """What the results depend on, by dotted key; comments and titles are left out."""
        inputs = {name: value for name, value in merge(self.base.layers).items() if name not in ("title", "extends")}
        varied = {
            axis.key: list(axis.values) if axis.between is None else [*axis.between, "log" if axis.log else "linear"]
            for axis in self.axes
        }
        drawn = {} if self.sample is None else self.sample.model_dump()
        return {
            **dict(_flat(inputs, "case.")),
            **{f"vary.{key}": values for key, values in varied.items()},
            **{f"sample.{key}": value for key, value in drawn.items()},
            **({"band": True} if self.base.banded else {}),
            "vary (order)": list(varied),
        }

    def points(self) -> list[tuple[Any, ...]]:
        """The values of every point, in the order of the axes; the last axis changes fastest."""
        if self.sample is None:
            return list(product(*(axis.values for axis in self.axes)))
        seeded = np.random.default_rng(self.sample.seed)
        shares = qmc.LatinHypercube(len(self.axes), seed=seeded).random(self.sample.points)
        return [tuple(axis.at(float(share)) for axis, share in zip(self.axes, row, strict=True)) for row in shares]

    def overrides(self, values: Sequence[Any]) -> dict[str, Any]:
        """The values of a point by dotted key."""
        return {axis.key: value for axis, value in zip(self.axes, values, strict=True)}


def between(start: float, end: float, share: float, log: bool) -> float:
    """The value at `share` (0 to 1) of the way, in equal differences or, for `log`, in equal ratios."""
    return start * (end / start) ** share if log else start + (end - start) * share


def value_at(axis: Axis, value: float) -> str | float:
    """The SI value as a case file may hold it, kept within what the schema allows."""
    assert axis.parameter is not None
    written = axis.parameter.exact(axis.parameter.clipped(value))
    return digits(written) if isinstance(written, float) else written


def digits(number: float) -> float:
    """`number` without the round-off of its last digits."""
    return float(f"{number:.10g}")


def words(value: Any) -> str:
    """A value that is no number, short, on one line."""
    if isinstance(value, Mapping):
        return ", ".join(f"{name} {words(item)}" for name, item in value.items())
    if isinstance(value, list):
        return " + ".join(map(words, value))
    return value if isinstance(value, str) else "none" if value is None else written_form(value)


def _flat(value: Mapping[str, Any], above: str) -> Iterator[tuple[str, Any]]:
    for name, item in value.items():
        if isinstance(item, Mapping) and item:
            yield from _flat(item, f"{above}{name}.")
        else:
            yield f"{above}{name}", item if isinstance(item, bool | int | float | str | list) else str(item)
