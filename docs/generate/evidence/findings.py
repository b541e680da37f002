"""Everything that the validation page reports, solved; some minutes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from generate.evidence.force_study import Pushed, SlipForces, practice_forces, slip_forces
from generate.evidence.literature_study import LengthRow, Slip, length_rows, slips
from generate.evidence.studies import (
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
from meltzone.fem.progress import Reporter

JET_SPEEDS = (2.0, 3.0, 5.0, 8.0)  # [m/s]


@dataclass(frozen=True)
class Findings:
    """Everything that the page reports."""

    variants: tuple[Validation, ...]
    threads: Sequence[ThreadPair]
    jets: Sequence[JetRow]
    power: PowerCheck
    slips: Sequence[Slip]
    lengths: Sequence[LengthRow]
    forces: Sequence[Pushed]
    slip_forces: Sequence[SlipForces]

    @property
    def default(self) -> Validation:
        """The default model."""
        return self.variants[0]

    def force_at(self, setpoint: str) -> Pushed:
        """The first measured row whose name tells that setpoint."""
        return next(row for row in self.forces if setpoint in row.name)

    def variant(self, label: str) -> Validation:
        """The variant of that label."""
        return next(found for each, found in zip(VARIANTS, self.variants, strict=True) if each.label == label)


def findings(report: Reporter | None = None) -> Findings:
    """Solve all of it; some minutes."""
    say = report or (lambda _: None)
    results = []
    for variant in VARIANTS:
        say(f"variant: {variant.label}")
        results.append(variant_result(variant))
    say("threads, jet, power")
    rest = thread_pairs(), jet_rows(JET_SPEEDS), power_check()
    slip, lengths = slips(report=report), length_rows()
    say("feeding forces")
    return Findings(tuple(results), *rest, slip, lengths, practice_forces(), slip_forces(report=report))
