"""From a design file to the variant that melts most, or that reaches a target, within bounds and limits."""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import Case, load_case
from meltzone.cases.studies.bands.gain import GainBand, gain_band
from meltzone.cases.studies.completing import result_of, with_band, with_stuck_on
from meltzone.cases.studies.design.front import FrontPoint, front
from meltzone.cases.studies.design.limits import Judged, Limited
from meltzone.cases.studies.design.point import Unbuildable, start_of, written_at
from meltzone.cases.studies.design.read import Design, load_design
from meltzone.cases.studies.design.search import KEPT, Search, Step
from meltzone.cases.studies.design.walls import Wall
from meltzone.cases.studies.printing import working_flow
from meltzone.cases.studies.results import CUBIC_MM, Result
from meltzone.cases.studies.wording import statement
from meltzone.fem.ceiling import Ceilings, find_ceilings
from meltzone.fem.faults import NoConvergence
from meltzone.fem.problem import Problem
from meltzone.fem.progress import Reporter
from meltzone.fem.steady import solve_at_flow
from meltzone.fem.trade import hot_volume

AT_END = 2e-3  # a value this close to a bound, as a share of its bounds, or a limit, as a share of it, is active


@dataclass(frozen=True, eq=False)
class Weighed:
    """The start or the answer: its `result`, `hot` volume at the working flow [mm3], its ceilings on the finer mesh.

    `judged` is what else is limited, by name, in the shown unit.
    """

    result: Result
    hot: float | None
    finer: Ceilings
    judged: Mapping[str, float | None] = field(default_factory=dict)

    @property
    def finer_flow(self) -> float | None:
        """The flow ceiling on the finer mesh [mm3/s]."""
        return CUBIC_MM * self.finer.flow if self.finer.field else None


@dataclass(frozen=True, eq=False)
class Designed:
    """What a design came to.

    `flow` is where hot volume is judged [mm3/s]. `steps` are all solved points of all searches, `walls` the geometric limits
    at the answer. `answer` is None where no point keeps the limits; `values` are its varied keys [SI], `written` the keys
    and values of its case file, `reached` whether the aim is met, `binding` what stops it, in words. `front`
    is that of the ceiling against what the aim names.
    """

    design: Design
    flow: float
    steps: tuple[Step, ...]
    walls: tuple[Wall, ...]
    start: Weighed
    answer: Weighed | None
    values: np.ndarray
    written: Mapping[str, Any]
    reached: bool
    binding: tuple[str, ...]
    failed: tuple[str, ...]
    front: tuple[FrontPoint, ...] = ()

    @property
    def gain(self) -> float | None:
        """Ceiling of the answer over that of the start, both on the finer mesh, less one [%]."""
        if self.answer is None or not self.answer.finer_flow or not self.start.finer_flow:
            return None
        return 100.0 * (self.answer.finer_flow / self.start.finer_flow - 1.0)

    @property
    def gain_band(self) -> GainBand | None:
        """The band of the gain of the answer on the start, in which what they share cancels; None where either has none."""
        return None if self.answer is None else gain_band(self.answer.result.band, self.start.result.band)

    @property
    def least_excess(self) -> float:
        """Where no step keeps the limits: by how much the nearest one exceeds them [%]."""
        return 100.0 * min((step.excess for step in self.steps), default=0.0)

    @property
    def statement(self) -> str:
        """What came out, in a sentence or two."""
        return "; ".join([_outcome(self), *self.failed]) + "."

    @property
    def factorisations(self) -> int:
        """Matrix factorisations spent by the search."""
        return sum(step.point.trade.factorisations for step in self.steps)


