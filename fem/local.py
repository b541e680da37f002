"""What a solved field holds besides the temperature: velocity, rates, viscosity, heat flux, pressure, age, cell by cell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from meltzone.fem.divided import streams_at
from meltzone.fem.field import Field
from meltzone.fem.motion import filled_sections
from meltzone.fem.slow_flow.feeding import Feeding, missing_for_force
from meltzone.fem.slow_flow.stokes import melt_flow_of

STILL = 1e-9  # of the flow between two neighbours: nothing moves there
TUBES = 24  # stream tubes that the age is found along


@dataclass(frozen=True, eq=False)
class Local:
    """Arrays of a field: `nodal` (size,) at the unknowns, `cellwise` (n,) or (n, 2) as means over the cells' volume.

    By name, in SI: vectors have radial and axial components. What does not exist somewhere is nan there.
    """

    nodal: dict[str, np.ndarray]
    cellwise: dict[str, np.ndarray]


def local_of(field: Field) -> Local:
    """All that can be told of `field`; what its kind of velocity does not tell is left out.

    Nodes: `melted` share [-], `age` since the upper plane of the block [s]; where the polymer's card allows it `pressure` of
    the solved slow flow, or else `shear_pressure` by lubrication, over that at the orifice [Pa]. Cells: `heat_flux` [W/m2]
    -k grad T; in the polymer `velocity` [m/s] by its local density, `stretch_rate` [1/s] along the streamline, `shear_rate`
    [1/s] across it and `viscosity` [Pa s] at that, the last two not for a plug, whose shear sits in a layer that it does not
    resolve.
    """
    nodal = {"melted": _melted(field), "age": _age(field)}
    if not missing_for_force(field.problem):
        solved = field.system.creep.size > 0
        nodal["pressure" if solved else "shear_pressure"] = (_solved_pressure if solved else _shear_pressure)(field)
    return Local(nodal, {"heat_flux": _heat_flux(field), **_moving(field)})


def _nowhere(field: Field) -> np.ndarray:
    return np.full(field.system.space.size, np.nan)


def _melted(field: Field) -> np.ndarray:
    found, polymer = _nowhere(field), field.problem.materials.polymer
    own = field.system.space.dofs_of("polymer")
    here = field.temperature[own]
    flows = (here >= polymer.flow_temperature).astype(float)
    found[own] = polymer.melted_fraction(here) if polymer.melting_enthalpy > 0.0 else flows
    return found


def _heat_flux(field: Field) -> np.ndarray:
    """-k grad T in all cells that conduct, (n, 2) [W/m2]."""
    space = field.system.space
    cells, found = space.cells, np.full((space.section.mesh.nelements, 2), np.nan)
    n_q = cells.values.shape[1]
    for chosen, conductivity in field.system.conductors:
        slope = np.einsum("ei,eiq->eq", field.temperature[cells.dofs[chosen]], cells.gradients[chosen])
        flux = -np.tile(conductivity(cells.at_points(field.temperature, chosen)), 2) * slope
        found[chosen] = _means(flux, cells.volume[chosen], n_q)
    return found


def _means(values: np.ndarray, volume: np.ndarray, n_q: int) -> np.ndarray:
    """Means over the volume of both components side by side (n, 2 n_q): (n, 2)."""
    parts = values[:, :n_q], values[:, n_q:]
    return np.stack([np.sum(part * volume, axis=1) / volume.sum(axis=1) for part in parts], axis=1)


def _moving(field: Field) -> dict[str, np.ndarray]:
    """Velocity, rates and viscosity in the polymer's cells, nan in all others."""
    system, polymer = field.system, field.problem.materials.polymer
    cells, chosen = system.space.cells, system.polymer_cells
    n_q, volume = cells.values.shape[1], cells.volume[chosen]
    here = cells.at_points(field.temperature, chosen)
    mass = system.density * field.flow / volume / polymer.density(here)
    velocity = np.tile(mass, 2) * system.drift
    gradient = _velocity_gradient(field, velocity, chosen)
    found = {"velocity": _means(velocity, volume, n_q)}
    u, w = velocity[:, :n_q], velocity[:, n_q:]
    size = np.maximum(np.hypot(u, w), 1e-300)
    along_r, along_z = u / size, w / size
    by_rr, by_rz, by_zr, by_zz = gradient
    bend = (by_rz + by_zr) / 2.0
    stretch = by_rr * along_r**2 + 2.0 * bend * along_r * along_z + by_zz * along_z**2
    shear = 2.0 * np.abs((by_zz - by_rr) * along_r * along_z + bend * (along_r**2 - along_z**2))
    mean: Callable[[np.ndarray], np.ndarray] = lambda each: np.sum(each * volume, axis=1) / volume.sum(axis=1)  # noqa: E731
    found["stretch_rate"] = mean(stretch)
    if field.problem.operation.profile != "plug":
        found["shear_rate"] = mean(shear)
        if polymer.viscosity is not None:
            found["viscosity"] = np.exp(mean(np.log(polymer.viscosity(shear, here))))
    return {name: _spread(field, chosen, values) for name, values in found.items()}


