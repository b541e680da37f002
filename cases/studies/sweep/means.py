"""Ceilings of a sweep by the values of one or two keys: means and ranges of the points that share a place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.studies.sweep.plan import Axis, Sweep
from meltzone.cases.studies.sweep.run import Swept
from meltzone.materials.errors import nearest

Value = float | str


@dataclass(frozen=True)
class Mean:
    """Ceilings of the points that share a place in the picture: their `mean`, `low` and `high` [mm3/s], and what governs.

    `governs` is "melt", "power", "force" or "none", or "mixed" where the points differ. Where nothing can flow the
    ceiling is 0.
    """

    mean: float
    low: float
    high: float
    governs: str


def chosen_axes(sweep: Sweep, over: Sequence[str] = ()) -> list[Axis]:
    """The one or two axes `over` which to draw, by default the first two with several values; raises CaseError."""
    by_key = {axis.key: axis for axis in sweep.axes}
    for key in over:
        if key not in by_key:
            close = nearest(key, list(by_key))
            hint = f"Did you mean {close[0]}?" if close else "See [vary] in the sweep file."
            raise CaseError("--over", None, None, key, f"a key that is varied: {', '.join(by_key)}", hint)
    if len(over) > 2 or len(set(over)) < len(over):
        raise CaseError(
            "--over", None, None, ", ".join(over), "one key, or two different ones", "Draw several pictures."
        )
    several = [axis for axis in sweep.axes if axis.between is not None or len(axis.values) > 1]
    return [by_key[key] for key in over] if over else (several or list(sweep.axes))[:2]


def means_of(swept: Swept, axes: Sequence[Axis]) -> dict[tuple[Value, ...], Mean]:
    """Ceilings by the values of `axes`, in the order in which the sweep file gives the values."""
    groups: dict[tuple[Value, ...], list[dict[str, Any]]] = {}
    for row in swept.solved:
        groups.setdefault(tuple(row[axis.column] for axis in axes), []).append(row)
    return {place: _mean(rows) for place, rows in groups.items()}


def _mean(rows: list[dict[str, Any]]) -> Mean:
    flows = [row["flow_mm3_per_s"] or 0.0 for row in rows]
    limits = {row["governs"] for row in rows}
    return Mean(float(np.mean(flows)), min(flows), max(flows), limits.pop() if len(limits) == 1 else "mixed")


def values_of(swept: Swept, axis: Axis) -> list[Value]:
    """Values of `axis` that occur: numbers rising, words in the order of the sweep file."""
    if axis.parameter is not None:
        return sorted({row[axis.column] for row in swept.rows})
    return [axis.shown(value) for value in axis.values]


def is_log(axis: Axis) -> bool:
    """Whether the values stand in equal ratios over more than a factor of three."""
    if axis.parameter is None or len(axis.values) < 3:
        return False
    numbers = np.array([axis.shown(value) for value in axis.values], dtype=float)
    if np.any(numbers <= 0.0) or numbers.max() < 3.0 * numbers.min():
        return False
    ratios = numbers[1:] / numbers[:-1]
    return bool(np.ptp(ratios) < 1e-3 * ratios[0])
