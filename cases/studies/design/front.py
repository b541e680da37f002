"""The front of a design: the greatest ceilings against one or two numbers held low, by searches that bound those."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import Case, load_case
from meltzone.cases.studies.bands.gain import GainBand, gain_band
from meltzone.cases.studies.completing import result_of, with_band
from meltzone.cases.studies.design.limits import Judged
from meltzone.cases.studies.design.point import Unbuildable, written_at
from meltzone.cases.studies.design.read import Design
from meltzone.cases.studies.design.search import KEPT, Search, Step
from meltzone.cases.studies.results import Result
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.progress import Reporter

LEVELS = {1: 7, 2: 4}  # bounds tried of each number, its least and that of the greatest ceiling among them


@dataclass(frozen=True, eq=False)
class FrontPoint:
    """A variant on the front: its `choice`, the keys of its case as `written`, its `result` with a band.

    `against` are the numbers it is held against, in the shown unit. `behind` is the gain of its ceiling on the highest of the
    front, below zero; None for the highest itself.
    """

    choice: Mapping[str, Any]
    written: Mapping[str, Any]
    against: tuple[float, ...]
    result: Result
    behind: GainBand | None

    @property
    def tied(self) -> bool:
        """Whether no measurement could tell its ceiling from the highest of the front."""
        return self.behind is not None and self.behind.judged == "tie"


def front(read: Design, base: Case, flow: float, searches: Sequence[Search], say: Reporter) -> tuple[FrontPoint, ...]:
    """The front of `read`, the least of the first number first; `searches` have sought the greatest ceiling already.

    For every combination of choices each number is lowered as far as it goes; then the ceiling is raised under bounds between
    that and the number of the greatest ceiling (the epsilon-constraint method), each search from where the last one ended.
    """
    steps = [step for search in searches for step in search.steps]
    for search in searches:
        say("the front")
        steps += _bounded(read, base, flow, search)
    kept = [step for step in steps if step.kept]
    levels = _levels(read, kept)
    picked = {id(step): step for corner in itertools.product(*levels) if (step := _under(read, kept, corner))}
    found = [_solved(read, base, flow, step) for step in picked.values()]
    standing = [point for point in found if not any(_beats(other, point) for other in found)]
    best = max(standing, key=lambda point: point.result.flow_ceiling or 0.0, default=None)
    judged = [
        point
        if best is None or point is best
        else replace(point, behind=gain_band(point.result.band, best.result.band))
        for point in standing
    ]
    return tuple(sorted(judged, key=lambda point: point.against))


def _bounded(read: Design, base: Case, flow: float, search: Search) -> list[Step]:
    """The steps of all searches of one combination under bounds."""
    best = search.best
    if best is None or not read.varied:
        return []
    found: list[Step] = []
    home = search.steps[0].point.values
    lowest = best
    for item in read.against:
        downward = Search(read, base, search.chosen, flow, search.seen)
        downward.lower(home, item.name)
        found += downward.steps
        lowest = min((step for step in downward.steps if step.kept), key=lambda s: _numbers(read, s)[0], default=lowest)
    here = lowest.point.values
    for corner in itertools.product(*_levels(read, [step for step in (*found, best) if step.kept])):
        bounds = tuple(replace(item, most=most) for item, most in zip(read.against, corner, strict=True))
        bounded = Search(replace(read, limits=(*read.limits, *bounds)), base, search.chosen, flow, search.seen)
        try:
            bounded.raise_ceiling(here)
        except Unbuildable:
            continue
        found += [replace(step, excess=search.excess(step.point)) for step in bounded.steps]
        here = bounded.best.point.values if bounded.best is not None else here
    return found


def _numbers(read: Design, step: Step) -> tuple[float, ...]:
    return tuple(step.point.value_of(item.name).value for item in read.against)


def _levels(read: Design, steps: Sequence[Step]) -> list[np.ndarray]:
    """Bounds of each number: from its least to that of the greatest ceiling, in even steps."""
    if not steps:
        return [np.empty(0) for _ in read.against]
    numbers = np.array([_numbers(read, step) for step in steps])
    top = numbers[int(np.argmax([step.point.ceiling for step in steps]))]
    count = LEVELS[len(read.against)]
    return [np.linspace(numbers[:, k].min(), max(top[k], numbers[:, k].min()), count) for k in range(len(top))]


def _under(read: Design, steps: Sequence[Step], corner: Sequence[float]) -> Step | None:
    """The step with the greatest ceiling whose numbers lie below the bounds of `corner`."""
    inside = [
        step
        for step in steps
        if all(value <= most + KEPT * abs(most) for value, most in zip(_numbers(read, step), corner, strict=True))
    ]
    return max(inside, key=lambda step: step.point.ceiling, default=None)


def _solved(read: Design, base: Case, flow: float, step: Step) -> FrontPoint:
    """The point on its own mesh, with the band of its ceiling."""
    written = written_at(read, base, step.choice, step.point.values)
    case = load_case(str(read.base.path), written)
    ceilings = find_ceilings(problem_of(case))
    result = with_band(result_of(case, ceilings))
    seen = Judged(case, ceilings.system, result, flow, read.prices)
    values = tuple(item.read(seen) for item in read.against)
    return FrontPoint(step.choice, written, tuple(np.nan if v is None else v for v in values), result, None)


def _beats(other: FrontPoint, point: FrontPoint) -> bool:
    """Whether `other` is at least as good in everything and better in something."""
    if other is point:
        return False
    one, two = ((-(each.result.flow_ceiling or 0.0), *each.against) for each in (other, point))
    return all(a <= b for a, b in zip(one, two, strict=True)) and one != two
