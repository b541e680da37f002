"""The field as a VTU file: biquadratic cells in space and the edges that lose heat, with what is known on them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

import numpy as np

from meltzone.cases.outputs.figures import celsius
from meltzone.fem.field import Field
from meltzone.geometry.mesh import HEATERS, SectionMesh

KELVIN, CELSIUS, PART, HEATER = "temperature [K]", "temperature [degC]", "part", "heater ring"
FACE, LOSS, FILM, SURFACE = "face", "heat loss [W/m2]", "film coefficient [W/m2/K]", "surface temperature [K]"
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
    centre; the unknowns of the solve have the same order. A second block holds the edges that lose heat, with the number of
    the face as the record counts them, 0 in cells. Where a quantity does not exist it is nan.
    """
    import meshio  # few commands need it

    from meltzone.fem.face_values import face_values_of
    from meltzone.fem.local import local_of  # and slow flow with it

    space, faces = field.system.space, face_values_of(field)
    r, z = space.points
    known = local_of(field)
    part, heater = _tags(field.section)
    edges = {FACE: faces.face, LOSS: faces.loss, FILM: faces.film, SURFACE: faces.temperature}
    in_cells = {NAMES[name]: _in_space(values) for name, values in known.cellwise.items()}
    mesh = meshio.Mesh(
        np.column_stack([r, np.zeros_like(r), z]),
        [("quad9", space.cells.dofs), ("line3", faces.dofs)],
        point_data={
            KELVIN: field.temperature,
            CELSIUS: celsius(field.temperature),
            **{NAMES[name]: values for name, values in known.nodal.items()},
        },
        cell_data={
            PART: [part, part[faces.cells]],
            HEATER: [heater, heater[faces.cells]],
            **{name: [values, _nowhere(values, len(faces.face))] for name, values in in_cells.items()},
            **{name: [_nowhere(values, len(part)), values] for name, values in edges.items()},
        },
    )
    mesh.write(path, file_format="vtu")


def _tags(section: SectionMesh) -> tuple[np.ndarray, np.ndarray]:
    """The number of the part, and 1 in the ring of the heater, of every cell."""
    part = np.zeros(section.mesh.nelements, dtype=np.int32)
    for name, number in part_numbers(section).items():
        part[section.mesh.subdomains[name]] = number
    heater = np.zeros_like(part)
    for name in HEATERS:
        heater[section.mesh.subdomains.get(name, [])] = 1
    return part, heater


def _nowhere(like: np.ndarray, count: int) -> np.ndarray:
    """What stands for `like` where it does not exist: nan, or 0 for numbers that count."""
    empty = 0 if like.dtype.kind == "i" else np.nan
    return np.full((count, *like.shape[1:]), empty, dtype=like.dtype)


def _in_space(values: np.ndarray) -> np.ndarray:
    """Numbers (n,) as they are, radial and axial components (n, 2) with nothing between them."""
    return values if values.ndim == 1 else np.column_stack([values[:, 0], np.zeros(len(values)), values[:, 1]])
