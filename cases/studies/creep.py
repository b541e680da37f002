"""How high the filament of a case softens above the block, at small flows, at rest and in pauses, and what would lower that."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.levers import levers_of
from meltzone.cases.inputs.reader import Case
from meltzone.cases.studies.cautions import cautions_of, hottest_points, stuck_on_caution
from meltzone.cases.studies.completing import stuck_on_in
from meltzone.cases.studies.explain import step_words, value_words
from meltzone.cases.studies.printing import WORKING_WORDS, lines_of, working_flow
from meltzone.cases.studies.results import CUBIC_MM, MM
from meltzone.cases.studies.run import CaseLike, Overrides, ceiling, flow_of, loaded_case
from meltzone.fem.discretise import discretise
from meltzone.fem.field import Field
from meltzone.fem.heat_creep import HeightSlopes, JamLimit, excess_at, least_flow, profile_of, soft_height, softened_at
from meltzone.fem.in_time.unsteady import Pause, pause
from meltzone.fem.lever import LeverKind
from meltzone.fem.problem import Problem
from meltzone.fem.progress import Reporter
from meltzone.fem.runaway import StuckOn
from meltzone.fem.search_mesh import for_search
from meltzone.fem.steady import solve_at_flow
from meltzone.materials.limits import Finding
from meltzone.materials.units import LENGTH, ZERO_CELSIUS, UnitError, parse

TRICKLES = (0.0, 0.1, 0.3, 1.0, 3.0)  # flows looked at besides the working flow [mm3/s]
LONGEST = 1800.0  # a pause that lasts this long counts as one without end [s]
WORTH_SHOWING = 0.01  # levers that move the height by less than this are left out [mm]
STRONGEST = 10
ASSUMED = "Where it jams is assumed, no source: one filament diameter above the neck. Give your own with --limit."
NOT_SEEN = (
    "Not in it: retractions, which pull soft filament up, and swelling against the wall; a heat sink of a given temperature "
    "does not warm. Keep watch."
)


@dataclass(frozen=True)
class HeightLever:
    """A lever in people's words: dotted `key` of the case, step and value `now` with units, `change` of the height [mm]."""

    key: str
    words: str
    kind: LeverKind
    step: str
    now: str
    change: float


@dataclass(frozen=True, eq=False)
class State:
    """The steady state at one flow: `flow` [mm3/s], soft `height` [mm], skin temperature at the limit `at_limit` [degC]."""

    flow: float
    height: float
    at_limit: float


