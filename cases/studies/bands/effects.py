"""What every number in doubt does to a ceiling over its plausible range: by the adjoint, or by solving again."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass, replace

from meltzone.cases.inputs.parameters import VISCOSITY
from meltzone.cases.inputs.plausible import Unknown, unknowns_of
from meltzone.cases.inputs.reader import Case
from meltzone.cases.statistics.independent import Ends
from meltzone.fem.adjoint import Adjoint, adjoint_of
from meltzone.fem.ceiling import Ceilings, found_again
from meltzone.fem.nearby import Judged, Pushed
from meltzone.fem.problem import Problem

# Solved again at both ends of their ranges, since the ceiling is far from straight in them
SOLVED_AGAIN = ("polymer.flow_temperature", "polymer.inner_share")
SOLVED_AGAIN_UNDER_FORCE = (VISCOSITY.key,)
STEP = 5e-7  # of a value: its curvature and its round-off both stay below 1e-4 of a derivative
PUSHED_BY = ("grip", "plateau_modulus")  # what moves the force ceiling alone
LEAST_RATIO = 0.02  # of a ceiling: what counts where nothing flows at an end of a range
COARSEST = (
    -3.5
)  # mesh level of the bands: a ceiling is off by half a per cent there, a band by half a per cent of its width


@dataclass(frozen=True)
class Effect:
    """What one number does: its `identity`, what it is called, its range in `words`, how that is `known`, and `ends`.

    `ends` are the changes of the logarithm of the ceiling at both ends of its range; `reach` is the range itself, on the scale
    of the number. `stated` is whether a case states a tolerance, `plain` the ends if it did not.
    """

    identity: str
    noun: str
    words: str
    known: str
    ends: Ends
    reach: tuple[float, float] = (-1.0, 1.0)
    stated: bool = False
    plain: Ends | None = None

    def over(self, reach: tuple[float, float]) -> Ends:
        """The ends over another range of the same number, straight on both sides."""
        low, high = (end / own if own else 0.0 for end, own in zip(reach, self.reach, strict=True))
        return Ends(self.ends.low * low, self.ends.high * high)


def effects_of(case: Case, found: Ceilings) -> tuple[Effect, ...]:
    """The effects of all that is in doubt about the governing ceiling; none where there is none. Raises CaseError."""
    if found.field is None:
        return ()
    base = surrogate_of(found)
    if base.field is None:
        return ()
    unknowns = unknowns_of(case, base.system)
    adjoint, forced = adjoint_of(base), found.governs == "force"
    solved = Pushed(found_again(found, _coarse(found.problem))) if forced else Judged(base)
    again = [each for each in unknowns if each.key in (SOLVED_AGAIN_UNDER_FORCE if forced else SOLVED_AGAIN)]
    by_identity: dict[str, Effect] = {}
    for each in unknowns:
        effect = _solved(solved, each) if each in again else _sloped(adjoint, each)
        if effect is not None and each.moved.place[-1] in PUSHED_BY:
            effect = _below(effect, base)
        if effect is None:
            continue
        known = by_identity.get(effect.identity)
        by_identity[effect.identity] = effect if known is None else _together(known, effect)
    return tuple(by_identity.values())


def surrogate_of(found: Ceilings) -> Ceilings:
    """The ceilings that effects are told by, as ratios: on a coarse mesh, with a plug where the velocity would follow the melt.

    Where the grip governs it is the ceilings themselves.
    """
    if found.governs == "force":
        return found
    problem, coarse = found.problem, _coarse(found.problem)
    coarse = replace(coarse, operation=replace(coarse.operation, grip=None))
    return found if coarse == problem else found_again(found, coarse)


def _coarse(problem: Problem) -> Problem:
    operation = problem.operation
    if operation.follows_viscosity:
        operation = replace(operation, profile="plug")
    return replace(problem, operation=operation, level=min(problem.level, COARSEST))


def _sloped(adjoint: Adjoint, each: Unknown) -> Effect | None:
    """By the derivative of the ceiling; None for a dimension by which it has none."""
    slope = _slope(adjoint, each)
    if slope is None:
        return None

    def over(unknown: Unknown) -> Ends:
        low, high = (slope * unknown.per_unit * end for end in unknown.ends)
        return Ends(low, high)

    return _effect(each, over(each), None if each.usual is None else over(each.usual))


def _slope(adjoint: Adjoint, each: Unknown) -> float | None:
    """Change of the logarithm of the ceiling for one unit [SI], by a short step to the side on which no two faces meet."""
    base = adjoint.field.problem
    for share in (STEP, -STEP):
        step = share * (abs(each.value) or 1.0)
        with suppress(ValueError):
            moved = each.moved.moved(base, each.value + step)
            return adjoint.change(base, moved) / (step * adjoint.field.flow)
    return None


def _solved(base: Judged | Pushed, each: Unknown) -> Effect:
    """By ceilings solved at both ends."""
    return _effect(each, _ends(base, each), None if each.usual is None else _ends(base, each.usual))


def _ends(base: Judged | Pushed, each: Unknown) -> Ends:
    low, high = (math.log(max(_ratio(base, each, end), LEAST_RATIO)) for end in (each.low, each.high))
    return Ends(low, high)


def _ratio(base: Judged | Pushed, each: Unknown, value: float) -> float:
    """Ceiling with the number at `value` over that of `base`; 0 where nothing flows then."""
    return base.flow_under(each.moved.moved(base.ceilings.problem, value)) / base.ceilings.flow


def _below(effect: Effect, base: Ceilings) -> Effect:
    """An effect on the force ceiling alone: no farther up than to the next ceiling."""
    others = [field.flow for name, field in base.found.items() if name != "force"]
    room = math.log(min(others) / base.flow) if others else math.inf

    def kept(ends: Ends) -> Ends:
        return Ends(min(ends.low, room), min(ends.high, room))

    return replace(effect, ends=kept(effect.ends), plain=effect.plain and kept(effect.plain))


def _effect(each: Unknown, ends: Ends, plain: Ends | None) -> Effect:
    noun = each.moved.noun or each.key
    return Effect(each.identity, noun, each.words, each.known, ends, each.ends, each.stated, plain)


def _together(first: Effect, second: Effect) -> Effect:
    """One number of a card that two parts are made of."""
    plain = None
    if first.plain is not None or second.plain is not None:
        plain = (first.plain or first.ends) + (second.plain or second.ends)
    noun = first.identity.replace(".", ", ").replace("_", " ")
    return replace(first, noun=noun, ends=first.ends + second.ends, plain=plain, stated=first.stated or second.stated)
