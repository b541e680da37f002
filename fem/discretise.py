"""From the inputs of a problem to the arrays of its system."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np

from meltzone.fem.contact import BoreLaw, ContactLaw, boot_law, bore_contact, joint_law, slit_law
from meltzone.fem.heat_sink import sink_law
from meltzone.fem.heater import heater_load
from meltzone.fem.inputs import Criterion, Surroundings
from meltzone.fem.motion import filled_sections, shaped_stream, unit_stream
from meltzone.fem.problem import Problem
from meltzone.fem.space import Facets, Space
from meltzone.fem.sparse import Pattern, scatter
from meltzone.fem.surroundings import LossCurve, loss_curve
from meltzone.fem.system import ContactTerm, FaceTerm, Measure, System
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.faces import ExposedFace
from meltzone.geometry.grading import Subdivision
from meltzone.geometry.mesh import build_section
from meltzone.geometry.slit import seen_share
from meltzone.materials.curves import Curve

if TYPE_CHECKING:
    from meltzone.fem.divided import DividedTerm

BARE_THREAD = "nozzle thread"  # the face whose area the surroundings may say


def discretise(problem: Problem) -> System:
    """Mesh the arrangement of `problem` and collect every term of its heat balance."""
    space = _space_on(problem.arrangement, problem.level, problem.subdivision)
    section = space.section
    stream = np.zeros(space.size)
    polymer = space.dofs_of("polymer")
    stream[polymer] = unit_stream(problem.arrangement, space.points[:, polymer], problem.operation.stream_exponent)
    outlet = space.facets(section.mesh.boundaries["outlet"])
    system = System(
        problem=problem,
        space=space,
        conductors=_conductors(problem, space),
        stream=stream,
        source=heater_load(problem, space),
        inlet=space.facet_dofs("inlet"),
        faces=_face_terms(problem, space),
        contacts=_contact_terms(problem, space),
        outlet=outlet,
        outlet_share=outlet.flow_through(stream),
        sensor=sensor_measure(problem, space, section.mesh.p),
        judged=judged_at_melt_end(space, stream, problem.operation.judged_shares),
        divided=_divided(problem, space),
    )
    return _sharing_pattern(system)


@lru_cache(maxsize=4)
def _space_on(arrangement: Arrangement, level: float, subdivision: Subdivision | None) -> Space:
    """The space on the mesh of `arrangement`, made once for a search over what does not move the mesh: a third of its time."""
    return Space(build_section(arrangement, level, subdivision))


_PATTERNS: WeakKeyDictionary[Space, Pattern] = WeakKeyDictionary()


def _sharing_pattern(system: System) -> System:
    """`system` with the sparsity made once for its space: every system made here couples what the mesh says."""
    if system.space not in _PATTERNS:
        _PATTERNS[system.space] = system.pattern
    system.__dict__["pattern"] = _PATTERNS[system.space]
    return system


def in_surroundings(system: System, surroundings: Surroundings) -> System:
    """`system` in other `surroundings`, on the same mesh: that of the problem in which only these differ."""
    if surroundings == system.problem.surroundings:
        return system
    problem = replace(system.problem, surroundings=surroundings)
    return system.with_terms(problem=problem, faces=_face_terms(problem, system.space))


def judged_by(system: System, problem: Problem) -> System:
    """`system` under `problem`, in which nothing differs but the flow temperature and what is judged, on the same mesh."""
    shares = problem.operation.judged_shares
    return system.with_terms(problem=problem, judged=judged_at_melt_end(system.space, system.stream, shares))


def shaped_system(system: System, temperature: np.ndarray, flow: float) -> System:
    """The system with velocity and viscous heat shaped by the viscosity at `temperature` (size,) [K] and `flow` [m3/s]."""
    problem, space = system.problem, system.space
    law = problem.materials.polymer.viscosity
    assert law is not None, "a shaped profile needs a viscosity"
    sections = filled_sections(space)
    wetted = bore_law(problem).wetted(space.points[1][sections[:, -1]], flow)
    stream, heating = system.stream.copy(), np.zeros(space.size)
    stream[sections], heating[sections] = shaped_stream(
        problem.arrangement, space.points, sections, temperature, flow, law, wetted
    )
    return moved_by(system, stream, _volume_load(space, heating, system.polymer_cells))


def moved_by(system: System, stream: np.ndarray, viscous: np.ndarray, creep: np.ndarray | None = None) -> System:
    """The system under another stream function and viscous load, both (size,) [-] and [W]; what is judged follows.

    `creep` (2 n,) is the slow flow's velocity over the flow where one gave them [1/m2].
    """
    return system.moving(
        stream=stream,
        outlet_share=system.outlet.flow_through(stream),
        judged=judged_at_melt_end(system.space, stream, system.problem.operation.judged_shares),
        viscous=viscous,
        creep=np.zeros(0) if creep is None else creep,
    )


def _volume_load(space: Space, heating: np.ndarray, chosen: np.ndarray) -> np.ndarray:
    """Load of a heat source given at the unknowns, `heating` (size,) [W/m3], in the `chosen` cells: (size,) [W]."""
    cells = space.cells
    local = cells.at_points(heating, chosen) * cells.volume[chosen]
    return scatter([local @ cells.values.T], [cells.dofs[chosen]], space.size)


def _conductors(problem: Problem, space: Space) -> tuple[tuple[np.ndarray, Curve], ...]:
    return tuple((space.cells_of(part), problem.materials.conductivity_of(part)) for part in space.section.parts)


def _divided(problem: Problem, space: Space) -> DividedTerm | None:
    """The divided length, None where the bore is not divided."""
    if problem.arrangement.channels is None:
        return None
    from meltzone.fem.passage import divided_term  # only divided bores need sections across the flow

    return divided_term(problem, space)


def bore_law(problem: Problem) -> BoreLaw:
    """The law of the bore's wall; in a divided length it is seen through the walls of the holes."""
    holes = None
    if problem.arrangement.channels is not None:
        from meltzone.fem.passage import hole_walls  # see `_divided`

        holes = hole_walls(problem)
    return bore_contact(problem.arrangement, problem.contacts, problem.materials, problem.operation, holes)


