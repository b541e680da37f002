"""The field as a VTU file: biquadratic cells in space, temperatures at the nodes, part numbers at the cells."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from meltzone.cases.outputs.figures import celsius
from meltzone.fem.field import Field
from meltzone.geometry.mesh import SectionMesh

KELVIN, CELSIUS, PART, HEATER = "temperature [K]", "temperature [degC]", "part", "heater ring"


def part_numbers(section: SectionMesh) -> dict[str, int]:
    """The number that stands for each part in the cell array "part"."""
    return {part: number for number, part in enumerate(section.parts, start=1)}


def write_vtu(field: Field, path: Path) -> None:
    """Write `field` to `path`: points (r, 0, z) [m], one node on each side of a contact.

    The nodes of a cell stand in the file's order of a biquadratic quadrilateral: corners, middles of the edges in turn,
    centre; the unknowns of the solve have the same order.
    """
    import meshio  # few commands need it

    section, space = field.section, field.system.space
    r, z = space.points
    part = np.zeros(section.mesh.nelements, dtype=np.int32)
    for name, number in part_numbers(section).items():
        part[section.mesh.subdomains[name]] = number
    heater = np.zeros_like(part)
    heater[section.mesh.subdomains["heater"]] = 1
    mesh = meshio.Mesh(
        np.column_stack([r, np.zeros_like(r), z]),
        [("quad9", space.cells.dofs)],
        point_data={KELVIN: field.temperature, CELSIUS: celsius(field.temperature)},
        cell_data={PART: [part], HEATER: [heater]},
    )
    mesh.write(path, file_format="vtu")
