"""The VTU file, read back: node order, part tags, temperatures, and volumes known from the drawing."""

from __future__ import annotations

from pathlib import Path

import meshio
import numpy as np
import pytest
from outputs import solved

from meltzone.cases.outputs.record import record as record_of
from meltzone.cases.outputs.vtu import CELSIUS, HEATER, KELVIN, PART, write_vtu


@pytest.fixture(scope="module", params=["short-block", "long-nozzle-brass-sleeve"])
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(scope="module")
def mesh(name: str, tmp_path_factory: pytest.TempPathFactory) -> meshio.Mesh:
    path: Path = tmp_path_factory.mktemp("vtu") / "field.vtu"
    field = solved(name).field
    assert field is not None
    write_vtu(field, path)
    return meshio.read(path)


def _revolved(mesh: meshio.Mesh, cells: np.ndarray) -> float:
    """Volume [mm3] that `cells` sweep around the axis: Pappus on each straight-edged quadrilateral, by shoelace moments."""
    r, z = 1e3 * mesh.points[cells[:, :4], 0].T, 1e3 * mesh.points[cells[:, :4], 2].T
    r1, z1 = np.roll(r, -1, axis=0), np.roll(z, -1, axis=0)
    return float(2.0 * np.pi * np.sum((r + r1) * (r * z1 - r1 * z)) / 6.0)


def test_nodes_stand_in_the_order_of_a_biquadratic_quadrilateral(mesh: meshio.Mesh) -> None:
    block, edges = mesh.cells
    assert (block.type, edges.type) == ("quad9", "line3")
    points = mesh.points[block.data]
    for edge in range(4):
        middle = (points[:, edge] + points[:, (edge + 1) % 4]) / 2.0
        assert np.allclose(points[:, 4 + edge], middle, atol=1e-12)
    assert np.allclose(points[:, 8], points[:, :4].mean(axis=1), atol=1e-12)


def test_axis_is_upright_and_nothing_lies_off_the_plane(mesh: meshio.Mesh) -> None:
    assert np.all(mesh.points[:, 1] == 0.0)
    assert np.all(mesh.points[:, 0] >= 0.0)
    assert mesh.points[:, 2].min() == 0.0


def test_temperatures_survive_the_round_trip(mesh: meshio.Mesh, name: str) -> None:
    field = solved(name).field
    assert field is not None
    assert np.array_equal(mesh.point_data[KELVIN], field.temperature)
    assert np.allclose(mesh.point_data[CELSIUS], field.temperature - 273.15)


def test_part_numbers_are_those_of_the_record_and_tag_the_right_volumes(mesh: meshio.Mesh, name: str) -> None:
    """Volumes by hand from the dimensions written in the examples."""
    parts = record_of(solved(name))["parts"]
    tags, cells = mesh.cell_data[PART][0], mesh.cells[0].data
    assert set(np.unique(tags)) == {part["number"] for part in parts.values()}

    def volume(part: str) -> float:
        return _revolved(mesh, cells[tags == parts[part]["number"]])

    hole = np.pi * 5.350**2 / 4.0 * 11.5  # M6 x 1: pitch diameter 6 - 0.6495 (ISO 724)
    assert volume("block") == pytest.approx(23.0 * 16.0 * 11.5 - hole, rel=2e-4)
    assert volume("gap") == pytest.approx(np.pi / 4.0 * (2.0**2 - 1.75**2) * 7.0, rel=1e-9)  # neck 2 mm, cooled 5 mm
    if name == "long-nozzle-brass-sleeve":
        hexagon = np.sqrt(3.0) / 2.0 * 10.0**2  # area of a hexagon 10 mm across the flats
        assert volume("sleeve") == pytest.approx((hexagon - np.pi * 5.350**2 / 4.0) * 8.5, rel=3e-4)


def test_heater_ring_is_marked_in_the_block(mesh: meshio.Mesh, name: str) -> None:
    heater, tags = mesh.cell_data[HEATER][0] == 1, mesh.cell_data[PART][0]
    assert set(np.unique(tags[heater])) == {record_of(solved(name))["parts"]["block"]["number"]}
    # ring radius 8 mm, width 3 mm, height 11.5 mm
    assert _revolved(mesh, mesh.cells[0].data[heater]) == pytest.approx(np.pi * (9.5**2 - 6.5**2) * 11.5, rel=1e-9)


def test_contacts_keep_two_nodes(mesh: meshio.Mesh, name: str) -> None:
    """At the bore, polymer and metal hold different temperatures at the same place."""
    parts = record_of(solved(name))["parts"]
    tags, cells = mesh.cell_data[PART][0], mesh.cells[0].data
    metal = np.unique(cells[tags == parts["nozzle"]["number"]])
    melt = np.unique(cells[tags == parts["polymer"]["number"]])
    assert not set(metal) & set(melt)
