"""What a case does in time: warming up, the answer to steps in flow and fan, bursts; from words to the solver and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError, at_key
from meltzone.cases.inputs.printed_line import speed_of
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.schema_outside import JET_SPEED
from meltzone.cases.studies.cautions import cautions_of, hottest_points, stuck_on_caution
from meltzone.cases.studies.completing import stuck_on_in
from meltzone.cases.studies.printing import lines_of
from meltzone.cases.studies.results import CUBIC_MM
from meltzone.cases.studies.run import CaseLike, Overrides, flow_of, loaded_case
from meltzone.cases.studies.wording import judged_words
from meltzone.fem.discretise import discretise
from meltzone.fem.in_time.course import Regime
from meltzone.fem.in_time.history import History
from meltzone.fem.in_time.unsteady import Burst, Response, WarmUp, burst, respond, warm_up
from meltzone.fem.inputs import Surroundings
from meltzone.fem.problem import Problem
from meltzone.fem.progress import Reporter
from meltzone.fem.runaway import StuckOn
from meltzone.fem.search_mesh import for_search
from meltzone.geometry.printed_line import PrintedLine
from meltzone.materials.limits import Finding
from meltzone.materials.units import FLOW, TIME, ZERO_CELSIUS, UnitError, parse

DURATION = 60.0  # of a response or a burst, unless asked for otherwise [s]
LONGEST = 24 * 3600.0  # a day; anything longer is a slipped unit [s]
LEAD = 0.05  # share of the duration that is followed before the first change
MM = 1e3


@dataclass(frozen=True)
class Asked:
    """What was asked for, as written: the `flow` at the start, `steps` of it, turns of the `fan`, a `burst`, the `duration`.

    Steps and turns may carry their time, as in "15 mm^3/s at 10 s"; without it they come at 0 s.
    """

    flow: str | None = None
    steps: Sequence[str] = ()
    fan: Sequence[str] = ()
    burst: str | None = None
    duration: str | None = None


@dataclass(frozen=True, eq=False)
class Timed:
    """What was found: `found` is a warm-up, a response or a burst of `problem`; `stuck_on` is as in a result of a case."""

    case: Case
    problem: Problem
    found: WarmUp | Response | Burst
    stuck_on: StuckOn | None

    @property
    def kind(self) -> str:
        """What was asked."""
        return {WarmUp: "warm-up", Response: "response", Burst: "burst"}[type(self.found)]

    @property
    def title(self) -> str:
        """The case's title, else its name."""
        return self.case.model.title or self.case.name

    @property
    def history(self) -> History:
        """Everything over time."""
        return self.found.history

    @property
    def statement(self) -> str:
        """The answer in a sentence."""
        if isinstance(self.found, WarmUp):
            return _warmed(self.found)
        return _answered(self.found) if isinstance(self.found, Response) else _burst_words(self.found)

    @property
    def cautions(self) -> tuple[Finding, ...]:
        """The cautions of the case at the end of the history, and the heater stuck on where it can be told."""
        field = self.history.field
        found = cautions_of(self.problem, hottest_points(self.problem, field))
        return found if self.stuck_on is None else (stuck_on_caution(self.problem, self.stuck_on), *found)


def transient(
    case: CaseLike, asked: Asked, overrides: Overrides | None = None, report: Reporter | None = None
) -> Timed:
    """Follow `case` in time; without steps, turns of the fan and burst, it is warmed up from cold.

    Raises CaseError, and NoConvergence where no state is found.
    """
    duration = None if asked.duration is None else _time(asked.duration, "--duration")
    changing = bool(asked.steps or asked.fan)
    if asked.burst is not None and changing:
        raise _fault("--burst", asked.burst, "either a burst or steps", "Ask for them one after the other.")
    if asked.flow is not None and asked.burst is None and not changing:
        hint = 'Add --step "15 mm^3/s", --fan on or --burst "25 mm^3/s"; without --flow it is warmed up from cold.'
        raise _fault("--flow", asked.flow, "a change to answer to", hint)
    loaded = loaded_case(case, overrides)
    problem = problem_of(loaded)
    if problem.operation.profile == "solved":
        expected = '"plug", "power-law" or "shaped": slow flow is solved with steady temperatures only'
        hint = "Follow it with --set polymer.profile=shaped, which comes closest."
        raise at_key(loaded.layers, ["polymer", "profile"], expected, hint)
    system = discretise(for_search(problem))
    tell = None if report is None else lambda time: report(f"at {time:.1f} s")
    if asked.burst is not None:
        lines = lines_of(loaded)
        working, flow = _flow(asked.flow, "--flow", lines), flow_of(asked.burst, lines)
        found: WarmUp | Response | Burst = burst(system, working, flow, duration or DURATION, report=tell)
    elif not changing:
        found = warm_up(system, duration, report=tell)
    else:
        end = duration or DURATION
        found = respond(system, _changes(asked, loaded, problem.surroundings, end), end, report=tell)
    return Timed(loaded, problem, found, stuck_on_in(discretise(problem)))


