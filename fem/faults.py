"""Why there is no answer: what searches and iterations raise, their numbers in SI; sentences for people are made elsewhere."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, is_dataclass

from meltzone.fem.inputs import Criterion, Operation


class NoConvergence(RuntimeError):
    """The iteration found no state: a text says what stopped it, or a subclass holds the numbers."""

    def __str__(self) -> str:
        """The text, or the numbers as they stand."""
        return repr(self) if is_dataclass(self) else super().__str__()


class NoCeiling(NoConvergence):
    """There is no such flow, or none was asked for: an answer, where NoConvergence alone is a search that failed."""


@dataclass(eq=False)
class SetpointTooLow(NoCeiling):
    """The `setpoint` does not exceed the polymer's `flow_temperature`, both [K]."""

    setpoint: float
    flow_temperature: float


@dataclass(eq=False)
class NeverMelts(NoCeiling):
    """What `operation` judges comes to `warmest` [K] at most, at any flow: below the `flow_temperature` [K]."""

    operation: Operation
    warmest: float
    flow_temperature: float


@dataclass(eq=False)
class RatingToSpare(NoCeiling):
    """The `rating` is not used up: `at_melt` at the melt ceiling, less than `bound` at `multiple` times that flow; all [W]."""

    rating: float
    at_melt: float
    bound: float
    multiple: float


@dataclass(eq=False)
class RatingNotReached(NoCeiling):
    """The `rating` is not used up even at a `flow` [m3/s], where the heater gives `power`; both [W]."""

    rating: float
    flow: float
    power: float


@dataclass(eq=False)
class HeaterTooWeak(NoCeiling):
    """Holding the `setpoint` [K] without any flow takes `idle` of a `rating`, both [W]."""

    setpoint: float
    idle: float
    rating: float


@dataclass(eq=False)
class GripToSpare(NoCeiling):
    """The `grip` is not used up: pushing takes `at_melt` at the melt ceiling, `far` at `multiple` times that flow; all [N]."""

    grip: float
    at_melt: float
    far: float
    multiple: float


@dataclass(eq=False)
class NothingFlows(NoConvergence):
    """There is neither a melt nor a power ceiling; `faults` by the ceiling's name."""

    faults: Mapping[str, NoConvergence]


@dataclass(eq=False)
class NoSignChange(NoConvergence):
    """What is sought does not change its sign up to a `flow` [m3/s]."""

    flow: float


@dataclass(eq=False)
class GripNotMet(NoConvergence):
    """The search for the flow at which pushing takes the `grip` [N] does not settle."""

    grip: float


@dataclass(eq=False)
class GripOutOfReach(NoConvergence):
    """No flow meets a `grip`: at the farthest `flow` [m3/s] tried pushing takes `force`; both [N]."""

    grip: float
    flow: float
    force: float


@dataclass(eq=False)
class FlowNotAgreed(NoConvergence):
    """Slow flow and heat do not agree: after `turns` the flow still moves by `by_flow` [-], a temperature by `by_heat` [K]."""

    turns: int
    by_flow: float
    by_heat: float


@dataclass(eq=False)
class StepNotSolved(NoConvergence):
    """A step of some `length` [s] does not settle."""

    length: float


@dataclass(eq=False)
class WorkingFlowTooHigh(NoConvergence):
    """At the working `flow` [m3/s] the temperature of the `criterion`, `judged`, is below the `flow_temperature`; both [K]."""

    flow: float
    criterion: Criterion
    judged: float
    flow_temperature: float


@dataclass(eq=False)
class BeyondLosses(NoConvergence):
    """A heater stuck on at `power` [W] heats beyond the `limit` [K] up to which losses are tabulated."""

    power: float
    limit: float
