"""Heat stored in the parts: the capacity terms of the time-dependent balance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from meltzone.fem.divided import divided_cells
from meltzone.fem.space import Space
from meltzone.fem.sparse import scatter
from meltzone.fem.system import System
from meltzone.materials.curves import REFERENCE_TEMPERATURE
from meltzone.materials.solid import Solid

OverTemperature = Callable[[Any], np.ndarray]  # over temperature [K]
UNSTORED = "gap"  # air: ten thousandths of the metal's heat capacity, so that it follows at once


@dataclass(frozen=True, eq=False)
class HeatStore:
    """Cells that hold heat: `enthalpy` [J/kg] over temperature [K] with its `slope` [J/kg/K], times `density` [kg/m3].

    The density is that at 23 degC: parts keep their mass, and the mesh does not grow with them.
    """

    cells: np.ndarray
    density: float
    enthalpy: OverTemperature
    slope: OverTemperature


def stores_of(system: System) -> tuple[HeatStore, ...]:
    """Every part of `system` but the air in the gap: solids by rho cp(T), the polymer by its enthalpy with melting."""
    space, found = system.space, []
    for part in space.section.parts:
        if part == UNSTORED:
            continue
        if part == "polymer":
            found += _polymer_stores(system)
        else:
            found.append(solid_store(space.cells_of(part), system.problem.materials.solid_of(part)))
    return tuple(found)


def _polymer_stores(system: System) -> list[HeatStore]:
    """The polymer of the plain bore, and that of a divided length, whose webs are left out: a hundredth of the block's heat."""
    problem, space = system.problem, system.space
    polymer, channels = problem.materials.polymer, problem.arrangement.channels
    divided = divided_cells(space)
    plain = np.setdiff1d(space.cells_of("polymer"), divided)
    stores = [HeatStore(plain, polymer.reference_density, polymer.enthalpy, polymer.enthalpy_slope)]
    if channels is not None:
        density = polymer.reference_density * channels.open_share(problem.arrangement.nozzle.bore)
        stores.append(HeatStore(divided, density, polymer.enthalpy, polymer.enthalpy_slope))
    return stores


def solid_store(cells: np.ndarray, solid: Solid) -> HeatStore:
    """HeatStore of the `cells`, shape (n,), filled with `solid`: its density at 23 degC, the integral of its heat capacity."""
    return HeatStore(
        cells, float(solid.density(REFERENCE_TEMPERATURE)), solid.heat_capacity.integral, solid.heat_capacity
    )


def stored_heat(space: Space, stores: tuple[HeatStore, ...], temperature: np.ndarray) -> np.ndarray:
    """Integral of rho h(T) v over the stores for every shape function v, for `temperature` (size,) [K]: (size,) [J]."""
    cells, loads = space.cells, []
    for store in stores:
        here = cells.at_points(temperature, store.cells)
        loads.append((store.density * store.enthalpy(here) * cells.volume[store.cells]) @ cells.values.T)
    return scatter(loads, [cells.dofs[store.cells] for store in stores], space.size)


def stored_slope(space: Space, stores: tuple[HeatStore, ...], temperature: np.ndarray) -> np.ndarray:
    """Derivative of `stored_heat` by the unknowns as element matrices, for `temperature` (size,) [K]: (n_cells, 9, 9) [J/K]."""
    cells = space.cells
    entries = np.zeros((len(cells.dofs), len(cells.values), len(cells.values)))
    for store in stores:
        here = cells.at_points(temperature, store.cells)
        weight = store.density * store.slope(here) * cells.volume[store.cells]
        entries[store.cells] = np.einsum("iq,eq,jq->eij", cells.values, weight, cells.values, optimize=True)
    return entries
