"""Bands against whole solves: ceilings with every number in doubt drawn anew; run as a module it rewrites docs/bands.md."""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from meltzone.cases.inputs.plausible import unknowns_of
from meltzone.cases.statistics.independent import NORMAL_90
from meltzone.cases.studies.bands.band import Band
from meltzone.cases.studies.bands.compared import evidence
from meltzone.cases.studies.bands.effects import surrogate_of
from meltzone.cases.studies.bands.model_error import missed, missed_of_gains
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.run import ceiling
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.progress import Reporter

DOCS = Path(__file__).resolve().parents[2]
PAGE, TEMPLATE = DOCS / "bands.md", Path(__file__).with_name("bands.md.txt")
SEED, COUNT = 20, 2000
CASES = {
    "short-block": {},
    "short-block, 260 degC": {"heater.setpoint": "260 degC"},
    "short-block-petg": {},
    "short-block-fan": {},
    "long-block": {},
    "long-nozzle-bare-fan": {},
    "long-nozzle-wrapped-fan": {},
    "long-nozzle-brass-sleeve": {},
    "short-block-285": {},
    "short-block, judged by the mean": {"polymer.criterion": "mean"},
}


@dataclass(frozen=True)
class Drawn:
    """A case with its `band` and the 5 and 95 % points `low` and `high` of `count` ceilings drawn, over its own ceiling [-]."""

    name: str
    band: Band
    low: float
    high: float
    count: int

    @property
    def by_band(self) -> tuple[float, float]:
        """The same by the band of the inputs."""
        low, high = (end / self.band.value for end in self.band.by_inputs)
        return low, high

    @property
    def width_ratio(self) -> float:
        """Width of the band over that of the ceilings drawn [-]."""
        low, high = self.by_band
        return (high - low) / (self.high - self.low)

    @property
    def sampling_error(self) -> float:
        """Standard error of the width of the ceilings drawn, were they normal, as a share of it [-]."""
        share, density = 0.05, math.exp(-(NORMAL_90**2) / 2.0) / math.sqrt(2.0 * math.pi)
        apart = 2.0 * share * (1.0 - 2.0 * share) / self.count  # variance of the difference of both ends' shares
        return math.sqrt(apart) / density / (2.0 * NORMAL_90)


def drawn(name: str, result: Result, count: int) -> Drawn:
    """`count` ceilings of `result` with every number in doubt drawn by its range, on the mesh of the bands.

    A number that two parts share is drawn once. Where nothing flows a ceiling counts as 0.
    """
    assert result.ceilings is not None and result.band is not None
    base = surrogate_of(result.ceilings)
    unknowns, random = unknowns_of(result.case, base.system), np.random.default_rng(SEED)
    flows = []
    for _ in range(count):
        moved, normals = base.problem, dict[str, float]()
        for unknown in unknowns:
            z = normals.setdefault(unknown.identity, random.normal()) / NORMAL_90
            low, high = unknown.ends
            moved = unknown.moved.moved(moved, unknown.value_at(high * z if z > 0.0 else -low * z))
        flows.append(find_ceilings(moved).flow / base.flow)
    low, high = np.quantile(flows, [0.05, 0.95])
    return Drawn(name, result.band, float(low), float(high), count)


def study(count: int, say: Reporter) -> list[Drawn]:
    """All the cases, `count` ceilings each."""
    found = []
    for name, overrides in CASES.items():
        say(name)
        found.append(drawn(name, ceiling(name.partition(",")[0], overrides), count))
    return found


def table(found: list[Drawn]) -> str:
    """The rows as Markdown."""
    lines = [
        "| case | ceiling [mm³/s] | band by the inputs | drawn and solved | width, band over drawn | band with the model |",
        "|---|---|---|---|---|---|",
    ]
    for each in found:
        value = each.band.value
        inputs, solved = ((low * value, high * value) for low, high in (each.by_band, (each.low, each.high)))
        ends = [f"{low:.1f} to {high:.1f}" for low, high in (inputs, solved, each.band.bounds)]
        cells = [each.name, f"{value:.2f}", *ends[:2], f"{each.width_ratio:.2f}", ends[2]]
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines)


def errors() -> str:
    """What was missed of every measured ceiling, as Markdown."""
    lines = ["| measured | row | measured [mm³/s] | predicted [mm³/s] | error [%] |", "|---|---|---|---|---|"]
    lines += [
        f"| {row.file} | {row.row} | {row.measured:.4g} | {row.predicted:.2f} | {row.error_percent:+.1f} |"
        for row in evidence().rows
    ]
    return "\n".join(lines)


def page(found: list[Drawn]) -> str:
    """The whole page."""
    narrow = [row for row in evidence().rows if row.at.orifice < 1.0]
    wide = [row for row in evidence().rows if row.at.orifice >= 1.0]
    floor, share = missed_of_gains()
    worst = max(found, key=lambda each: abs(each.width_ratio - 1.0))
    return TEMPLATE.read_text(encoding="utf-8").format(
        table=table(found), errors=errors(), count=found[0].count, sampling=100.0 * found[0].sampling_error,
        narrow=100.0 * math.expm1(missed(narrow)), wide=100.0 * math.expm1(missed(wide)), floor=100.0 * floor,
        share=100.0 * share, worst=100.0 * (worst.width_ratio - 1.0), worst_case=worst.name,
        profiles=", ".join(f"{name} {100.0 * math.expm1(log):+.0f} %" for name, log in evidence().profile.items()),
    )  # fmt: skip


if __name__ == "__main__":
    many = int(sys.argv[1]) if len(sys.argv) > 1 else COUNT
    PAGE.write_text(page(study(many, lambda what: print(what, file=sys.stderr, flush=True))), encoding="utf-8")
