"""What limits a ceiling: the share of every resistance, the temperature it costs, and the effect of each input."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from meltzone.fem.adjoint import Adjoint, adjoint_of
from meltzone.fem.ceiling import Ceilings
from meltzone.fem.contact import BoreLaw, entry_resistances
from meltzone.fem.discretise import bore_law
from meltzone.fem.field import Field
from meltzone.fem.forms import contact_heat, surface_loss
from meltzone.fem.lever import Lever, central_slope
from meltzone.fem.problem import Problem
from meltzone.fem.steady import GRIPPED
from meltzone.fem.system import ContactTerm, System
from meltzone.fem.threads import one_thread

FORWARD_STEP = 5e-7  # of the value: its curvature and its round-off both stay below 1e-4 of a derivative

# Parts and contacts that a budget calls otherwise than by their own names
GROUPS = {
    "nozzle": "nozzle wall",
    "blocks": "joint of the two blocks",
    "polymer": "filament itself",
    "gap": "gas gap around the filament",
    "thread": "threads in the block",
    "shoulder": "joint of nozzle and heat break",
    "block face": "flat joints",
    "sleeve face": "flat joints",
    "boot": "wrap",
    "slit": "air in the slit above the hexagon",
}


@dataclass(frozen=True, eq=False)
class Effect:
    """The derivative of the ceiling by one lever: `slope` [m3/s per unit of the lever]."""

    lever: Lever
    slope: float

    @property
    def gain(self) -> float:
        """Change of the ceiling for the lever's natural step, to first order [m3/s]."""
        return self.slope * self.lever.step


@dataclass(frozen=True, eq=False)
class Explanation:
    """Why a ceiling is where it is.

    `budget` gives each conductance's share in the ceiling [-]: the relative change of the ceiling for a relative change of it,
    losses negative. By scaling, all shares sum to 1, the heater's rating included where it governs. `drops` [K] is the way of
    the temperature from sensor to core, weighted by the heat that flows. `effects` are all levers, strongest first;
    `skipped` those without a derivative, with the reason.
    """

    ceilings: Ceilings
    adjoint: Adjoint
    budget: Mapping[str, float]
    drops: Mapping[str, float]
    effects: tuple[Effect, ...]
    skipped: Mapping[str, str]

    @property
    def bottleneck(self) -> str:
        """The largest share of the budget."""
        return max(self.budget, key=lambda name: self.budget[name])


@one_thread()
def explain(found: Ceilings, levers: Iterable[Lever] = ()) -> Explanation:
    """Explain the governing ceiling, with the effects of `levers` of its problem; raises ValueError where there is none."""
    adjoint = adjoint_of(found)
    effects: list[Effect] = []
    skipped: dict[str, str] = {}
    follows = adjoint.field.problem.operation.follows_viscosity
    for lever in levers:
        try:
            if follows and _bores(lever.at(lever.value * (1.0 + FORWARD_STEP))) != _bores(adjoint.field.problem):
                skipped[lever.key] = (
                    "a velocity that follows the viscosity answers to it as much as the temperatures do"
                )
                continue
            effects.append(Effect(lever, slope_by(adjoint, lever)))
        except ValueError as fault:
            skipped[lever.key] = str(fault)
    effects.sort(key=lambda effect: -abs(effect.gain))
    return Explanation(found, adjoint, budget_of(adjoint), drops_of(adjoint.field), tuple(effects), skipped)


def _bores(problem: Problem) -> tuple[float | None, ...]:
    """What a velocity that follows the viscosity, held as it is, puts derivatives off by: by several times, not by a tenth."""
    parts = problem.arrangement
    return parts.nozzle.bore, parts.nozzle.lower_bore, parts.heat_break.bore, parts.filament.diameter


def slope_by(adjoint: Adjoint, lever: Lever) -> float:
    """dQ/d(lever) by differences of the weighed residual; raises ValueError where there is none.

    Only the residual's terms are differenced, not the ceiling. A dimension is moved both ways, since faces may meet on either
    side; for all else one short step forwards does, at half the work.
    """
    base, size = adjoint.field.problem, abs(lever.value) or lever.step
    ahead = lever.at(lever.value + FORWARD_STEP * size)
    if ahead.arrangement == base.arrangement:
        return adjoint.change(base, ahead) / (FORWARD_STEP * size)
    return central_slope(lever, adjoint.change)


