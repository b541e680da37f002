"""The cautions that a case itself gives rise to: each material against the hottest point it reaches."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from meltzone.fem.field import Field
from meltzone.fem.inputs import SOLID_PARTS
from meltzone.fem.problem import Problem
from meltzone.fem.runaway import StuckOn
from meltzone.materials.limits import DEFERENCE, Finding, Severity, findings, gravest, service_limit
from meltzone.materials.polymer import Polymer
from meltzone.materials.solid import Solid
from meltzone.materials.units import ZERO_CELSIUS

BURNS = (
    "Block, nozzle and melt burn skin at once; the heater's supply may be mains. Let it cool, switch off, keep watch."
)
BURNS_BRIEF = "Block, nozzle and melt burn skin at once."
ALWAYS = ("burns", "mains")
ORDER = ("refuse", "warning", "note")


@dataclass(frozen=True)
class Margin:
    """A part at its hottest point, `temperature` [K], against the `limit` of its material [K], None where its card has none.

    `severity` is the gravest of what the material's card says to that temperature, notes left out.
    """

    part: str
    material: str
    temperature: float
    limit: float | None
    severity: Severity | None


def materials_by_part(problem: Problem) -> dict[str, Polymer | Solid]:
    """The card of every part present, under the part's name in the section."""
    found: dict[str, Polymer | Solid | None] = {"polymer": problem.materials.polymer}
    found |= {part: getattr(problem.materials, part.replace(" ", "_")) for part in SOLID_PARTS}
    return {part: material for part, material in found.items() if material is not None}


def part_name(part: str) -> str:
    """A part of the section as people call it."""
    return "filament" if part == "polymer" else part


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


def margins_of(problem: Problem, hottest: Mapping[str, float]) -> tuple[Margin, ...]:
    """Every part at its `hottest` point [K] against what its material stands."""
    found = []
    for part, material in materials_by_part(problem).items():
        said = [finding for finding in findings(material, hottest[part]) if finding.severity != "note"]
        found.append(Margin(part, material.label, hottest[part], service_limit(material), gravest(said)))
    return tuple(found)


def stuck_on_caution(problem: Problem, stuck: StuckOn) -> Finding:
    """What a heater that nothing switches off would come to, and which materials do not stand it."""
    beyond = [margin for margin in margins_of(problem, stuck.hottest) if margin.severity is not None]
    listed = ", ".join(
        f"{m.part} ({m.material.partition(' (')[0]}) {m.temperature - ZERO_CELSIUS:.0f}{_over(m.limit)}" for m in beyond
    )
    judged = (
        f"Beyond what the materials stand, with fumes and the danger of fire: {listed}."
        if listed
        else "The materials stand that by their cards."
    )
    text = (
        f"Heater stuck on at {stuck.power:g} W, nothing flowing, in still air: the sensor would come to "
        f"{stuck.sensor - ZERO_CELSIUS:.0f} degC. {judged} Fit a thermal cut-off that works without the "
        f"controller, and do not leave it alone. {DEFERENCE}"
    )
    hot = f"Heater stuck on at {stuck.power:g} W: {stuck.sensor - ZERO_CELSIUS:.0f} degC at the sensor"
    beyond_it = f", beyond what {', '.join(m.part for m in beyond)} stand (fumes, fire)" if beyond else ""
    return Finding(
        "warning", "heater", stuck.sensor, None, text, f"{hot}{beyond_it}. Fit a thermal cut-off of its own."
    )


def _over(limit: float | None) -> str:
    return "" if limit is None else f" over {limit - ZERO_CELSIUS:.0f} degC"


def assembly_caution(problem: Problem) -> Finding:
    """Threads that are tightened hot: nozzle against heat break, and the sleeve where there is one."""
    sleeve = " and the sleeve on it" if problem.arrangement.sleeve is not None else ""
    text = (
        f"Threads seize, strip and leak: where the maker has the nozzle{sleeve} tightened hot, use the torque given, hold the "
        f"block with a second tool, keep the heater's wires clear, and wear gloves. {DEFERENCE}"
    )
    return Finding("note", "threads", problem.operation.setpoint, None, text, "hot threads")


def without_deference(finding: Finding) -> str:
    """The finding's text; the sentence that defers to data sheets and codes is said once for all of them."""
    return finding.text.removesuffix(DEFERENCE).strip()
