"""One case as the solver sees it: the inputs of a solve."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from meltzone.fem.build import build_system
from meltzone.fem.inputs import Contacts, MaterialSet, Operation, Surroundings
from meltzone.fem.system import System
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.grading import Subdivision


@dataclass(frozen=True, eq=False)
class Problem:
    """The inputs of a solve; `level` is the mesh level. Everything derived from them is cached on first use.

    `division`, where given, divides the outline in place of the level: two problems whose outlines have the same rectangles
    then get the same mesh but for where its nodes lie.
    """

    arrangement: Arrangement
    materials: MaterialSet
    contacts: Contacts
    surroundings: Surroundings
    operation: Operation
    level: float = 1.0
    division: Subdivision | None = None

    @cached_property
    def system(self) -> System:
        """The discrete system of this problem."""
        return build_system(self)
