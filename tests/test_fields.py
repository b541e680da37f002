"""Fields written for general viewers, read back by another library, against closed forms and the program's own integrals."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from outputs import COARSE, at_flow

from meltzone.cases.outputs.record import record as record_of
from meltzone.cases.outputs.transient_fields import MOST, SERIES, files
from meltzone.cases.outputs.vtu import write_vtu
from meltzone.cases.studies.run import solve
from meltzone.cases.studies.transient import Asked, Timed, transient
from meltzone.fem.field import Field
from meltzone.fem.local import local_of
from meltzone.fem.motion import filled_sections
from meltzone.fem.residence import residence_of

FLOW = 12e-9


def read(path: Path) -> dict[str, np.ndarray]:
    """All arrays of a VTU file by the reader of the format's own library, points and types of cells among them."""
    vtk = pytest.importorskip("vtkmodules.vtkIOXML", reason="the reader of the format's own library")
    from vtkmodules.util.numpy_support import vtk_to_numpy

    reader = vtk.vtkXMLUnstructuredGridReader()
    reader.SetFileName(str(path))
    reader.Update()
    grid = reader.GetOutput()
    found = {"points": vtk_to_numpy(grid.GetPoints().GetData()), "types": vtk_to_numpy(grid.GetCellTypes())}
    edges = [k for k in range(grid.GetNumberOfCells()) if grid.GetCellType(k) == 21]
    found["edges"] = np.array([[grid.GetCell(k).GetPointId(node) for node in range(3)] for k in edges])
    for data in (grid.GetPointData(), grid.GetCellData()):
        found |= {data.GetArrayName(k): vtk_to_numpy(data.GetArray(k)) for k in range(data.GetNumberOfArrays())}
    return found


@pytest.fixture(scope="module")
def plug() -> Field:
    field = at_flow().field
    assert field is not None
    return field


@pytest.fixture(scope="module")
def shaped() -> Field:
    field = solve("short-block", "12 mm^3/s", {**COARSE, "polymer.profile": "shaped"}).field
    assert field is not None
    return field


@pytest.fixture(scope="module")
def solved_flow() -> Field:
    field = solve("short-block", "12 mm^3/s", {**COARSE, "polymer.profile": "solved"}).field
    assert field is not None
    return field


def test_another_library_reads_the_file(shaped: Field, tmp_path: Path) -> None:
    write_vtu(shaped, tmp_path / "field.vtu")
    found = read(tmp_path / "field.vtu")
    assert set(found["types"]) == {28, 21}, "biquadratic quadrilaterals, quadratic edges"
    assert np.array_equal(found["temperature [K]"], shaped.temperature)
    assert found["velocity [m/s]"].shape == (len(found["types"]), 3)
    names = (
        "melted share",
        "residence time [s]",
        "pressure of shear [Pa]",
        "heat flux [W/m2]",
        "stretch rate [1/s]",
        "shear rate [1/s]",
        "viscosity [Pa s]",
        "part",
    )
    assert set(names) <= set(found)
    inside = np.isfinite(found["shear rate [1/s]"])
    melt = found["part"] == found["part"][shaped.system.polymer_cells[0]]
    assert np.array_equal(inside, melt & (found["types"] == 28))


def test_the_faces_of_the_file_lose_what_the_balance_says(plug: Field, tmp_path: Path) -> None:
    """Loss per area times the area that each edge sweeps, pi (r1 + r2) ds, face by face; part and film coefficient with it."""
    write_vtu(plug, tmp_path / "field.vtu")
    found = read(tmp_path / "field.vtu")
    edges = found["types"] == 21
    assert np.all(found["face"][~edges] == 0)
    ends = found["edges"][:, :2]
    (r1, _, z1), (r2, _, z2) = found["points"][ends[:, 0]].T, found["points"][ends[:, 1]].T
    watts = found["heat loss [W/m2]"][edges] * np.pi * (r1 + r2) * np.hypot(r2 - r1, z2 - z1)
    numbers = found["face"][edges]
    names = record_of(at_flow())["balance"]["faces_W"]
    assert set(numbers) == set(range(1, len(names) + 2)), "the cold end is the last"
    for number, (name, said) in enumerate(names.items(), start=1):
        assert watts[numbers == number].sum() == pytest.approx(said, rel=1e-3, abs=1e-4), name
    above = found["surface temperature [K]"][edges] - plug.problem.surroundings.air_temperature
    film, to_air = found["film coefficient [W/m2/K]"][edges], numbers <= len(names)
    assert np.allclose((film * above)[to_air], found["heat loss [W/m2]"][edges][to_air])
    block = record_of(at_flow())["parts"]["block"]["number"]
    own = [number for number, name in enumerate(names, start=1) if name.startswith("block")]
    assert own and set(found["part"][edges][np.isin(numbers, own)]) == {block}


