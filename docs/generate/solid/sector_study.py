"""A divided bore in three dimensions: where its layers go, what heat does there, and how far a core is strained."""

from __future__ import annotations

from dataclasses import replace

import ngsolve as ng
import numpy as np
from scipy.optimize import brentq
from scipy.stats import spearmanr
from sector import Sector

from meltzone.fem.across.chain import ChainSections, DividedBore, LinearChain, PlugProperties
from meltzone.fem.across.rearrange import Ring, along_radius
from meltzone.fem.across.section import quantile
from meltzone.materials.library import polymer

MM, CUBIC_MM = 1e-3, 1e9
INLET, SETPOINT = 296.15, 483.15  # PLA from 23 degC in metal at 210 degC
CONTACT, SHARE = 12000.0, 0.1
PERFECT = 1e6  # conductivity of metal that is at the setpoint everywhere, as the walls of the sector are [W/m/K]
CORE = 0.2  # share of the flow that is taken for a core
# three holes of 0.8 mm in a bore of 2 mm as in the example, drawn in by 0.02 mm so that a bridge is left to be meshed
SHORT = Sector(3, 0.4, 0.58, 1.0, 1.5, 1.5, 1.5, 0.12)
HEATED = replace(SHORT, divided=6.0, after=2.0, size=0.16)
VARIED: tuple[dict[str, float], ...] = ({}, {"after": 0.5}, {"after": 5.0}, {"divided": 3.0})
BEFORE = 6.0  # heated length above the holes [mm]
APART = 1.06  # ratio of the two flows that are solved


def share_of(radius: np.ndarray, sticks: bool) -> np.ndarray:
    """Share of the flow inside a `radius` over the bore's [-], of a plug or of a melt that sticks."""
    return 1.0 - (1.0 - radius**2) ** 2 if sticks else radius**2


def layers(sticks: bool) -> dict[str, float]:
    """Where the layers of the bore lie in the hole and behind it: correlations, and mean squares of shares of the flow [-]."""
    sector = SHORT
    velocity = sector.sticking if sticks else sector.plug
    middle = sector.before + sector.divided / 2.0
    points = sector.hole_points(middle)
    ends = [sector.traced(velocity, points, level) for level in (0.02, sector.end - 0.02)]
    came, went = (share_of(np.hypot(*end[:2]) / sector.bore, sticks) for end in ends)
    weight = np.asarray(velocity(sector.mesh(*points)))[:, 2]
    known = ~np.isnan(came + went) & (weight > 0.0)
    came, went, weight, points = came[known], went[known], weight[known], points[:, known]
    apart = np.hypot(points[0], points[1])
    from_middle = np.hypot(points[0] - sector.ring, points[1])

    def off(found: np.ndarray, expected: np.ndarray) -> float:
        return float(np.sqrt(np.average((found - expected) ** 2, weights=weight)))

    return {
        "paths": int(known.sum()),
        "lost": int((~known).sum()),
        "order": float(spearmanr(apart, came)[0]),
        "sorted": float(spearmanr(from_middle, came)[0]),
        "off_order": off(came, _shares(apart, weight)),
        "off_sorted": off(came, _shares(from_middle, weight)),
        "back": off(went, came),
    }


