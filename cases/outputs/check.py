"""What is shown of a case before any solve: parts, faces to the air, mesh, cautions at the setpoint."""

from __future__ import annotations

import os
from dataclasses import fields
from itertools import groupby
from pathlib import Path

import numpy as np

from meltzone.cases.inputs.build import UNKNOWNS_PER_CELL
from meltzone.cases.outputs.files import draw
from meltzone.cases.outputs.grid import Grid, words
from meltzone.cases.outputs.guard import files_of
from meltzone.cases.outputs.page import Cautions, Head, Page, Words
from meltzone.cases.outputs.section_figure import problem_figure
from meltzone.cases.studies.cautions import part_name
from meltzone.cases.studies.run import CaseLike, Checked, Overrides
from meltzone.cases.studies.run import check as checked_case
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.block import Box
from meltzone.geometry.mesh import SectionMesh
from meltzone.geometry.outer import OuterPart
from meltzone.materials.units import LENGTH, ZERO_CELSIUS, show

# Measured once on an everyday computer, one core: eight factorisations and what goes with them
SECONDS_PER_CELL = 4e-4
SQUARE_MM = 1e6


def check(case: CaseLike, out: str | os.PathLike[str] | None = None, overrides: Overrides | None = None) -> Checked:
    """Read `case`, build its parts and mesh and solve nothing; with `out`, draw them to that file. Raises CaseError."""
    checked = checked_case(case, overrides)
    if out is not None:
        draw(Path(out), lambda: problem_figure(checked.section, checked.problem, checked.title), files_of(checked.case))
    return checked


def page(checked: Checked) -> Page:
    """Everything about a checked case."""
    operation, polymer = checked.problem.operation, checked.problem.materials.polymer
    cells = checked.section.mesh.nelements
    text = (
        f"The case can be solved. Setpoint {operation.setpoint - ZERO_CELSIUS:g} degC, heater up to {operation.rating:g} W; "
        f"{polymer.label} flows from {polymer.flow_temperature - ZERO_CELSIUS:g} degC. "
        f"Mesh level {checked.problem.level:g}: {cells} cells, about {UNKNOWNS_PER_CELL * cells} unknowns; "
        f"finding its ceilings takes some {max(1.0, SECONDS_PER_CELL * cells):.0f} s. "
        "Nothing is solved here: cautions take every part to be at the setpoint."
    )
    head = Head(checked.title, checked.case.file)
    return Page((head, Words(text), _parts(checked), _faces(checked), Cautions(checked.cautions)), "check of a case")


def _parts(checked: Checked) -> Grid:
    sizes = sizes_of(checked.problem.arrangement)
    rows = [(part_name(part), material, sizes[part]) for part, material in checked.materials.items() if part in sizes]
    return Grid("Parts", words("part", "material", "dimensions"), tuple(rows), stacked=True)


def _box(block: Box) -> str:
    """A block's dimensions."""
    plan = (block.width,) if block.round else (block.width, block.depth)
    words = " x ".join(show(value, LENGTH).removesuffix(" mm") for value in (*plan, block.height))
    return f"round, {words} mm" if block.round else f"{words} mm"


def sizes_of(a: Arrangement) -> dict[str, str]:
    """Dimensions of every part in words, by part."""

    def mm(*values: float) -> str:
        return " x ".join(show(value, LENGTH).removesuffix(" mm") for value in values) + " mm"

    nozzle, block = a.nozzle, a.block
    sizes = {
        "polymer": f"{show(a.filament.diameter, LENGTH)} in a bore of {_bores(a)}",
        "block": _box(block),
        "nozzle": f"{mm(nozzle.length)} long, {mm(nozzle.exposed)} of it below the block, orifice {mm(nozzle.orifice)}",
        "heat break": f"{mm(a.engaged)} in the block{'s' if a.second_block else ''}, "
        f"neck {mm(a.heat_break.neck_diameter)} by {mm(a.heat_break.neck_length)}",
    }
    if a.second_block:
        sizes["second block"] = _box(a.second_block)
    if a.sleeve:
        across = "diameter" if a.sleeve.round else "across the flats"
        sizes["sleeve"] = f"{mm(a.sleeve.height)} high, {mm(a.sleeve.width)} {across}"
    if a.liner:
        depth = a.block_top - a.liner_end
        where = f"{mm(depth)} into the block" if depth >= 0.0 else f"ending {mm(-depth)} above the block"
        sizes["liner"] = f"{mm(a.liner.inner_diameter)} inside, {mm(a.liner.outer_diameter)} outside, {where}"
    if a.wrap:
        sizes["wrap"] = f"{mm(a.wrap.thickness)} thick, on {' and '.join(a.wrap.covers)}"
        sizes["wrap"] += f", {mm(a.wrap.gap)} of air below" if a.wrap.gap else ""
    for outer in a.outer:
        sizes.setdefault(outer.part, _written(outer))
    if a.channels:
        holes = f"{a.channels.number} channels of {mm(a.channels.hole_diameter)} over {mm(a.channels.length)}"
        sizes["nozzle"] += f", bore divided into {holes} from {mm(a.channels.position)} below its upper face"
    return sizes


def _written(outer: OuterPart) -> str:
    """Dimensions of an outer part as a case file has them."""
    written = {each.name.replace("_", " "): getattr(outer, each.name) for each in fields(outer)}
    return ", ".join(f"{name} {show(size, LENGTH)}" for name, size in written.items() if isinstance(size, float))


def _bores(a: Arrangement) -> str:
    """Diameters of the passage from the top down, each once as long as it stays."""
    lower = a.nozzle.lower_bore
    bores = [*(2.0 * bore.radius for bore in a.bores[::-1]), a.nozzle.bore, *([] if lower is None else [lower])]
    return ", then ".join(show(bore, LENGTH) for bore, _ in groupby(bores))


def _faces(checked: Checked) -> Grid:
    outside, rows = checked.problem.surroundings, []
    for face in checked.section.exposed:
        area = SQUARE_MM * face.area_ratio * modelled_area(checked.section, face.name)
        reached = outside.jet_speed > 0.0 and any(face.name.startswith(word) for word in outside.jet_reaches)
        facing = {"side": "sideways", "up": "upwards", "down": "downwards"}[face.orientation]
        rows.append((face.name, f"{area:.1f}", facing, f"at {outside.jet_speed:g} m/s" if reached else "no"))
    return Grid("Faces", words("face to the air", "area [mm²]", "faces", "met by the jet"), tuple(rows))


def modelled_area(section: SectionMesh, face: str) -> float:
    """Area of the surface that the straight edges of `face` sweep around the axis [m2]."""
    mesh = section.mesh
    ends = mesh.p[:, mesh.facets[:, mesh.boundaries[face]]]
    lengths = np.hypot(*(ends[:, 1] - ends[:, 0]))
    return float(np.sum(np.pi * ends[0].sum(axis=0) * lengths))