def budget_of(adjoint: Adjoint) -> dict[str, float]:
    """Share of every conductance in the ceiling, d ln Q / d ln G [-], grouped in words.

    Scaling every conductivity, conductance, film and the heater's power by one factor scales the flow by it at the same
    temperatures: so the shares of all of them sum to 1, that of the rating included where it governs. Viscous heat counts
    as one more source; where the grip governs, what pushing takes more at the same temperatures is a share too.
    """
    field, weights = adjoint.field, adjoint.free_weights
    cells = field.system.space.cells
    shares: dict[str, float] = {}

    def add(name: str, weighed: float) -> None:
        shares[name] = shares.get(name, 0.0) - weighed / field.flow

    for part in field.section.parts:
        chosen = field.system.space.cells_of(part)
        k = field.problem.materials.conductivity_of(part)(cells.at_points(field.temperature, chosen))
        add(GROUPS.get(part, part), float(np.sum(k * adjoint.seen.by_conductivity[chosen])))
    if field.system.divided is not None:  # its factor depends on flow over conductivity: it falls as that rises
        _, by_flow = field.system.divided.passage.factor(field.flow)
        add(GROUPS["polymer"], -field.flow * by_flow * adjoint.by_division)
    for contact in field.system.contacts:
        if isinstance(contact.law, BoreLaw):
            for name, weighed in _bore_shares(adjoint, contact, contact.law).items():
                add(name, weighed)
            continue
        load = contact_heat(contact, field.temperature, field.flow)
        add(GROUPS.get(contact.name, contact.name), float(np.sum(weights[contact.dofs] * load)))
    for face in field.system.faces:
        load = surface_loss(face, field.temperature)
        name = "loss to the heat sink" if face.name == "cold end" else "losses to the air"
        add(name, float(np.sum(weights[face.facets.dofs] * load)))
    if field.system.viscous.size == weights.size:
        add("viscous heat", -float(weights @ field.system.viscous))
    if GRIPPED in adjoint.held:
        shares["flow resistance of the melt"] = adjoint.by_push
    if "power" not in adjoint.free:
        add("heater rating", -field.power * float(weights @ field.system.source))
    return shares


def _bore_shares(adjoint: Adjoint, contact: ContactTerm, law: BoreLaw) -> dict[str, float]:
    """weights . dR/d ln G at the bore wall [m3/s] for the melt's contact, filament, the film around it, and webs.

    The last two also move the level where the skin has softened, whose length L goes with k^a film^(-1 - a): all conductances
    scaled by one factor, it is short by that factor. The film is the gas, with a liner also that.
    """
    field = adjoint.field
    jump = contact.across(field.temperature)
    seen = contact.across(adjoint.free_weights)
    heights = contact.first.points[1]
    wetted, dry = law.wetted(heights, field.flow), law.dry(heights)
    wall = dry + (law.melt - dry) * wetted
    conductance, slope = law.seen(heights, wall)
    through = jump * seen * contact.first.area
    crossing = through * slope
    by_way = float(np.sum(-4.0 * (law.melt - dry) * wetted * (1.0 - wetted) * crossing))
    shares = {
        "bore contact": float(np.sum(law.melt * wetted * crossing)),
        GROUPS["gap"]: float(np.sum(dry * (1.0 - wetted) * crossing)),
        GROUPS["polymer"]: 0.0,
    }
    # the film sets the softening length, at the entry and below a liner's end: each of its resistances by its part of the whole
    p = field.problem
    films = entry_resistances(p.arrangement, p.contacts, p.materials, p.operation)
    parts, exponents = law.softening_parts(field.flow), _softening_exponents(field.system)
    for resistances, part, exponent in zip((films, {"gap": films["gap"]}), parts, exponents, strict=True):
        by_length = part * by_way
        shares[GROUPS["polymer"]] += exponent * by_length
        for name, resistance in resistances.items():
            share = resistance / sum(resistances.values())
            group = GROUPS.get(name, name)
            shares[group] = shares.get(group, 0.0) - (1.0 + exponent) * by_length * share
    if law.holes is not None:  # what is not the wall's own
        shares["webs between the channels"] = float(np.sum((conductance - slope * wall) * through))
    return shares


def _softening_exponents(system: System, step: float = 1e-3) -> np.ndarray:
    """d ln L / d ln k of both softening lengths of the bore law by the polymer's conductivity, (2,) [-]."""
    moved = (_conducting(system.problem, 1.0 + move) for move in (-step, step))
    low, high = (bore_law(problem).softening_lengths for problem in moved)
    return np.log(np.divide(high, low)) / (2.0 * step)


def _conducting(problem: Problem, factor: float) -> Problem:
    """The problem with the polymer's conductivity times `factor`."""
    polymer = problem.materials.polymer
    other = replace(polymer, conductivity=polymer.conductivity.scaled(factor))
    return replace(problem, materials=replace(problem.materials, polymer=other))


def drops_of(field: Field) -> dict[str, float]:
    """Temperature spent from the sensor to the judged core, step by step, interfaces averaged by their heat flow [K]."""
    level = field.sensor
    drops = {}
    for name, temperature in (
        ("block", _mean_at(field, "thread", outer=True)),
        ("threads in the block", _mean_at(field, "thread", outer=False)),
        ("nozzle and heat break walls", _mean_at(field, "bore", outer=True)),
        ("bore contact", _mean_at(field, "bore", outer=False)),
        ("filament itself", field.judged),
    ):
        drops[name] = level - temperature
        level = temperature
    return drops


def _mean_at(field: Field, name: str, outer: bool) -> float:
    """Mean temperature of one side of all contacts called `name`, weighted by the heat that crosses them [K]."""
    heat = warmth = 0.0
    for contact in field.system.contacts:
        if contact.name != name:
            continue
        jump = contact.across(field.temperature)
        first = contact.first.traces(field.temperature)
        conductance, _ = contact.law(contact.first.points[1], field.flow)
        crossing = np.abs(conductance * jump * contact.first.area)
        second = first - jump
        side = np.maximum(first, second) if outer else np.minimum(first, second)
        heat += float(crossing.sum())
        warmth += float(np.sum(crossing * side))
    return warmth / heat
