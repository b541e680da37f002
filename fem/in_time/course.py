"""What changes in time, in steps: the flow and the surroundings, and the system of each moment between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from meltzone.fem.build import face_loss, shaped_system
from meltzone.fem.contact import BoreLaw
from meltzone.fem.in_time.journey import AgedBoreLaw, Journey
from meltzone.fem.inputs import Surroundings
from meltzone.fem.problem import Problem
from meltzone.fem.steady import TRICKLE
from meltzone.fem.system import ContactTerm, System


@dataclass(frozen=True, eq=False)
class Change:
    """From `time` [s] on the `flow` [m3/s] and the `surroundings` are these; a flow of zero stands for 0.01 mm3/s."""

    time: float
    flow: float
    surroundings: Surroundings


@dataclass(frozen=True, eq=False)
class Phase:
    """A stretch from `start` to `end` [s] with one `flow` [m3/s] and one `system`, but for the bore's contact.

    The bore's contact follows the `journey` of the filament, where there is one.
    """

    start: float
    end: float
    flow: float
    system: System
    journey: Journey | None = None

    def at(self, time: float, temperature: np.ndarray) -> System:
        """The system at `time` [s]; a velocity shaped by the viscosity is fitted to `temperature` (size,) [K]."""
        if self.journey is None:
            return self.system
        problem = self.system.problem
        radius = problem.arrangement.entry_radius
        contacts = tuple(_aged(contact, self.journey, time, radius) for contact in self.system.contacts)
        system = _with(self.system, contacts=contacts)
        return shaped_system(system, temperature, self.flow) if problem.operation.profile == "shaped" else system


def course_of(problem: Problem, changes: Sequence[Change], end: float) -> tuple[Phase, ...]:
    """The phases between `changes`, whose times rise, up to `end` [s]; the first holds for all time before it too.

    What the surroundings of `problem` itself are does not count. Raises ValueError for times that do not rise, and for a
    velocity that is solved with the temperatures, which is not followed in time.
    """
    if problem.operation.profile == "solved":
        raise ValueError("a velocity that is solved with the temperatures is not followed in time")
    times = [change.time for change in changes]
    if any(later <= earlier for earlier, later in zip(times, [*times[1:], end], strict=True)):
        raise ValueError("the times of the changes must rise, and the end come after all of them")
    flows = [max(change.flow, TRICKLE) for change in changes]
    journey = Journey(times, flows)
    systems = (system_in(problem, change.surroundings) for change in changes)
    spans = zip(times, [*times[1:], end], flows, systems, strict=True)
    return tuple(Phase(start, stop, flow, system, journey) for start, stop, flow, system in spans)


def system_in(problem: Problem, surroundings: Surroundings) -> System:
    """The system of `problem` on the same mesh in other `surroundings`."""
    system = problem.system
    if surroundings == problem.surroundings:
        return system
    moved = replace(problem, surroundings=surroundings)
    exposed = {face.name: face for face in system.space.section.exposed}
    faces = tuple(
        replace(face, loss=face_loss(moved, exposed[face.name])) if face.name in exposed else face
        for face in system.faces
    )
    other = _with(system, problem=moved, faces=faces)
    moved.__dict__["system"] = other
    return other


def _aged(contact: ContactTerm, journey: Journey, time: float, radius: float) -> ContactTerm:
    law = contact.law
    if not isinstance(law, BoreLaw):
        return contact
    aged = AgedBoreLaw(law.gas, law.melt, law.top, law.softening_length, law.holes, journey, time, radius)
    return replace(contact, law=aged)


def _with(system: System, **changes: object) -> System:
    """`system` with some of its terms replaced by such of the same shape; what follows from the rest is carried over."""
    other = replace(system, **changes)  # type: ignore[arg-type]
    other.__dict__["pattern"], other.__dict__["drift"] = system.pattern, system.drift
    return other