def law_of(problem: Problem, contact: str) -> ContactLaw:
    """The law of the contact called `contact`."""
    if contact == "slit":
        return slit_law(problem.arrangement, problem.contacts, problem.materials, problem.operation)
    if contact == "boot" and problem.arrangement.wrap is not None:
        facing = emissivity_of(problem, "block"), emissivity_of(problem, "wrap")
        return boot_law(problem.arrangement, problem.contacts, problem.materials, problem.operation, facing)
    return bore_law(problem) if contact == "bore" else joint_law(contact, problem.arrangement, problem.contacts)


def seen_area(problem: Problem, face: ExposedFace, facets: Facets) -> np.ndarray:
    """True area of the `facets` of `face` at their quadrature points, as far as they see the air, (n, n_q) [m2]."""
    return np.asarray(
        area_ratio(problem, face) * facets.area * seen_share(problem.arrangement, face.name, facets.points[0])
    )


def face_loss(problem: Problem, face: ExposedFace) -> LossCurve:
    """Loss curve of `face` with the emissivity of its part, or the case's own."""
    return loss_curve(face, problem.materials.air, problem.surroundings, emissivity_of(problem, face.part))


def emissivity_of(problem: Problem, part: str) -> float:
    """Emissivity of a `part`: the case's own, or that of its material [-]."""
    override = problem.surroundings.emissivities.get(part)
    return problem.materials.solid_of(part).emissivity if override is None else override


def area_ratio(problem: Problem, face: ExposedFace) -> float:
    """The area by which `face` loses heat over that of the mesh [-]: a bare thread's as its surroundings say."""
    share = problem.surroundings.thread_area
    if share is None or face.name != BARE_THREAD:
        return face.area_ratio
    return share * problem.arrangement.nozzle.thread.envelope_share * face.area_ratio


def cold_joint_loss(problem: Problem) -> LossCurve:
    """What the heat sink takes over the temperature of the joint, or of its own core: h (T - T_cold)."""
    law = sink_law(problem)
    cold, conductance = law.reference, law.conductance
    span = np.array([cold - 300.0, cold, cold + 300.0, cold + 1200.0])
    return LossCurve(span, conductance * (span - cold), np.full(4, conductance))