def _changes(asked: Asked, case: Case, outside: Surroundings, end: float) -> list[Regime]:
    """All steps in order of time, after a stretch of the steady state."""
    flows = dict(_at(written, "--step") for written in asked.steps)
    turns = dict(_at(written, "--fan") for written in asked.fan)
    if len(flows) < len(asked.steps) or len(turns) < len(asked.fan):
        raise _fault("--step, --fan", None, "one step of a kind at a time", 'As in "15 mm^3/s at 10 s".')
    for time in (*flows, *turns):
        if time >= end:
            raise _fault("--duration", f"{end:g} s", f"longer than the last step's time, {time:g} s", "Let it run on.")
    speed = case.model.surroundings.jet_speed or JET_SPEED
    state = Regime(0.0, _flow(asked.flow, "--flow", lines_of(case)), outside)
    changes = [replace(state, time=min(*flows, *turns, end) - LEAD * end)]
    for time in sorted({*flows, *turns}):
        flow = _flow(flows[time], "--step", lines_of(case)) if time in flows else changes[-1].flow
        around = changes[-1].surroundings
        if time in turns:
            around = replace(around, jet_speed=speed if _is_on(turns[time]) else 0.0)
        changes.append(Regime(time, flow, around))
    return changes


def _at(written: str, option: str) -> tuple[float, str]:
    what, mark, when = written.rpartition(" at ")
    return (_time(when, option, zero=True), what) if mark else (0.0, written)


def _is_on(written: str) -> bool:
    word = written.strip().lower()
    if word not in ("on", "off"):
        raise _fault("--fan", written, '"on" or "off", with a time if need be', 'As in "on at 10 s".')
    return word == "on"


def _flow(written: str | None, option: str, lines: Sequence[PrintedLine]) -> float:
    """A flow [m3/s], or that of a print speed; none, and 0, stand for standing still."""
    if written is None:
        return 0.0
    speed = speed_of(written)
    try:
        if (parse(written, FLOW) if speed is None else speed) == 0.0:
            return 0.0
    except UnitError as error:
        raise _fault(option, written, error.expected, error.hint) from error
    return flow_of(written, lines)


def _time(written: str, option: str, zero: bool = False) -> float:
    try:
        found = parse(written, TIME)
    except UnitError as error:
        raise _fault(option, written, error.expected, error.hint) from error
    if not (found >= 0.0 if zero else found > 0.0) or found > LONGEST:
        raise _fault(option, written, "a time above 0 and up to 24 h", "Check the number and its unit.")
    return found


def _fault(option: str, value: str | None, expected: str, hint: str) -> CaseError:
    return CaseError(option, None, None, value, expected, hint)


def _warmed(found: WarmUp) -> str:
    operation, history = found.problem.operation, found.history
    setpoint, rating = operation.setpoint - ZERO_CELSIUS, operation.rating
    if found.reached is None:
        last = history.moments[-1]
        return (
            f"With {rating:g} W the sensor does not come within 1 K of {setpoint:g} degC in {last.time:g} s: "
            f"it stands at {last.sensor - ZERO_CELSIUS:.1f} degC"
        )
    cold = history.moments[0].sensor - ZERO_CELSIUS
    text = f"From {cold:.0f} degC to within 1 K of {setpoint:g} degC in {found.reached:.1f} s with {rating:g} W"
    if found.melted is None:
        return f"{text}; the polymer at the end of the melt zone does not reach its flow temperature"
    return f"{text}; the polymer at the end of the melt zone passes its flow temperature after {found.melted:.1f} s"


def _answered(found: Response) -> str:
    operation = found.problem.operation
    flows = found.problem.materials.polymer.flow_temperature
    before = found.before.judged - ZERO_CELSIUS
    last = (found.after or found.history.field).judged
    text = f"{judged_words(operation)} goes from {before:.1f} to {last - ZERO_CELSIUS:.1f} degC"
    most = found.settling("judged", 0.95)
    if most is not None:
        text += f", 95 % of the way within {most:.1f} s of the last change"
    below = None if before + ZERO_CELSIUS < flows else found.history.first_time("judged", flows, falling=True)
    text += "" if below is None else f"; it falls below the flow temperature at {below:.1f} s"
    return text[:1].upper() + text[1:]


def _burst_words(found: Burst) -> str:
    flow, working = CUBIC_MM * found.flow, CUBIC_MM * found.working
    judged = judged_words(found.problem.operation)
    steady = (
        "there is no steady ceiling"
        if found.ceiling is None
        else f"steady ceiling {CUBIC_MM * found.ceiling:.1f} mm³/s"
    )
    if found.lasts is None or found.volume is None:
        span = found.history.moments[-1].time
        return f"{flow:g} mm³/s out of {working:g} mm³/s lasts longer than {span:g} s; {steady}"
    return (
        f"{flow:g} mm³/s out of {working:g} mm³/s lasts {found.lasts:.2f} s, {CUBIC_MM * found.volume:.0f} mm³, before "
        f"{judged} falls below the flow temperature; {steady}"
    )


def filament_length(found: Burst) -> float | None:
    """Length of filament fed by the end of the burst [mm]."""
    return None if found.volume is None else MM * found.volume / found.problem.arrangement.filament.area
