"""The weighings of a plan as a program for the machine: a check of the feeder, then round by round, sample by sample."""

from __future__ import annotations

from dataclasses import dataclass

from meltzone.cases.studies.bench.plan import WARM_UP, Plan, Planned
from meltzone.cases.studies.machine.limits import MachineLimits, checked, limits_of
from meltzone.cases.studies.machine.words import (
    MM,
    Line,
    begin,
    duration,
    end,
    feed,
    heat,
    heater_off,
    pause,
    say,
    wait,
)
from meltzone.materials.units import ZERO_CELSIUS

CHECKED, MARKED = 0.1, 0.12  # fed in the check of the feeder, and where the mark is made before it [m]
CHECK_SETTLE = 60.0  # at the setpoint before that check [s]


@dataclass(frozen=True, eq=False)
class BenchProgram:
    """The `lines` of a program for `plan`, within its `limits`."""

    plan: Plan
    limits: MachineLimits
    lines: tuple[Line, ...]
    fan: bool

    @property
    def duration(self) -> float:
        """Feeding and waiting [s], without heating up and without cutting and weighing."""
        return duration(self.lines)


def bench_program(plan: Plan) -> BenchProgram:
    """The program of `plan`; raises CaseError where the case is beyond what its parts stand.

    The heater is off whenever the work may be left for a while: after the check, between rounds, at the end.
    """
    limits = limits_of(plan.result)
    problem = plan.result.problem
    heating, fan = heat(problem.operation.setpoint - ZERO_CELSIUS), problem.surroundings.jet_speed > 0.0
    lines = [*begin(fan), *_check(plan, heating)]
    for turn in range(1, plan.wanted.repeats + 1):
        lines += [say(f"Round {turn}: heating"), *heating, wait(WARM_UP)]
        for sample in plan.samples:
            if sample.round == turn:
                lines += _sample(sample, len(plan.samples))
        if turn < plan.wanted.repeats:
            lines += [heater_off(), *pause(f"Round {turn} done, heater off. Press to go on")]
    lines += end()
    return BenchProgram(plan, limits, checked(lines, limits, plan.filament.area, plan.result.case.file), fan)


def _check(plan: Plan, heating: list[Line]) -> list[Line]:
    """Mark, feed 100 mm slowly, and measure what is left, with the heater off."""
    slowest = min(sample.speed for sample in plan.samples)
    return [
        *pause(f"Mark filament {MM * MARKED:.0f} mm above feeder"),
        say("Check: heating"), *heating, wait(CHECK_SETTLE), *feed(CHECKED, slowest), Line("M400"), heater_off(),
        *pause(f"Left to mark? {MM * (MARKED - CHECKED):.0f} mm is right"),
    ]  # fmt: skip


def _sample(sample: Planned, count: int) -> list[Line]:
    name = f"Sample {sample.order}/{count}"
    return [
        say(f"{name}: purge"), *feed(sample.purge, sample.speed), *pause(f"{name}: cut, throw away"),
        say(f"{name}: {1e9 * sample.flow:.2f} mm3/s"), *feed(sample.length, sample.speed), *pause(f"{name}: cut, weigh, write"),
    ]  # fmt: skip