def _shares(key: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Share of the flow with a smaller `key`, (n,)."""
    order = np.argsort(key)
    sums = np.cumsum(weight[order])
    found = np.empty_like(key)
    found[order] = (sums - 0.5 * weight[order]) / sums[-1]
    return found


def core_strain() -> dict[str, float]:
    """Strain of the innermost part of a plug into the holes, its flow's mean [-], and its share that meets the web."""
    sector = SHORT
    velocity, middle = sector.smooth_plug, sector.before + sector.divided / 2.0
    points = sector.hole_points(middle)
    came = share_of(np.hypot(*sector.traced(velocity, points, 0.02)[:2]) / sector.bore, sticks=False)
    weight = np.asarray(velocity(sector.mesh(*points)))[:, 2]
    strain = sector.strained(velocity, points, 0.02)
    core = (came < CORE) & ~np.isnan(strain)
    radius = sector.bore * np.sqrt(CORE)
    turn, spread = np.meshgrid(np.linspace(0.0, sector.half, 201), np.sqrt(np.linspace(0.0, 1.0, 201)))
    x, y = radius * spread * np.cos(turn), radius * spread * np.sin(turn)
    return {
        "share": CORE,
        "radius": float(radius),
        "paths": int(core.sum()),
        "strain": float(np.average(strain[core], weights=weight[core])),
        "least": float(strain[core].min()),
        "most": float(strain[core].max()),
        "on_web": float(np.mean(np.hypot(x - sector.ring, y) > sector.hole)),
    }


def heat(sector: Sector, say: object = print) -> dict[str, float]:
    """Melt ceilings at constant properties, metal at the setpoint [mm3/s]: layers in order, sorted, and in three dimensions."""
    card = polymer("pla")
    hot = card.flow_temperature
    conductivity = float(card.conductivity((INLET + hot) / 2.0))
    per_volume = card.reference_density * float(card.enthalpy(hot) - card.enthalpy(INLET)) / (hot - INLET)
    properties = PlugProperties(conductivity, per_volume, PERFECT, CONTACT)
    ring = Ring(sector.count, sector.hole * MM, sector.ring * MM, sector.bore * MM)
    bore = DividedBore(ring, 2.39 * MM, BEFORE * MM, sector.divided * MM, sector.after * MM)
    chain = LinearChain(ChainSections(ring, bore.outer, properties), bore)
    target = (hot - SETPOINT) / (SETPOINT - INLET)

    def ceiling(by_distribution: bool) -> float:
        def miss(flow: float) -> float:
            return chain.by_sections(flow, SHARE, by_distribution) - target

        return float(brentq(miss, 3e-9, 300e-9, xtol=1e-13))

    ordered, by_distribution = ceiling(False), ceiling(True)
    flows = np.array([ordered / APART, ordered])
    found = [in_sector(sector, chain, float(flow), conductivity, per_volume) for flow in flows]
    say("sector", flows * CUBIC_MM, found, target, flush=True)  # type: ignore[operator]
    slope = (found[1] - found[0]) / np.log(APART)
    solid = ordered * float(np.exp((target - found[1]) / slope))
    return {
        "order": CUBIC_MM * ordered,
        "sorted": CUBIC_MM * by_distribution,
        "solid": CUBIC_MM * solid,
        "before": BEFORE,
        "divided": sector.divided,
        "after": sector.after,
    }


def in_sector(sector: Sector, chain: LinearChain, flow: float, conductivity: float, per_volume: float) -> float:
    """Excess at the edge of the coldest share of the flow at the outlet [-], entered as the bore above leaves it."""
    line, way = chain.sections.line, 1.0 / (per_volume * flow)
    above = chain.sections.line_modes.advanced(-np.ones(line.size), (BEFORE - sector.before) * MM * way)
    radii = np.linspace(0.0, sector.bore, 101)
    entering = along_radius(line, radii * MM) @ above
    spline = ng.BSpline(2, [0.0, *radii.tolist()], entering.tolist())
    peclet = per_volume * flow / (2 * sector.count) / conductivity / MM
    field = sector.excess(sector.plug, peclet, CONTACT / conductivity * MM, spline(ng.sqrt(ng.x**2 + ng.y**2)))
    points = sector.wedge_points()
    at = sector.mesh(*points)
    weight = np.asarray(sector.plug(at))[:, 2]
    return float(quantile(np.asarray(field(at)).ravel(), weight / weight.sum(), SHARE))


def sector_figures(say: object = print) -> dict[str, object]:
    """All of it."""
    found = {"slips": layers(sticks=False), "sticks": layers(sticks=True), "core": core_strain()}
    say("sector", found, flush=True)  # type: ignore[operator]
    return {**found, "heats": [heat(replace(HEATED, **lengths), say) for lengths in VARIED]}
