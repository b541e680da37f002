"""Everything that the validation page reports, solved; some minutes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from generate.evidence.cooling_study import Cooling, cooling
from generate.evidence.coupling_estimate import Lag, lags
from generate.evidence.force_study import (
    LONG_NOZZLE,
    SERIES,
    SPEED_LENGTHS,
    EqualForce,
    LongNozzle,
    Pushed,
    Relative,
    equal_force,
    long_nozzle,
    pushed_rows,
    speeds,
)
from generate.evidence.literature_study import PLA_LENGTHS, LengthRow, Slip, length_rows, slips
from generate.evidence.studies import (
    PRACTICE,
    VARIANTS,
    JetRow,
    PowerCheck,
    ThreadPair,
    jet_rows,
    power_check,
    thread_pairs,
    variant_result,
)
from meltzone.cases.studies.validation.outcome import Validation
from meltzone.cases.studies.validation.validate import validate
from meltzone.fem.progress import Reporter
from meltzone.fem.slow_flow.feeding import Feeding

COOLED = (12.5,)  # melt zones [mm]
JET_SPEEDS = (2.0, 3.0, 5.0, 8.0)  # [m/s]


@dataclass(frozen=True)
class Forces:
    """What the feeding force is held against: rows of practice and of lengths, forces over flow, lines of equal force."""

    practice: Sequence[Pushed]
    lengths: Sequence[Pushed]
    series: Sequence[Validation]
    equal: Sequence[EqualForce]
    speeds: Sequence[tuple[float, Relative]]
    long_nozzle: Sequence[LongNozzle]
    lags: Sequence[tuple[str, Feeding, Lag]]


@dataclass(frozen=True)
class Findings:
    """Everything that the page reports."""

    variants: tuple[Validation, ...]
    threads: Sequence[ThreadPair]
    jets: Sequence[JetRow]
    power: PowerCheck
    slips: Sequence[Slip]
    lengths: Sequence[LengthRow]
    forces: Forces
    cooling: Sequence[Cooling]
    weighed: Sequence[Validation] = ()

    @property
    def default(self) -> Validation:
        """The default model."""
        return self.variants[0]

    def variant(self, label: str) -> Validation:
        """The variant of that label."""
        return next(found for each, found in zip(VARIANTS, self.variants, strict=True) if each.label == label)


def findings(report: Reporter | None = None, weighed: Sequence[str] = ()) -> Findings:
    """Solve all of it, some minutes, and what is `weighed` besides: names of measured files or data bases of weighings."""
    say = report or (lambda _: None)
    results = []
    for variant in VARIANTS:
        say(f"variant: {variant.label}")
        results.append(variant_result(variant))
    say("threads, jet, power")
    rest = thread_pairs(), jet_rows(JET_SPEEDS), power_check()
    slip, lengths = slips(report=report), length_rows()
    cooled, own = [cooling(length) for length in COOLED], [validate(name) for name in weighed]
    return Findings(tuple(results), *rest, slip, lengths, forces(report), cooled, own)


def forces(report: Reporter | None = None) -> Forces:
    """All of it that is about the force."""
    if report is not None:
        report("published forces")
    return Forces(
        pushed_rows(PRACTICE, report),
        pushed_rows(PLA_LENGTHS, report),
        [validate(name) for name in SERIES],
        [equal_force(length) for length in (12.5, 16.0, 20.0)],
        [(length, speeds(length)) for length in SPEED_LENGTHS],
        [long_nozzle(label) for label in LONG_NOZZLE],
        lags(),
    )
