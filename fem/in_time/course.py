"""What changes in time, in steps: the flow and the surroundings, and the system of each moment between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from meltzone.fem.contact import BoreLaw
from meltzone.fem.discretise import in_surroundings, shaped_system
from meltzone.fem.in_time.journey import AgedBoreLaw, Journey
from meltzone.fem.inputs import Surroundings
from meltzone.fem.steady import TRICKLE
from meltzone.fem.system import ContactTerm, System


@dataclass(frozen=True, eq=False)
class Regime:
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
        system = self.system.with_terms(contacts=contacts)
        return shaped_system(system, temperature, self.flow) if problem.operation.profile == "shaped" else system


def course_of(system: System, changes: Sequence[Regime], end: float) -> tuple[Phase, ...]:
    """The phases between `changes`, whose times rise, up to `end` [s]; the first holds for all time before it too.

    What the surroundings of `system` itself are does not count. Raises ValueError for times that do not rise, and for a
    velocity that is solved with the temperatures, which is not followed in time.
    """
    if system.problem.operation.profile == "solved":
        raise ValueError("a velocity that is solved with the temperatures is not followed in time")
    times = [change.time for change in changes]
    if any(later <= earlier for earlier, later in zip(times, [*times[1:], end], strict=True)):
        raise ValueError("the times of the changes must rise, and the end come after all of them")
    flows = [max(change.flow, TRICKLE) for change in changes]
    journey = Journey(times, flows)
    systems = (in_surroundings(system, change.surroundings) for change in changes)
    spans = zip(times, [*times[1:], end], flows, systems, strict=True)
    return tuple(Phase(start, stop, flow, around, journey) for start, stop, flow, around in spans)


def _aged(contact: ContactTerm, journey: Journey, time: float, radius: float) -> ContactTerm:
    law = contact.law
    if not isinstance(law, BoreLaw):
        return contact
    steady = (law.gas, law.melt, law.top, law.softening_length, law.holes)
    aged = AgedBoreLaw(*steady, journey, time, radius, liner=law.liner)
    return replace(contact, law=aged)
