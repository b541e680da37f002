"""The flow ceilings, found directly: flow and heater power are unknowns of one iteration."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from meltzone.fem.discretise import discretise
from meltzone.fem.faults import HeaterTooWeak, NoCeiling, NoConvergence
from meltzone.fem.field import Field
from meltzone.fem.guess import first_guess
from meltzone.fem.limits import LIMITS, melt_ceiling
from meltzone.fem.newton import State
from meltzone.fem.problem import Problem
from meltzone.fem.progress import Reporter
from meltzone.fem.system import System
from meltzone.fem.threads import one_thread

NONE = "none"  # governs where nothing flows at all


@dataclass(frozen=True, eq=False)
class Ceilings:
    """The flow ceilings of a `system`: `found` holds the fields at those that there are, by the names of their limits.

    `faults` holds why for each that there is not. `mesh_error` is the share by which the governing ceiling moves on the next
    finer mesh, None if that was not asked for or did not converge.
    """

    system: System
    found: Mapping[str, Field]
    faults: Mapping[str, NoConvergence]
    mesh_error: float | None = None

    @property
    def problem(self) -> Problem:
        """The inputs."""
        return self.system.problem

    @property
    def failed(self) -> tuple[str, ...]:
        """The ceilings whose search failed, so that nobody knows whether they are there."""
        return tuple(name for name, fault in self.faults.items() if not isinstance(fault, NoCeiling))

    @property
    def answered(self) -> bool:
        """Whether there is a ceiling, and no search for another one failed that might lie below it."""
        return self.governs != NONE and not self.failed

    @property
    def melt(self) -> Field | None:
        """The field at the melt ceiling."""
        return self.found.get("melt")

    @property
    def power(self) -> Field | None:
        """The field at the power ceiling."""
        return self.found.get("power")

    @property
    def force(self) -> Field | None:
        """The field at the force ceiling."""
        return self.found.get("force")

    @property
    def governs(self) -> str:
        """The limit with the least ceiling; 'none' where nothing flows at all."""
        if self.melt is None:
            return NONE
        if self.power is None and self.melt.power > self.problem.operation.rating:
            return NONE
        return min(self.found, key=lambda name: self.found[name].flow)

    @property
    def heater_too_weak(self) -> bool:
        """Whether the heater cannot hold the setpoint even without flow."""
        return isinstance(self.faults.get("power"), HeaterTooWeak)

    @property
    def field(self) -> Field | None:
        """The field at the governing ceiling."""
        return self.found.get(self.governs)

    @property
    def flow(self) -> float:
        """The governing ceiling [m3/s], 0 where there is none."""
        return self.field.flow if self.field else 0.0

    @property
    def factorisations(self) -> int:
        """Matrix factorisations spent on all ceilings."""
        return sum(field.factorisations for field in self.found.values())


@one_thread()
def find_ceilings(
    problem: Problem, mesh_error: bool = False, report: Reporter | None = None, start: State | None = None
) -> Ceilings:
    """The ceilings of `problem`, which is discretised here; all else as in `ceilings_of`."""
    return ceilings_of(discretise(problem), mesh_error, report, start)


@one_thread()
def ceilings_of(
    system: System, mesh_error: bool = False, report: Reporter | None = None, start: State | None = None
) -> Ceilings:
    """The ceilings of `system` by all limits; with `mesh_error` the governing one again on the next finer mesh.

    `start` is a state on the same mesh from which the melt ceiling is sought, that of a problem that differs little.

    Never raises for a ceiling that does not exist: why stands in the result.
    """
    say = report or _silent
    found: dict[str, Field] = {}
    faults: dict[str, NoConvergence] = {}
    for name, limit in LIMITS.items():
        try:
            near = start is not None and name == "melt"
            found[name] = melt_ceiling(system, start) if near else limit.search(system, found.get("melt"), say)
        except NoConvergence as fault:
            faults[name] = fault
    ceilings = Ceilings(system, found, faults)
    if not mesh_error or ceilings.governs == NONE:
        return ceilings
    say("finer mesh")
    return replace(ceilings, mesh_error=_mesh_error(ceilings))


def found_again(found: Ceilings, problem: Problem) -> Ceilings:
    """The ceilings of a `problem` much like that of `found` on another mesh, sought from its flow and power."""
    system, melt = discretise(problem), found.melt
    return ceilings_of(
        system, start=None if melt is None else replace(first_guess(system, melt.flow), power=melt.power)
    )


def _silent(_: str) -> None:
    pass


def _mesh_error(ceilings: Ceilings) -> float | None:
    """Share by which the governing ceiling moves on the next finer mesh; None where that solve does not converge."""
    finer = discretise(replace(ceilings.problem, level=ceilings.problem.level + 1.0, subdivision=None))
    try:
        again = LIMITS["melt"].search(finer, ceilings.melt, _silent)
        if ceilings.governs != "melt":
            again = LIMITS[ceilings.governs].search(finer, again, _silent)
    except NoConvergence:
        return None
    return abs(again.flow / ceilings.flow - 1.0)