def _face_terms(problem: Problem, space: Space) -> tuple[FaceTerm, ...]:
    boundaries = space.section.mesh.boundaries
    terms = []
    for face in space.section.exposed:
        facets = space.facets(boundaries[face.name])
        terms.append(FaceTerm(face.name, facets, seen_area(problem, face, facets), face_loss(problem, face)))
    sink = space.facets(boundaries["cold joint"])
    terms.append(FaceTerm("cold end", sink, sink.area, cold_joint_loss(problem)))
    return tuple(terms)


def _contact_terms(problem: Problem, space: Space) -> tuple[ContactTerm, ...]:
    terms = []
    for contact in space.section.contacts + space.section.facing:
        first, second = space.facets(contact.facets_first), space.facets(contact.facets_second)
        apart = first.points - second.points
        if not np.allclose(apart if contact in space.section.contacts else apart[0], 0.0, rtol=0.0, atol=1e-12):
            raise AssertionError(f"the two sides of the contact {contact.name} do not match")
        law = law_of(problem, contact.name)
        dofs = np.hstack([first.dofs, second.dofs])
        jump = np.concatenate([first.values, -second.values], axis=1)
        terms.append(ContactTerm(contact.name, first, dofs, jump, law))
    return tuple(terms)


def sensor_measure(problem: Problem, space: Space, nodes: np.ndarray) -> Measure:
    """The sensor point in the block, interpolated in its cell; `nodes` (2, n) [m] are where the mesh's nodes lie."""
    a = problem.arrangement
    r, z = a.block.sensor_radius, a.block_bottom + a.block.sensor_level
    block = space.cells_of("block")
    corners = nodes[:, space.section.mesh.t[:, block]]
    low, high = corners.min(axis=1), corners.max(axis=1)
    slack = 1e-9
    inside = (low[0] - slack <= r) & (r <= high[0] + slack) & (low[1] - slack <= z) & (z <= high[1] + slack)
    cell = int(np.flatnonzero(inside)[0])
    local = np.clip((np.array([r, z]) - low[:, cell]) / (high[:, cell] - low[:, cell]), 0.0, 1.0)
    dofs = space.cells.dofs[block[cell]]
    element = space.basis.elem
    weights = np.array([float(element.lbasis(local[:, None], i)[0][0]) for i in range(dofs.size)])
    return Measure(dofs, weights)


def judged_at_melt_end(
    space: Space, stream: np.ndarray, shares: Mapping[Criterion, float | None]
) -> dict[Criterion, Measure]:
    """Measures at the entry of the capillary, by criterion: the point inside which its share of the flow passes, or the mean.

    `stream` (size,) is the unit stream function, `shares` [-] are those of `meltzone.fem.inputs.Operation`.
    """
    facets = space.facets(space.section.mesh.boundaries["melt zone end"])
    through = facets.flow_through(stream)
    weights = np.einsum("eiq,eq->ei", facets.values, through)
    dofs, inverse = np.unique(facets.dofs, return_inverse=True)
    mean = Measure(dofs, np.bincount(inverse.ravel(), weights=weights.ravel()))
    axis = Measure(dofs[[np.argmin(space.points[0, dofs])]], np.ones(1))

    def measure(share: float | None) -> Measure:
        return mean if share is None else _at_share(space, stream, facets.dofs, share) if share else axis

    return {criterion: measure(share) for criterion, share in shares.items()}


def _at_share(space: Space, stream: np.ndarray, dofs: np.ndarray, share: float) -> Measure:
    """The point of a horizontal line of facets inside which `share` of the flow passes."""
    radius = space.points[0]
    rows = dofs[np.arange(len(dofs))[:, None], np.argsort(radius[dofs], axis=1)]
    rows = rows[np.argsort(radius[rows[:, 1]])]
    row = rows[min(int(np.searchsorted(stream[rows[:, 2]], share)), len(rows) - 1)]
    start, middle, end = stream[row]
    # the stream function on the facet, start + b x + a x^2 for x from 0 to 1, rises from axis to wall
    a, b = 2.0 * (start + end) - 4.0 * middle, 4.0 * middle - 3.0 * start - end
    x = 2.0 * (share - start) / (b + np.sqrt(max(b * b + 4.0 * a * (share - start), 0.0)))
    return Measure(row, np.array([(1.0 - x) * (1.0 - 2.0 * x), 4.0 * x * (1.0 - x), x * (2.0 * x - 1.0)]))
