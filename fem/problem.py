"""One case as the solver sees it: the inputs of a solve."""

from __future__ import annotations

from dataclasses import dataclass

from meltzone.fem.inputs import Contacts, MaterialSet, Operation, Surroundings
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.grading import Subdivision


@dataclass(frozen=True, eq=False)
class Problem:
    """The inputs of a solve and nothing derived from them; `level` is the mesh level.

    `subdivision`, where given, divides the outline in place of the level: two problems whose outlines have the same rectangles
    then get the same mesh but for where its nodes lie.
    """

    arrangement: Arrangement
    materials: MaterialSet
    contacts: Contacts
    surroundings: Surroundings
    operation: Operation
    level: float = 1.0
    subdivision: Subdivision | None = None