@dataclass(frozen=True, eq=False)
class Creep:
    """What was found: steady `fields` at rising flows, the first at rest, and the `least` flow's, None where there is none.

    `limit` is the height at which softened filament is taken to jam. `pause` goes out of the working flow, None where it was
    not followed; `working` is that flow [mm3/s], None where nothing melts, `chosen` how it was chosen. `levers` move the
    height at rest. `stuck_on` is as in a result.
    """

    case: Case
    problem: Problem
    limit: JamLimit
    fields: tuple[Field, ...]
    least: Field | None
    working: float | None
    chosen: str
    pause: Pause | None
    levers: tuple[HeightLever, ...]
    stuck_on: StuckOn | None

    @property
    def title(self) -> str:
        """The case's title, else its name."""
        return self.case.model.title or self.case.name

    @property
    def rest(self) -> Field:
        """The steady state at rest."""
        return self.fields[0]

    @property
    def limit_height(self) -> float:
        """Height at which softened filament is taken to jam [mm]."""
        return MM * self.limit.at(self.problem.arrangement)

    @cached_property
    def rest_height(self) -> float:
        """How high the filament softens above the block's upper face at rest [mm]."""
        return MM * soft_height(self.rest)

    @property
    def states(self) -> tuple[State, ...]:
        """The steady states, the slowest first; nothing flows in the first."""
        softening, excess = self.problem.materials.polymer.softening_temperature, excess_at(self.limit)
        flows = (0.0, *(CUBIC_MM * field.flow for field in self.fields[1:]))
        return tuple(
            State(flow, MM * soft_height(field), excess(field) + softening - ZERO_CELSIUS)
            for flow, field in zip(flows, self.fields, strict=True)
        )

    @property
    def jams_at_rest(self) -> bool:
        """Whether a pause without end comes to the limit."""
        return excess_at(self.limit)(self.rest) > 0.0

    @property
    def least_flow(self) -> float | None:
        """Steady flow below which the softened filament comes to the limit [mm3/s]; None where no flow does, or all do."""
        return None if self.least is None else CUBIC_MM * self.least.flow

    @property
    def longest_pause(self) -> float | None:
        """Time after a stop until it comes to the limit [s]; None where it does not, or was not followed."""
        return None if self.pause is None else self.pause.lasts

    @property
    def liner_end(self) -> tuple[float, float | None] | None:
        """End of the liner above the block's upper face [mm], and the skin there at rest [degC]; None without a liner.

        The skin is None inside the block, where everything softens.
        """
        a = self.problem.arrangement
        if a.liner is None:
            return None
        height = a.liner_end - a.block_top
        if height < 0.0:
            return MM * height, None
        profile = profile_of(self.rest)
        near = float(profile.temperature[abs(profile.height - height).argmin()])
        return MM * height, near - ZERO_CELSIUS

    @property
    def statement(self) -> str:
        """The answer in a sentence."""
        height, limit = self.rest_height, self.limit_height
        if height == 0.0:
            return "Even at rest nothing softens above the block"
        text = f"At rest the filament softens up to {height:.1f} mm above the block"
        if not self.jams_at_rest:
            return (
                f"{text}, {limit - height:.1f} mm below where it is taken to jam; no flow and no pause brings it there"
            )
        text += f", past the {limit:.1f} mm at which it is taken to jam"
        slow = "no flow up to the working flow keeps below it"
        if self.least_flow is not None:
            slow = f"a steady flow below {self.least_flow:.2g} mm³/s brings it there"
        if self.pause is None or self.working is None:
            return f"{text}; {slow}"
        lasts = f"after {self.pause.lasts:.0f} s" if self.pause.lasts else f"not within {LONGEST / 60.0:.0f} minutes"
        return f"{text}; {slow}, and a pause out of {self.working:.1f} mm³/s {lasts}"

    @property
    def cautions(self) -> tuple[Finding, ...]:
        """The cautions of the case at rest, and the heater stuck on where it can be told."""
        found = cautions_of(self.problem, hottest_points(self.problem, self.rest))
        return found if self.stuck_on is None else (stuck_on_caution(self.problem, self.stuck_on), *found)

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader of the numbers must know."""
        found = []
        if self.liner_end is not None:
            height, skin = self.liner_end
            soft = self.rest_height > height
            where = f"{abs(height):.1f} mm {'above' if height >= 0.0 else 'below'} the block's upper face"
            warm = "" if skin is None else f", where the skin comes to {skin:.0f} degC at rest"
            told = (
                "softened filament swells there and holds on to the edge"
                if soft
                else "the filament is still hard there"
            )
            found.append(f"The liner ends {where}{warm}: {told}.")
        if self.limit.given is None:
            found.append(ASSUMED)
        return (*found, NOT_SEEN)


def creep(
    case: CaseLike,
    flow: str | None = None,
    limit: str | None = None,
    overrides: Overrides | None = None,
    report: Reporter | None = None,
) -> Creep:
    """Follow heat creep in `case`, out of the working `flow`, such as "8 mm^3/s"; without it the flow to use of the case.

    `limit` is the height above the block at which softened filament jams, such as "4 mm". On the mesh of searches. Raises
    CaseError, and NoConvergence where no state is found.
    """
    say = report or (lambda _: None)
    loaded = loaded_case(case, overrides)
    problem = problem_of(loaded)
    jam = _limit(limit, problem)
    working, chosen = _working(loaded, flow, say)
    say("trickle")
    system = discretise(for_search(problem))
    flows = [each / CUBIC_MM for each in TRICKLES if working is None or each < working]
    if working is not None:
        flows.append(working / CUBIC_MM)
    fields: list[Field] = []
    for each in flows:
        fields.append(solve_at_flow(system, each, fields[-1].state if fields else None))
    held, least, paused = softened_at(jam).at(system, None), least_flow(jam, fields), None
    softens = excess_at(jam)
    if working is not None and softens(fields[0]) > 0.0 > softens(fields[-1]):
        tell = lambda time: say(f"pause, at {time:.1f} s")  # noqa: E731
        paused = pause(system, working / CUBIC_MM, held.miss, LONGEST, report=tell)
    say("levers")
    return Creep(
        loaded, problem, jam, tuple(fields), least, working, chosen, paused, _levers(fields[0]), stuck_on_in(system)
    )


def _limit(written: str | None, problem: Problem) -> JamLimit:
    if written is None:
        return JamLimit()
    neck = problem.arrangement.heat_break
    try:
        given = parse(written, LENGTH.within(1e-4, neck.neck_length + neck.cooled_length))
    except UnitError as error:
        hint = f"{error.hint} It is a height above the block, within neck and cooled length."
        raise CaseError("--limit", None, None, written, error.expected, hint) from error
    return JamLimit(given)


def _working(case: Case, flow: str | None, say: Reporter) -> tuple[float | None, str]:
    """The working flow [mm3/s] and how it was chosen."""
    if flow is not None:
        return CUBIC_MM * flow_of(flow, lines_of(case)), "as asked for"
    say("ceiling")
    found = working_flow(ceiling(case))
    return found, WORKING_WORDS if found else "none, since nothing melts"


def _levers(rest: Field) -> tuple[HeightLever, ...]:
    """What moves the height at rest, the strongest first; nothing where nothing softens above the block."""
    height = soft_height(rest)
    if height == 0.0:
        return ()
    slopes, found = HeightSlopes(rest, height), []
    for lever in levers_of(rest.system):
        try:
            change = MM * slopes.by(lever) * lever.step
        except ValueError:
            continue  # two faces meet here
        if abs(change) >= WORTH_SHOWING:
            words = (lever.key.removesuffix("*"), lever.words, lever.kind, step_words(lever), value_words(lever))
            found.append(HeightLever(*words, change))
    return tuple(sorted(found, key=lambda each: -abs(each.change))[:STRONGEST])
