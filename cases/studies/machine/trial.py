"""A print trial: steps of rising flow about the predicted ceiling, and what the first that failed says of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.printed_line import EXAMPLE
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.schema_outside import JET_SPEED
from meltzone.cases.studies.bench.filament import filament_of
from meltzone.cases.studies.bench.plan import melt_content
from meltzone.cases.studies.bench.rows import CeilingRow
from meltzone.cases.studies.completing import with_band
from meltzone.cases.studies.machine.limits import MachineLimits, checked, limits_of
from meltzone.cases.studies.machine.ring import SMALLEST, Motion, Stretch, lifted, ring, stretches
from meltzone.cases.studies.machine.words import Line, begin, duration, end, heat, pause, say, wait
from meltzone.cases.studies.printing import lines_of
from meltzone.cases.studies.results import CUBIC_MM, Result
from meltzone.cases.studies.run import loaded_case, sought
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.discretise import discretise
from meltzone.fem.faults import NoConvergence
from meltzone.fem.in_time.unsteady import burst
from meltzone.fem.progress import Reporter
from meltzone.geometry.printed_line import PrintedLine
from meltzone.materials.units import LENGTH, ZERO_CELSIUS, show

LOWEST, HIGHEST = 0.4, 1.5  # shares of the predicted ceiling between which the flow rises; common practice, no source
FOLLOWED = 2.0  # of a stretch's time: how long a burst is followed
BELOW = 0.99  # of the ceiling: what surely melts through
SETTLE = 60.0  # at the setpoint before the print [s]
NONE_FAILED = 0  # number of the first failed stretch where all of them held


@dataclass(frozen=True)
class TrialAsked:
    """What is wanted: the machine's `motion`, the `step` of the flow as a share of the ceiling [-].

    `failed` is the number of the first stretch that failed, `NONE_FAILED` where all held, None before the print; `bench` holds
    measured ceilings to lay beside it.
    """

    motion: Motion
    step: float = 0.05
    failed: int | None = None
    bench: tuple[CeilingRow, ...] = ()


@dataclass(frozen=True)
class Printed:
    """What a print says: the ceiling lies between `low` and `high` [mm3/s], None where it gives no such end."""

    low: float | None
    high: float | None

    @property
    def value(self) -> float | None:
        """The middle, where both ends are known [mm3/s]."""
        return None if self.low is None or self.high is None else 0.5 * (self.low + self.high)

    @property
    def uncertainty(self) -> float | None:
        """Standard uncertainty [mm3/s]: a rectangular distribution between the ends (JCGM 100:2008, 4.3.7)."""
        return None if self.low is None or self.high is None else (self.high - self.low) / math.sqrt(12.0)


@dataclass(frozen=True, eq=False)
class Trial:
    """A planned trial: `stretches` from below, flows [m3/s] `left_out` as not reached, program `lines` within `limits`.

    With a print read back, `printed`; `lasts` is how long the flow of the first failed stretch would hold out of the last one
    below the predicted ceiling [s], None where it lies below that itself or holds on; `other_fan`
    the ceiling with the fan turned over [mm3/s].
    """

    result: Result
    asked: TrialAsked
    line: PrintedLine
    stretches: tuple[Stretch, ...]
    left_out: tuple[float, ...]
    limits: MachineLimits
    lines: tuple[Line, ...]
    printed: Printed | None = None
    lasts: float | None = None
    other_fan: float | None = None

    @property
    def fan(self) -> bool:
        """Whether the part-cooling fan runs."""
        return self.result.problem.surroundings.jet_speed > 0.0

    @property
    def duration(self) -> float:
        """Printing and waiting [s], without heating up."""
        return duration(self.lines)

    @property
    def first_failed(self) -> Stretch | None:
        """The first stretch that failed."""
        return self.stretches[self.asked.failed - 1] if self.asked.failed else None


def trial(
    case: str | Case,
    asked: TrialAsked,
    overrides: Mapping[str, Any] | None = None,
    report: Reporter | None = None,
) -> Trial:
    """Plan a print trial of `case`, and read it back where `asked` says what failed.

    Raises CaseError, and NoConvergence without a ceiling.
    """
    loaded = loaded_case(case, overrides)
    line = _line(loaded)
    if asked.motion.radius < SMALLEST:
        expected = f"room for a ring of at least {show(2.0 * SMALLEST, LENGTH)} across, and its margin"
        raise CaseError("--bed", None, None, None, expected, "A larger bed.")
    result = with_band(sought(loaded, None, report))
    if result.flow_ceiling is None:
        raise NoConvergence(f"{result.case.file} has no flow ceiling to print about: {result.statement}")
    count = math.floor((HIGHEST - LOWEST) / asked.step + 1e-9)
    flows = [(LOWEST + asked.step * number) * result.flow_ceiling / CUBIC_MM for number in range(count + 1)]
    found = stretches(flows, line, asked.motion, melt_content(result))
    left_out = tuple(flows[len(found) :])
    _check_failed(asked, found)
    limits, area = limits_of(result), filament_of(result.problem).area
    heating = heat(result.problem.operation.setpoint - ZERO_CELSIUS)
    lines = [
        *begin(result.problem.surroundings.jet_speed > 0.0), *pause("Bed clear and warm? Press to heat"),
        say("Heating"), *heating, wait(SETTLE), *ring(found, line, asked.motion, area), *lifted(found), *end(),
    ]  # fmt: skip
    planned = Trial(result, asked, line, tuple(found), left_out, limits, checked(lines, limits, area, loaded.file))
    return planned if asked.failed is None else _read_back(planned, report)


def _line(case: Case) -> PrintedLine:
    lines = lines_of(case)
    if len(lines) != 1:
        hint = f'Add --line "{EXAMPLE}".'
        raise CaseError("--line", None, None, f"{len(lines)} lines", "one printed line for the whole piece", hint)
    return lines[0]


def _check_failed(asked: TrialAsked, found: list[Stretch]) -> None:
    if not found:
        hint = "A thicker or wider line, a higher acceleration, or a larger bed."
        raise CaseError("--line", None, None, None, "a line whose flow reaches two fifths of the ceiling", hint)
    if asked.failed is not None and not 0 <= asked.failed <= len(found):
        expected = f'the number of a stretch, 1 to {len(found)}, or "none"'
        raise CaseError("--failed", None, None, str(asked.failed), expected, "Count from below, or measure the height.")


def _read_back(planned: Trial, report: Reporter | None) -> Trial:
    """With what was printed, and what the solver knows of why it may differ from a steady ceiling."""
    first, flows = planned.first_failed, [CUBIC_MM * each.flow for each in planned.stretches]
    low = flows[-1] if first is None else flows[first.number - 2] if first.number > 1 else None
    printed = Printed(low, None if first is None else flows[first.number - 1])
    if report is not None:
        report("ceiling with the fan turned over")
    problem = planned.result.problem
    jet = 0.0 if planned.fan else JET_SPEED
    turned = replace(problem, surroundings=replace(problem.surroundings, jet_speed=jet))
    other = find_ceilings(turned).field
    lasts, ceiling = None, planned.result.flow_ceiling or 0.0
    below = [flow for flow in flows if flow < BELOW * ceiling]
    if first is not None and below and flows[first.number - 1] > ceiling:
        if report is not None:
            report("how long the melt holds out")
        found = burst(discretise(problem), below[-1] / CUBIC_MM, first.flow, FOLLOWED * max(first.time, 1.0))
        lasts = found.lasts
    return replace(planned, printed=printed, lasts=lasts, other_fan=None if other is None else CUBIC_MM * other.flow)


def reasons(found: Trial) -> list[str]:
    """Why a print may fail at another flow than the steady ceiling, in sentences."""
    first, predicted = found.first_failed, found.result.flow_ceiling or 0.0
    said = []
    if first is not None:
        short = f"Stretch {first.number} takes {first.time:.1f} s"
        if found.lasts is not None:
            said.append(
                f"{short}; out of a flow just below the ceiling, the melt zone's store holds {CUBIC_MM * first.flow:.2f} "
                f"mm³/s for {found.lasts:.1f} s: what a print passes on a shorter stretch, a bench does not."
            )
        else:
            said.append(
                f"{short}: a stretch that is short against the store of the melt zone passes more than a bench does."
            )
    if found.other_fan is not None:
        way = "without" if found.fan else "with"
        said.append(
            f"The cooling jet: {predicted:.2f} mm³/s {'with' if found.fan else 'without'} it, {found.other_fan:.2f} {way}; "
            "a bench is mostly weighed without."
        )
    said.append(
        f"Pressure: the nozzle presses into a gap of {show(found.line.height, LENGTH)}, a bench into free air; the "
        "feeder slips sooner in a print, and a wall that is thin for that reason counts here too."
    )
    return said
