"""What limits a ceiling: the share of every resistance, the temperature it costs, and the effect of each input."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from meltzone.fem.adjoint import Adjoint, adjoint_of
from meltzone.fem.ceiling import Ceilings
from meltzone.fem.field import Field
from meltzone.fem.forms import contact_heat, surface_loss
from meltzone.fem.levers import Lever, levers_of

RELATIVE_STEP = 1e-5  # of the value: small enough for a derivative, large enough for its digits

GROUPS = {
    "block": "block",
    "heat break": "heat break",
    "nozzle": "nozzle wall",
    "sleeve": "sleeve",
    "wrap": "wrap",
    "polymer": "filament itself",
    "gap": "gas gap above the block",
    "bore": "bore contact",
    "thread": "threads in the block",
    "shoulder": "joint of nozzle and heat break",
    "block face": "flat joints",
    "sleeve face": "flat joints",
    "sleeve thread": "sleeve thread",
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


def explain(found: Ceilings) -> Explanation:
    """Explain the governing ceiling; raises ValueError where there is none."""
    adjoint = adjoint_of(found)
    effects, skipped = [], {}
    for lever in levers_of(adjoint.field.problem):
        try:
            effects.append(Effect(lever, slope_by(adjoint, lever)))
        except ValueError as fault:
            skipped[lever.key] = str(fault)
    effects.sort(key=lambda effect: -abs(effect.gain))
    return Explanation(found, adjoint, budget_of(adjoint), drops_of(adjoint.field), tuple(effects), skipped)


def slope_by(adjoint: Adjoint, lever: Lever) -> float:
    """dQ/d(lever) by central differences of the weighed residual; raises ValueError where there is none."""
    step = RELATIVE_STEP * (abs(lever.value) or lever.step)
    return adjoint.change(lever.at(lever.value - step), lever.at(lever.value + step)) / (2.0 * step)


def budget_of(adjoint: Adjoint) -> dict[str, float]:
    """Share of every conductance in the ceiling, d ln Q / d ln G [-], grouped in words.

    Scaling every conductivity, conductance and film by one factor scales flow and powers by it at the same temperatures:
    so the shares of all of them sum to 1 (less the rating's share where it governs).
    """
    field, weights = adjoint.field, adjoint.free_weights
    cells = field.system.space.cells
    shares: dict[str, float] = {}

    def add(name: str, weighed: float) -> None:
        shares[name] = shares.get(name, 0.0) - weighed / field.flow

    for part in field.section.parts:
        chosen = field.system.space.cells_of(part)
        k = field.problem.materials.conductivity_of(part)(field.temperature[cells.dofs[chosen]] @ cells.values)
        add(GROUPS[part], float(np.sum(k * adjoint.by_conductivity[chosen])))
    for contact in field.system.contacts:
        load, _, dofs = contact_heat(contact, field.temperature, field.flow)
        add(GROUPS.get(contact.name, contact.name), float(np.sum(weights[dofs] * load)))
    for face in field.system.faces:
        load, _, dofs = surface_loss(face, field.temperature)
        name = "loss to the heat sink" if face.name == "cold end" else "losses to the air"
        add(name, float(np.sum(weights[dofs] * load)))
    if "melt" not in adjoint.held:
        add("heater rating", -field.power * float(weights @ field.system.source))
    return shares


def drops_of(field: Field) -> dict[str, float]:
    """Temperature spent from the sensor to the judged core, step by step, interfaces averaged by their heat flow [K]."""
    level = field.sensor
    drops = {}
    for name, temperature in (
        ("block", _mean_at(field, "thread", outer=True)),
        ("threads in the block", _mean_at(field, "thread", outer=False)),
        ("nozzle and heat break walls", _mean_at(field, "bore", outer=True)),
        ("bore contact", _mean_at(field, "bore", outer=False)),
        ("filament itself", field.system.judged_by(field.problem.operation.criterion).of(field.temperature)),
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
        jump = np.einsum("ei,eiq->eq", field.temperature[contact.dofs], contact.jump)
        first = contact.first.traces(field.temperature)
        conductance, _ = contact.law(contact.first.points[1], field.flow)
        crossing = np.abs(conductance * jump * contact.first.area)
        second = first - jump
        side = np.maximum(first, second) if outer else np.minimum(first, second)
        heat += float(crossing.sum())
        warmth += float(np.sum(crossing * side))
    return warmth / heat
