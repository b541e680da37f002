"""Why a ceiling is where it is, for a case: budget, temperature drops, strongest levers, interval; as a plain function."""

from __future__ import annotations

import math
from dataclasses import dataclass

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.levers import levers_of
from meltzone.cases.inputs.uncertain import uncertain_inputs
from meltzone.cases.studies.bottleneck import bottleneck_sentence
from meltzone.cases.studies.cautions import cautions_of, hottest_points
from meltzone.cases.studies.completing import with_band, with_push
from meltzone.cases.studies.interval import CUBIC_MM, Interval, Sampled, linear_interval, sampled_interval
from meltzone.cases.studies.pushing import pushing_sentence
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.run import CaseLike, Overrides, sought
from meltzone.fem.explain import Effect, Explanation
from meltzone.fem.explain import explain as explain_ceilings
from meltzone.fem.lever import Lever, LeverKind
from meltzone.fem.progress import Reporter
from meltzone.materials.limits import Finding
from meltzone.materials.units import ANGLE, LENGTH, TEMPERATURE, show

STRONGEST = 10  # levers shown of each kind
WORTH_SHOWING = 5e-4  # of the ceiling: levers that do less for their step are left out
MOST_SAMPLES = 10_000
VELOCITY_HELD = (
    "The velocity, which follows the viscosity, is held as it is: against whole solves, strong levers are within about a "
    "tenth, weak ones may be off by more. Solve the changed case before relying on one."
)


@dataclass(frozen=True, eq=False)
class LeverEffect:
    """A lever in people's words: dotted `key` of the case, `step` and value `now` with units, effect [mm3/s] and [%].

    `kind` is "design" for what one can build or set, "data" for what the number hangs on.
    """

    key: str
    words: str
    kind: LeverKind
    step: str
    now: str
    change: float
    percent: float

    @property
    def sentence(self) -> str:
        """Such as "+1 mm of block height: +0.81 mm3/s"."""
        return f"{self.step} of {self.words}: {self.change:+.2g} mm³/s"


@dataclass(frozen=True, eq=False)
class Explained:
    """The ceilings of a case and why they are where they are; `explanation` is None where nothing flows.

    `interval` and `sampled` are None where no input carries a tolerance, or where it was not asked for. `hotter` are the
    cautions that a setpoint higher by its natural step would add.
    """

    result: Result
    explanation: Explanation | None
    interval: Interval | None = None
    sampled: Sampled | None = None
    hotter: tuple[Finding, ...] = ()

    @property
    def bottleneck(self) -> str:
        """What limits it, in a sentence; where nothing flows, why."""
        if self.explanation is None:
            return f"There is no ceiling to explain: {self.result.statement}."
        if self.result.governs == "force":
            return pushing_sentence(self.result)
        return bottleneck_sentence(self.explanation)

    def strongest(self, kind: LeverKind) -> tuple[LeverEffect, ...]:
        """The strongest levers of one kind, the strongest first."""
        if self.explanation is None:
            return ()
        flow = CUBIC_MM * self.explanation.adjoint.field.flow
        shown = [in_words(e, flow) for e in self.explanation.effects if e.lever.kind == kind]
        return tuple(effect for effect in shown if abs(effect.percent) >= 100.0 * WORTH_SHOWING)[:STRONGEST]

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader of the levers must know."""
        if self.explanation is None:
            return ()
        found = []
        if self.explanation.adjoint.field.problem.operation.follows_viscosity:
            found.append(VELOCITY_HELD)
        found += [f"{key} is left out: {why}." for key, why in self.explanation.skipped.items()]
        return tuple(found)


def explain(
    case: CaseLike, overrides: Overrides | None = None, samples: int = 0, report: Reporter | None = None
) -> Explained:
    """Explain the governing ceiling of `case`.

    Where inputs carry tolerances the linear interval is found by the way; `samples` asks for that many whole solves besides.
    Raises CaseError.
    """
    require_samples(samples)
    result = sought(case, overrides, report)
    if samples and not uncertain_inputs(result.case):
        hint = 'As in setpoint = "210 +/- 3 degC", or [uncertainty] with polymer.conductivity = "10 %".'
        raise CaseError(result.case.file, None, None, None, "an input with a tolerance, to draw samples of", hint)
    return explained_of(with_band(result), samples, report)


def require_samples(samples: int) -> None:
    """Raises CaseError for a count of `samples` that nobody can use; none at all is one."""
    if samples and not 2 <= samples <= MOST_SAMPLES:
        raise CaseError(
            "--samples", None, None, f"{samples}", f"a count from 2 to {MOST_SAMPLES}", "64 is a fair start."
        )


def explained_of(result: Result, samples: int = 0, report: Reporter | None = None) -> Explained:
    """Explain the governing ceiling of a `result` that has ceilings; raises CaseError for tolerances that cannot be."""
    ceilings = result.ceilings
    assert ceilings is not None
    sampled = sampled_interval(result.case, samples, report) if samples else None
    if result.governs == "force" and result.pushed is None:
        result = with_push(result)
    if result.field is None:
        return Explained(result, None, sampled=sampled)
    if report is not None:
        report("levers")
    explanation = explain_ceilings(ceilings, levers_of(result.field.system))
    interval = linear_interval(result.case, ceilings, explanation.adjoint)
    return Explained(result, explanation, interval, sampled, _hotter(result, explanation))


def _hotter(result: Result, explanation: Explanation) -> tuple[Finding, ...]:
    """Warnings and refusals that come with a setpoint higher by its natural step, and not already without it."""
    (step,) = (effect.lever.step for effect in explanation.effects if effect.lever.key == "heater.setpoint")
    risen = {part: hot + step for part, hot in hottest_points(result.problem, result.field).items()}
    known = {(found.material, found.severity) for found in result.cautions}
    return tuple(
        found
        for found in cautions_of(result.problem, risen)
        if found.severity != "note" and (found.material, found.severity) not in known
    )


def in_words(effect: Effect, flow: float) -> LeverEffect:
    """The effect of a lever with units, at a ceiling of `flow` [mm3/s]."""
    lever = effect.lever
    change = CUBIC_MM * effect.gain
    return LeverEffect(
        lever.key.removesuffix("*"),
        lever.words,
        lever.kind,
        step_words(lever),
        value_words(lever),
        change,
        100.0 * change / flow,
    )


def step_words(lever: Lever) -> str:
    """The natural step with its sign and unit, such as "+1 mm" or "+10 %"."""
    if lever.unit == "-":
        return "+10 %" if lever.key.endswith("*") else f"+{lever.step:g}"
    if lever.unit == "W/m2/K":
        return f"+{100.0 * lever.step / lever.value:.0f} %" if lever.value else f"+{lever.step:g} W/m²/K"
    if lever.unit == "J/kg":
        return f"+{1e-3 * lever.step:g} kJ/kg"
    return {
        "m": f"+{1e3 * lever.step:g} mm",
        "rad": f"+{math.degrees(lever.step):.0f} deg",
    }.get(lever.unit, f"+{lever.step:g} {lever.unit}")


def value_words(lever: Lever) -> str:
    """The value as it is, with its unit; '' for a property over temperature."""
    if lever.unit == "-":
        return "" if lever.key.endswith("*") else f"{lever.value:g}"
    kinds = {"m": LENGTH, "rad": ANGLE, "K": TEMPERATURE}
    if lever.unit in kinds:
        return show(lever.value, kinds[lever.unit])
    if lever.unit == "J/kg":
        return f"{1e-3 * lever.value:g} kJ/kg"
    return f"{lever.value:g} {lever.unit.replace('m2', 'm²')}"