def design(path: str | os.PathLike[str] | Design, report: Reporter | None = None) -> Designed:
    """Carry out the design file at `path`: one search for every combination of choices, from the base's own values.

    Raises CaseError for a bad file, and NoConvergence where the base melts nothing.
    """
    say = report or (lambda _: None)
    read = path if isinstance(path, Design) else load_design(Path(path))
    base = load_case(str(read.base.path))
    say("the base")
    ceilings = find_ceilings(problem_of(base))
    if ceilings.field is None:
        raise NoConvergence(f"the base of the design has no ceiling: {statement(ceilings)}")
    flow = read.at_flow or (working_flow(with_band(result_of(base, ceilings))) or 0.0) / CUBIC_MM
    searches, failed = _searched(read, base, flow, say)
    best = _best(read, searches)
    say("finer mesh")
    start = _weighed(read, base, flow, ceilings)
    steps = tuple(step for search, _ in searches for step in search.steps)
    if best is None:
        return Designed(read, CUBIC_MM * flow, steps, (), start, None, np.empty(0), {}, False, (), failed)
    search, step = best
    written = written_at(read, base, search.chosen, step.point.values)
    case = load_case(str(read.base.path), written)
    weighed = find_ceilings(problem_of(case))
    answer = _weighed(read, case, flow, weighed)
    walls = tuple(wall for wall in _latest(search.walls) if _near(read, wall, step.point.values))
    reached = read.reach is None or weighed.flow >= read.reach * (1.0 - 2.0 * KEPT)
    binding = _binding(read, step, walls, answer)
    values = step.point.values
    found = Designed(read, CUBIC_MM * flow, steps, walls, start, answer, values, written, reached, binding, failed)
    return replace(found, front=front(read, base, flow, [each for each, _ in searches], say)) if read.against else found


def _searched(
    read: Design, base: Case, flow: float, say: Reporter
) -> tuple[list[tuple[Search, Step | None]], tuple[str, ...]]:
    """One search for each combination, with its best step; and the combinations that could not be searched, in words."""
    found: list[tuple[Search, Step | None]] = []
    failed: list[str] = []
    for values in itertools.product(*read.choices.values()):
        chosen = dict(zip(read.choices, values, strict=True))
        problem = _chosen_problem(read, chosen)
        search = Search(read, base, chosen, flow, _teller(say, chosen))
        try:
            found.append((search, _one(read, search, start_of(read, base, problem))))
        except Unbuildable as fault:
            failed.append(f"{words_of(chosen) or 'the start'}: {fault.reason}")
    return found, tuple(failed)


def _one(read: Design, search: Search, home: np.ndarray) -> Step | None:
    """Raise the ceiling; where a target is passed, come back towards the start as far as it is still reached."""
    search.raise_ceiling(home, np.inf if read.reach is None else read.reach)
    best = search.best
    if read.reach is None or best is None or best.point.ceiling < read.reach or best.number == 1 or not read.varied:
        return best
    return search.come_back(best.point.values, home, read.reach) or best


def _chosen_problem(read: Design, chosen: Mapping[str, Any]) -> Problem:
    """The base with the choices; a choice that cannot be is an error of the design file."""
    try:
        return problem_of(load_case(str(read.base.path), chosen))
    except CaseError as error:
        key = error.key if error.key in chosen else next(iter(chosen), None)
        if key is None:
            raise
        raise read.fault(f"choose.{key}", chosen[key], error.expected, error.hint) from error


def _teller(say: Reporter, chosen: Mapping[str, Any]) -> Callable[[Step], None]:
    head = f"{words_of(chosen)}, " if chosen else ""
    return lambda step: say(f"{head}step {step.number}: {CUBIC_MM * step.point.ceiling:.2f} mm³/s")


def words_of(chosen: Mapping[str, Any]) -> str:
    """A combination in words: "sleeve.material copper"."""
    return ", ".join(
        f"{key} {str(value).lower() if isinstance(value, bool) else value}" for key, value in chosen.items()
    )


def _best(read: Design, searches: list[tuple[Search, Step | None]]) -> tuple[Search, Step] | None:
    """The best step of all searches: the highest ceiling; with a target, the least change among those that reach it."""
    found = [(search, step) for search, step in searches if step is not None]
    if not found:
        return None
    if read.reach is not None:
        reaching = [pair for pair in found if pair[1].point.ceiling >= read.reach * (1.0 - KEPT)]
        if reaching:
            return min(reaching, key=lambda pair: _change(read, pair[0], pair[1]))
    return max(found, key=lambda pair: pair[1].point.ceiling)