def _spread(field: Field, chosen: np.ndarray, values: np.ndarray) -> np.ndarray:
    whole = np.full((field.section.mesh.nelements, *values.shape[1:]), np.nan)
    whole[chosen] = values
    return whole


def _velocity_gradient(field: Field, velocity: np.ndarray, chosen: np.ndarray) -> tuple[np.ndarray, ...]:
    """d u_r/dr, d u_r/dz, d u_z/dr, d u_z/dz at the quadrature points, (n, n_q) each [1/s].

    The stream function's own derivative jumps from cell to cell: `velocity` (n, 2 n_q) [m/s] goes to the nodes by means over
    the area about them first, so that rates are of first order in the cells' size.
    """
    space = field.system.space
    cells = space.cells
    n_q, dofs = cells.values.shape[1], cells.dofs[chosen]
    share = np.abs(cells.values)[None] * cells.area[chosen][:, None, :]
    weight = np.bincount(dofs.ravel(), share.sum(axis=2).ravel(), minlength=space.size)
    found: list[np.ndarray] = []
    for part in (velocity[:, :n_q], velocity[:, n_q:]):
        load = np.bincount(dofs.ravel(), (share * part[:, None, :]).sum(axis=2).ravel(), minlength=space.size)
        nodal = load / np.where(weight > 0.0, weight, 1.0)
        slope = np.einsum("ei,eiq->eq", nodal[dofs], cells.gradients[chosen])
        found += [slope[:, :n_q], slope[:, n_q:]]
    return tuple(found)


def _solved_pressure(field: Field) -> np.ndarray:
    """That of the slow flow, (size,) [Pa], nan where nothing fills the bore."""
    found, flow = _nowhere(field), melt_flow_of(field)
    found[_nodes_of_vertices(field, flow.passage.space.vertices)] = flow.solved.pressure
    return _filled_in(field, found)


def _shear_pressure(field: Field) -> np.ndarray:
    """That of shear by lubrication, summed up from the orifice, (size,) [Pa], nan where nothing fills the bore."""
    found, feeding = _nowhere(field), Feeding.at(field.problem, field, field.system.space.points)
    steep = feeding.gradient * feeding.wetted
    step = np.diff(feeding.heights) * (steep[1:] + steep[:-1]) / 2.0
    found[feeding.unknowns] = np.concatenate([[0.0], np.cumsum(step)])[:, None]
    return found


def _nodes_of_vertices(field: Field, vertices: np.ndarray) -> np.ndarray:
    """The unknowns that sit at mesh vertices."""
    return np.asarray(field.system.space.basis.nodal_dofs[0, vertices])


def _filled_in(field: Field, values: np.ndarray) -> np.ndarray:
    """A quantity known at the corners of the polymer's cells, (size,), linear between them."""
    dofs = field.system.space.cells.dofs[field.system.polymer_cells]
    corners, found = values[dofs[:, :4]], values.copy()
    for edge in range(4):
        found[dofs[:, 4 + edge]] = (corners[:, edge] + corners[:, (edge + 1) % 4]) / 2.0
    found[dofs[:, 8]] = corners.mean(axis=1)
    return found


def _age(field: Field) -> np.ndarray:
    """Time since the upper plane of the block along every streamline, (size,) [s]: mass of stream tubes over their mass flow.

    The square of the radius over the stream function, which is exact for a plug, as in `meltzone.fem.residence`.
    """
    polymer, (radius, height) = field.problem.materials.polymer, field.system.space.points
    sections = filled_sections(field.system.space)
    levels = height[sections[:, 0]]
    edges = np.linspace(0.0, 1.0, TUBES + 1)
    middles = (edges[1:] + edges[:-1]) / 2.0
    mass = np.empty((len(sections), TUBES))
    for k, row in enumerate(sections):
        stream = field.system.stream[row]
        moving = row[np.concatenate([[True], np.diff(stream) > STILL])]
        stream = field.system.stream[moving]
        rings = np.pi * np.diff(np.interp(edges, stream, radius[moving] ** 2))
        mass[k] = rings * polymer.density(np.interp(middles, stream, field.temperature[moving]))
    mass *= streams_at(field.problem.arrangement, levels).open_share[:, None]
    step = np.diff(levels)[:, None] * (mass[1:] + mass[:-1]) / 2.0
    age = np.concatenate([np.cumsum(step[::-1], axis=0)[::-1], np.zeros((1, TUBES))])
    age /= field.system.density * field.flow / TUBES
    found = _nowhere(field)
    for k, row in enumerate(sections):
        found[row] = np.interp(field.system.stream[row], middles, age[k])
    return found
