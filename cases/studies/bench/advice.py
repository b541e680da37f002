"""What to weigh next, from what is weighed: higher flows, or more samples where the wider interval asks for them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from meltzone.cases.statistics.next_samples import propose
from meltzone.cases.statistics.resample import Estimate
from meltzone.cases.studies.bench.reduce import Reduced

SETTLED = 0.03  # of the number: half the width of an interval with which it counts as known; assumed, no source
FARTHER = 1.15  # beyond the highest flow, where no plateau is found
NUMBERS = ("", "one", "two", "three", "four", "five", "six")


@dataclass(frozen=True)
class Advice:
    """`count` more samples at the commanded `flow` [mm3/s], none where nothing is to be done, in a `sentence`."""

    count: int
    flow: float | None
    sentence: str


def advice(found: Reduced, settled: float = SETTLED) -> Advice:
    """What a series needs so that half the width of both intervals is no more than `settled` [-] of their numbers."""
    commanded = found.delivered.commanded
    if not found.reached:
        flow = FARTHER * float(commanded.max())
        return Advice(2, flow, f"No plateau yet: two at {flow:.1f} mm³/s, beyond all so far, would show where it lies.")
    wide = {name: _half(each) / each.value for name, each in (("ceiling", found.ceiling), ("onset", found.onset))}
    name = max(wide, key=lambda each: wide[each])
    if wide[name] <= settled:
        return Advice(0, None, f"Settled: onset and ceiling are known to {100.0 * wide[name]:.1f} % or better.")
    estimate = found.ceiling if name == "ceiling" else found.onset
    flows = np.unique(np.round(commanded, 6))
    candidates = np.union1d(flows, 0.5 * (flows[1:] + flows[:-1]))
    told = propose(
        found.fitted.curve, commanded, candidates, lambda line: getattr(line, name), _half(estimate),
        settled * estimate.value,
    )  # fmt: skip
    share = 100.0 * told.half_width / estimate.value
    many = f"{NUMBERS[told.count].capitalize()} more at {told.flow:.1f} mm³/s"
    does = f"would settle the {name} to {share:.1f} %" if share <= 100.0 * settled * 1.0001 else (
        f"would narrow the {name} from {100.0 * wide[name]:.1f} to about {share:.1f} %"
    )  # fmt: skip
    return Advice(told.count, told.flow, f"{many} {does}.")


def _half(estimate: Estimate) -> float:
    return 0.5 * (estimate.high - estimate.low)