def _change(read: Design, search: Search, step: Step) -> float:
    spans = np.array([item.most - item.least for item in read.varied])
    return float(np.sum(((step.point.values - search.steps[0].point.values) / spans) ** 2))


def _weighed(read: Design, case: Case, flow: float, ceilings: Ceilings) -> Weighed:
    try:
        hot = CUBIC_MM * hot_volume(
            solve_at_flow(ceilings.system, flow, ceilings.field.state if ceilings.field else None)
        )
    except NoConvergence:
        hot = None
    finer = find_ceilings(replace(ceilings.problem, level=ceilings.problem.level + 1.0))
    result = with_band(with_stuck_on(result_of(case, ceilings)))
    seen = Judged(case, ceilings.system, result, flow, read.prices)
    return Weighed(result, hot, finer, {item.name: item.read(seen) for item in read.judged})


def _latest(walls: list[Wall]) -> list[Wall]:
    """Of the walls for one reason, whichever key runs into it, the last that was seen."""
    return list({wall.reason.partition(" must be ")[0]: wall for wall in walls}.values())


def _near(read: Design, wall: Wall, values: np.ndarray) -> bool:
    item = read.varied[wall.index]
    return bool(wall.margin(values) <= AT_END * (item.most - item.least))


def _binding(read: Design, step: Step, walls: tuple[Wall, ...], answer: Weighed) -> tuple[str, ...]:
    """What stops the answer: bounds, limits and geometry, in words."""
    found = []
    for item, value in zip(read.varied, step.point.values, strict=True):
        for end, name in ((item.least, "least"), (item.most, "greatest")):
            if abs(value - end) <= AT_END * (item.most - item.least):
                found.append(f"{item.key} is at its {name} value, {item.words(end)}")
    found += [f"{wall.reason}" for wall in walls]
    trade = step.point.trade
    if read.hot_volume is not None and trade.hot is not None and trade.hot.value >= read.hot_volume * (1.0 - AT_END):
        found.append(f"hot volume is at its limit, {CUBIC_MM * read.hot_volume:.4g} mm³")
    if read.power is not None and trade.heater.value >= read.power * (1.0 - AT_END):
        found.append(f"heater power is at its limit, {read.power:g} W")
    found += [said for each in read.limits for said in _at_bound(each, step.point.judged[each.name].value)]
    if (governs := answer.result.governs) not in ("melt", "power", "none"):
        limit = "the feeder's grip" if governs == "force" else f"the {governs} limit"
        found.append(f"{limit} governs the answer, which the search does not follow: see meltzone run")
    if trade.ceilings.governs == "power":
        found.append(f"the heater's rating of {trade.ceilings.problem.operation.rating:g} W is used up")
    return tuple(found)


def _at_bound(each: Limited, value: float) -> list[str]:
    ends = {"least": each.least, "most": each.most}
    return [
        f"{each.words} is at its limit, at {name} {each.told(bound)}"
        for name, bound in ends.items()
        if bound is not None and abs(value - bound) <= AT_END * (abs(bound) or 1.0)
    ]


def _outcome(found: Designed) -> str:
    target = found.design.reach
    if found.answer is None:
        if not found.steps:
            return "No variant could be built and solved"
        return f"No variant tried keeps the limits; the nearest exceeds them by {found.least_excess:.1f} %"
    flow = found.answer.result.flow_ceiling or 0.0
    if target is None:
        return f"The ceiling rises to {flow:.2f} mm³/s"
    if found.reached:
        return f"{CUBIC_MM * target:.2f} mm³/s is reached: {flow:.2f} mm³/s"
    return f"Out of reach: {CUBIC_MM * target:.2f} mm³/s was asked for, the most within bounds and limits is {flow:.2f} mm³/s"