def test_a_plug_flows_as_fast_as_its_mass_says_and_tells_no_shear(plug: Field) -> None:
    """In the land of 0.4 mm: rho_0 Q over rho and the section."""
    local, polymer = local_of(plug), plug.problem.materials.polymer
    assert "shear_rate" not in local.cellwise and "viscosity" not in local.cellwise
    mesh = plug.section.mesh
    middle = mesh.p[:, mesh.t].mean(axis=1)
    land = plug.system.polymer_cells[middle[1, plug.system.polymer_cells] < 0.3e-3]
    warm = plug.temperature[plug.system.space.cells.dofs[land]].mean(axis=1)
    speed = polymer.reference_density * FLOW / polymer.density(warm) / (np.pi * 0.2e-3**2)
    assert np.abs(local.cellwise["velocity"][land, 1] / -speed - 1.0).max() < 2e-3


@pytest.mark.parametrize("profile", ["plug", "shaped"])
def test_ages_agree_with_the_time_in_the_melt_zone(profile: str, request: pytest.FixtureRequest) -> None:
    field: Field = request.getfixturevalue(profile)
    age, sections = local_of(field).nodal["age"], filled_sections(field.system.space)
    stream, heights = field.system.stream[sections], field.system.space.points[1][sections[:, 0]]
    moving = np.concatenate([np.zeros((len(sections), 1)), np.diff(stream, axis=1)], axis=1)
    means = np.sum(moving[:, 1:] * (age[sections][:, 1:] + age[sections][:, :-1]) / 2.0, axis=1)
    lower, upper = np.interp(field.melt_zone, heights, means)
    assert lower - upper == pytest.approx(residence_of(field).zone_time, rel=0.03)


def test_shear_of_a_shaped_velocity_in_the_land(shaped: Field) -> None:
    """Weissenberg and Rabinowitsch: between the rate of a Newtonian melt at the wall and twice it, for n above 0.2."""
    rates, mesh = local_of(shaped).cellwise["shear_rate"], shaped.section.mesh
    middle = mesh.p[:, mesh.t].mean(axis=1)
    own = shaped.system.polymer_cells
    land = own[(middle[1, own] < 0.3e-3) & (middle[0, own] > 0.14e-3)]
    newtonian = 4.0 * FLOW * 1.15 / (np.pi * 0.2e-3**3)
    assert 0.8 * newtonian < rates[land].max() < 2.0 * newtonian


def test_heat_flows_into_the_block_from_the_heater_and_on_to_the_bore(plug: Field) -> None:
    """Mean flux through the block's inner rings times their area, against the melt's heat; within a quarter on this mesh."""
    flux, mesh = local_of(plug).cellwise["heat_flux"], plug.section.mesh
    middle = mesh.p[:, mesh.t].mean(axis=1)
    block = mesh.subdomains["block"]
    ring = block[(middle[0, block] > 4e-3) & (middle[0, block] < 5.5e-3)]
    low, high = mesh.p[1, mesh.t[:, ring]].min(), mesh.p[1, mesh.t[:, ring]].max()
    height = np.ptp(mesh.p[1, mesh.t[:, ring]], axis=0)
    width = np.ptp(mesh.p[0, mesh.t[:, ring]], axis=0)
    inward = (
        -np.sum(flux[ring, 0] * 2.0 * np.pi * middle[0, ring] * height * width)
        / 1.5e-3
        * (1.5e-3 / _span(middle[0, ring], width))
    )
    assert high - low == pytest.approx(11.5e-3, rel=1e-6)
    assert 0.75 * plug.balance.melt < inward < plug.power


def _span(middles: np.ndarray, widths: np.ndarray) -> float:
    """What a set of rings covers along the radius [m]."""
    return float((middles + widths / 2.0).max() - (middles - widths / 2.0).min())


def test_solved_pressure_falls_to_nothing_at_the_orifice(solved_flow: Field) -> None:
    nodal = local_of(solved_flow).nodal
    assert "shear_pressure" not in nodal
    height = solved_flow.system.space.points[1]
    known = np.isfinite(nodal["pressure"])
    top, bottom = nodal["pressure"][known & (height > 2e-3)].mean(), nodal["pressure"][known & (height < 1e-6)].mean()
    assert abs(bottom) < 0.05 * top and 1e6 < top < 5e7


@pytest.fixture(scope="module")
def timed() -> Timed:
    return transient("short-block", Asked(flow="5 mm^3/s", steps=("10 mm^3/s",), duration="1 s"), COARSE)


def test_a_series_lists_its_files_by_time(timed: Timed, tmp_path: Path) -> None:
    made = files(timed, tmp_path)
    frames = ElementTree.fromstring(str(made[SERIES])).findall("Collection/DataSet")
    times = [float(frame.attrib["timestep"]) for frame in frames]
    assert 3 <= len(frames) <= MOST and times == sorted(times)
    assert times[0] == pytest.approx(timed.history.moments[0].time, abs=1e-9) and times[-1] == pytest.approx(1.0)
    for frame in (frames[0], frames[-1]):
        write = made[frame.attrib["file"]]
        assert callable(write)
        write(tmp_path / frame.attrib["file"])
        assert read(tmp_path / frame.attrib["file"])["temperature [K]"].size == timed.history.field.temperature.size
    last = read(tmp_path / frames[-1].attrib["file"])["temperature [K]"]
    assert np.array_equal(last, timed.history.field.temperature)
