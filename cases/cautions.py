"""The cautions that a case itself gives rise to: each material against the hottest point it reaches."""

from __future__ import annotations

from collections.abc import Mapping

from meltzone.fem.field import Field
from meltzone.fem.problem import Problem
from meltzone.materials.limits import DEFERENCE, Finding, findings
from meltzone.materials.polymer import Polymer
from meltzone.materials.solid import Solid

BURNS = (
    "Block, nozzle and melt burn skin at once; the heater's supply may be mains. Let it cool, switch off, keep watch."
)
ORDER = ("refuse", "warning", "note")


def materials_by_part(problem: Problem) -> dict[str, Polymer | Solid]:
    """The card of every part present, under the part's name in the section."""
    chosen = problem.materials
    found: dict[str, Polymer | Solid | None] = {
        "polymer": chosen.polymer,
        "block": chosen.block,
        "nozzle": chosen.nozzle,
        "heat break": chosen.heat_break,
        "sleeve": chosen.sleeve,
        "wrap": chosen.wrap,
    }
    return {part: material for part, material in found.items() if material is not None}


def hottest_points(problem: Problem, field: Field | None) -> dict[str, float]:
    """Highest temperature of each part [K]; without a field, the setpoint for all."""
    parts = materials_by_part(problem)
    if field is None:
        return dict.fromkeys(parts, problem.operation.setpoint)
    extremes = field.part_extremes
    return {part: extremes[part][1] for part in parts}


def cautions_of(problem: Problem, hottest: Mapping[str, float]) -> tuple[Finding, ...]:
    """Findings of every material at its hottest point over all its parts, the gravest first, each once."""
    worst: dict[str, tuple[Polymer | Solid, float]] = {}
    for part, material in materials_by_part(problem).items():
        known = worst.get(material.key)
        if known is None or known[1] < hottest[part]:
            worst[material.key] = (material, hottest[part])
    found = [finding for material, temperature in worst.values() for finding in findings(material, temperature)]
    return tuple(sorted(found, key=lambda finding: ORDER.index(finding.severity)))


def without_deference(finding: Finding) -> str:
    """The finding's text; the sentence that defers to data sheets and codes is said once for all of them."""
    return finding.text.removesuffix(DEFERENCE).strip()
