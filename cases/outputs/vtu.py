"""The field as a VTU file: biquadratic cells in space, what is known at the nodes and in the cells, part numbers."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

import numpy as np

from meltzone.cases.outputs.figures import celsius
from meltzone.fem.field import Field
from meltzone.geometry.mesh import HEATERS, SectionMesh

KELVIN, CELSIUS, PART, HEATER = "temperature [K]", "temperature [degC]", "part", "heater ring"
# What `meltzone.fem.local` calls a quantity, and what the file does
NAMES: Mapping[str, str] = MappingProxyType(
    {
        "melted": "melted share",
        "age": "residence time [s]",
        "pressure": "pressure [Pa]",
        "shear_pressure": "pressure of shear [Pa]",
        "heat_flux": "heat flux [W/m2]",
        "velocity": "velocity [m/s]",
        "stretch_rate": "stretch rate [1/s]",
        "shear_rate": "shear rate [1/s]",
        "viscosity": "viscosity [Pa s]",
    }
)


def part_numbers(section: SectionMesh) -> dict[str, int]:
    """The number that stands for each part in the cell array "part"."""
    return {part: number for number, part in enumerate(section.parts, start=1)}


def write_vtu(field: Field, path: Path) -> None:
    """Write `field` to `path`: points (r, 0, z) [m], one node on each side of a contact; vectors as (radial, 0, axial).

    The nodes of a cell stand in the file's order of a biquadratic quadrilateral: corners, middles of the edges in turn,
    centre; the unknowns of the solve have the same order. Where a quantity does not exist it is nan.
    """
    import meshio  # few commands need it

    from meltzone.fem.local import local_of  # and slow flow with it

    section, space = field.section, field.system.space
    r, z = space.points
    part = np.zeros(section.mesh.nelements, dtype=np.int32)
    for name, number in part_numbers(section).items():
        part[section.mesh.subdomains[name]] = number
    heater = np.zeros_like(part)
    for name in HEATERS:
        heater[section.mesh.subdomains.get(name, [])] = 1
    known = local_of(field)
    mesh = meshio.Mesh(
        np.column_stack([r, np.zeros_like(r), z]),
        [("quad9", space.cells.dofs)],
        point_data={
            KELVIN: field.temperature,
            CELSIUS: celsius(field.temperature),
            **{NAMES[name]: values for name, values in known.nodal.items()},
        },
        cell_data={
            PART: [part],
            HEATER: [heater],
            **{NAMES[name]: [_in_space(values)] for name, values in known.cellwise.items()},
        },
    )
    mesh.write(path, file_format="vtu")


def _in_space(values: np.ndarray) -> np.ndarray:
    """Numbers (n,) as they are, radial and axial components (n, 2) with nothing between them."""
    return values if values.ndim == 1 else np.column_stack([values[:, 0], np.zeros(len(values)), values[:, 1]])
