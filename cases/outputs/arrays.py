"""Results as arrays for further reckoning: columns by the names of the records, pandas and xarray where they are installed."""

from __future__ import annotations

from collections.abc import Iterable
from importlib import import_module
from typing import Any

import numpy as np

from meltzone.cases.outputs.transient import COLUMNS
from meltzone.cases.outputs.vtu import NAMES
from meltzone.cases.studies.quantities import Quantity, rounded
from meltzone.cases.studies.result_quantities import RESULT
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.transient import Timed
from meltzone.fem.local import local_of


def table(found: Result | Timed | Iterable[Result]) -> dict[str, np.ndarray]:
    """Columns by the dotted keys of the records, which end with the unit: a row a result, or a row a moment of a transient.

    Numbers are floats, nan for what does not exist; words are objects. The first column of results is the case's name.
    """
    if isinstance(found, Timed):
        rows = [_by_path(COLUMNS, moment) for moment in found.history.moments]
    else:
        results = [found] if isinstance(found, Result) else list(found)
        rows = [{"case": result.case.name, **_by_path(RESULT, result)} for result in results]
    names = rows[0] if rows else {}
    return {name: _column([row[name] for row in rows]) for name in names}


def frame(found: Result | Timed | Iterable[Result]) -> Any:
    """The same columns as a pandas DataFrame; raises ImportError, with what to do, where pandas is not installed."""
    return _library("pandas").DataFrame(table(found))


def dataset(found: Result) -> Any:
    """The field of a result as an xarray Dataset: `r` and `z` [m] of the nodes, what is known there and in the cells, in SI.

    Raises ImportError, with what to do, where xarray is not installed, ValueError for a result without a field.
    """
    field = found.field
    if field is None:
        raise ValueError(f"no field: {found.statement}")
    (r, z), known = field.system.space.points, local_of(field)
    nodal = {"temperature": (("node",), field.temperature, {"units": "K"})}
    nodal |= {name: (("node",), values, _units(name)) for name, values in known.nodal.items()}
    cellwise = {
        name: (("cell", "direction")[: values.ndim], values, _units(name)) for name, values in known.cellwise.items()
    }
    return _library("xarray").Dataset(
        {**nodal, **cellwise, "nodes_of_cell": (("cell", "corner"), field.system.space.cells.dofs)},
        coords={"r": (("node",), r, {"units": "m"}), "z": (("node",), z, {"units": "m"}), "direction": ["r", "z"]},
        attrs={"case": found.case.name, "flow_m3_per_s": field.flow, "power_W": field.power},
    )


def _by_path(quantities: Iterable[Quantity[Any]], source: Any) -> dict[str, Any]:
    return {quantity.path: rounded(quantity.read(source)) for quantity in quantities}


def _units(name: str) -> dict[str, str]:
    unit = NAMES[name].partition("[")[2].rstrip("]")
    return {"units": unit or "1"}


def _column(values: list[Any]) -> np.ndarray:
    plain = [np.nan if value is None else value for value in values]
    is_number = all(isinstance(value, int | float) and not isinstance(value, bool) for value in plain)
    if is_number:
        return np.array(plain, dtype=float)
    column = np.empty(len(plain), dtype=object)  # lists stay lists
    column[:] = plain
    return column


def _library(name: str) -> Any:
    try:
        return import_module(name)
    except ImportError as error:
        raise ImportError(
            f"{name} is not installed: pip install {name}, or use meltzone.table for plain arrays"
        ) from error
