"""What weights of the heat balance see of a field at its quadrature points, and what another problem changes of that."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from meltzone.fem.contact import BoreLaw
from meltzone.fem.discretise import emissivity_of, law_of, seen_area
from meltzone.fem.field import Field
from meltzone.fem.forms import gradients_of, spread
from meltzone.fem.heat_sink import sink_law
from meltzone.fem.problem import Problem
from meltzone.fem.shape import points_at
from meltzone.fem.surroundings import felt, heat_flux
from meltzone.fem.system import ContactTerm, FaceTerm
from meltzone.geometry.faces import ExposedFace
from meltzone.geometry.slit import slit_of

Points = tuple[np.ndarray, np.ndarray]


@dataclass(frozen=True, eq=False)
class Seen:
    """A `field` as the `weights` (size,), zero at the inlet, see it: what does not change with a problem is made once.

    Every change is that of weights . R, to first order, from the field's own problem to another one [W times the weights].
    """

    field: Field
    weights: np.ndarray

    @cached_property
    def by_conductivity(self) -> np.ndarray:
        """grad T . grad w times 2 pi r dA, (n, n_q), the radial part of a divided length times its factor.

        What a change of conductivity is weighed with.
        """
        system = self.field.system
        product = gradients_of(system, self.field.temperature) * gradients_of(system, self.weights)
        product *= spread(system, system.space.cells.volume, self.field.flow)
        n_q = system.space.cells.values.shape[1]
        return np.asarray(product[:, :n_q] + product[:, n_q:])

    def by_conduction(self, problem: Problem) -> float:
        """Change where a part's conductivity curve is another one."""
        base, total = self.field.problem, 0.0
        if problem.materials is base.materials:
            return total
        for part in self.field.section.parts:
            old, new = base.materials.conductivity_of(part), problem.materials.conductivity_of(part)
            if new is not old:
                here, weighed, known = self._parts[part]
                total += float(np.sum((new(here) - known) * weighed))
        return total

    def by_faces(self, problem: Problem) -> float:
        """Change where a face, what it radiates or what it feels is another one."""
        base = self.field.problem
        names = ("arrangement", "surroundings", "materials", "contacts")
        if all(getattr(problem, name) is getattr(base, name) for name in names):
            return 0.0
        same_slit = problem.arrangement is base.arrangement or slit_of(problem.arrangement) == slit_of(base.arrangement)
        return sum(
            self._by_sink(problem, face) if face.name == "cold end" else self._by_face(problem, face, same_slit)
            for face in self.field.system.faces
        )

    def by_contacts(self, problem: Problem, nodes: np.ndarray) -> float:
        """Change where a contact has another law, or the bore's wall moves along its own; the mesh's nodes at `nodes` [m]."""
        base, total = self.field.problem, 0.0
        names = ("arrangement", "contacts", "materials", "operation", "surroundings")
        if all(getattr(problem, name) is getattr(base, name) for name in names):
            return total
        moved = nodes is not self.field.section.mesh.p
        joints = moved or problem.contacts is not base.contacts
        bore = law_of(problem, "bore")
        for contact, weighed, known in self._crossings:
            if contact.name not in ("bore", "slit", "boot") and not joints:
                continue
            law = bore if contact.name == "bore" else law_of(problem, contact.name)
            if law == contact.law and not (moved and isinstance(law, BoreLaw)):
                continue
            first = contact.first
            heights = points_at(self.field.system, first, nodes)[1] if moved else first.points[1]
            total += float(np.sum(law(heights, self.field.flow)[0] * weighed)) - known
        return total

    def _by_sink(self, problem: Problem, face: FaceTerm) -> float:
        """At the joint with the heat sink, or on the heat sink's core."""
        base, total = self.field.problem, 0.0
        surface, weighed = self._at_faces[face.name]
        for sign, each in ((1.0, problem), (-1.0, base)):
            law = sink_law(each)
            total += sign * float(np.sum(weighed * face.area * law.conductance * (surface - law.reference)))
        return total

    def _by_face(self, problem: Problem, face: FaceTerm, same_slit: bool) -> float:
        """At a face to the air; `same_slit` where that above the hexagon is the same, so that as much of every face is seen."""
        base = self.field.problem
        old = self._exposed[face.name]
        new = old if problem.arrangement is base.arrangement else ExposedFace.of(problem.arrangement, face.name)
        around = [
            (felt(each, p.surroundings), emissivity_of(p, each.part), p.materials.air)
            for each, p in ((old, base), (new, problem))
        ]
        same_thread = problem.surroundings.thread_area == base.surroundings.thread_area
        same_area = new == old and same_slit and same_thread
        if same_area and around[0][:2] == around[1][:2] and around[0][2] is around[1][2]:
            return 0.0
        area = face.area if same_area else seen_area(problem, new, face.facets)
        surface, weighed = self._at_faces[face.name]
        flux = heat_flux(new, problem.materials.air, problem.surroundings, around[1][1], surface)
        return float(np.sum(weighed * (area * flux - self._lost[face.name])))

    @cached_property
    def _exposed(self) -> dict[str, ExposedFace]:
        return {face.name: face for face in self.field.section.exposed}

    @cached_property
    def _lost(self) -> dict[str, np.ndarray]:
        """What every face to the air loses at its points, by its name, (n, n_q) [W]."""
        problem = self.field.problem
        air, outside = problem.materials.air, problem.surroundings
        lost = {}
        for face in self.field.system.faces:
            if face.name in self._exposed:
                own, (surface, _) = self._exposed[face.name], self._at_faces[face.name]
                lost[face.name] = face.area * heat_flux(own, air, outside, emissivity_of(problem, own.part), surface)
        return lost

    @cached_property
    def _at_faces(self) -> dict[str, Points]:
        """Temperature and weights at the points of every face, by its name, (n, n_q) each."""
        return {
            face.name: (face.facets.traces(self.field.temperature), face.facets.traces(self.weights))
            for face in self.field.system.faces
        }

    @cached_property
    def _crossings(self) -> list[tuple[ContactTerm, np.ndarray, float]]:
        """Every contact, what its conductance is weighed with at its points, (n, n_q), and what its own comes to."""
        found = []
        for contact in self.field.system.contacts:
            weighed = contact.across(self.field.temperature) * contact.across(self.weights) * contact.first.area
            conductance, _ = contact.law(contact.first.points[1], self.field.flow)
            found.append((contact, weighed, float(np.sum(conductance * weighed))))
        return found

    @cached_property
    def _parts(self) -> dict[str, tuple[np.ndarray, np.ndarray, np.ndarray]]:
        """Temperature of every part at its points, what conductivity is weighed with there, and its own, (n, n_q) each."""
        space, found = self.field.system.space, {}
        for part in self.field.section.parts:
            chosen = space.cells_of(part)
            here = space.cells.at_points(self.field.temperature, chosen)
            known = self.field.problem.materials.conductivity_of(part)(here)
            found[part] = here, self.by_conductivity[chosen], known
        return found
