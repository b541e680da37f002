"""A small system from the solver's own pieces, and a plain Newton iteration for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from types import SimpleNamespace
from typing import Any

import numpy as np
from scipy.interpolate import CubicSpline

from meltzone.fem.contact import ContactLaw
from meltzone.fem.discretise import judged_at_melt_end
from meltzone.fem.inputs import Criterion
from meltzone.fem.linearise import Linearisation
from meltzone.fem.space import Facets, Space
from meltzone.fem.sparse import factorised
from meltzone.fem.surroundings import LossCurve
from meltzone.fem.system import ContactTerm, FaceTerm, Measure, System
from meltzone.geometry.mesh import SectionMesh
from meltzone.materials.curves import Curve
from meltzone.materials.polymer import Polymer

MADE_UP = "input of a check"
INNER_SHARE = 0.1
SHARES: dict[Criterion, float | None] = {"core": 0.0, "inner": INNER_SHARE, "mean": None}
ZERO_CELSIUS = 273.15


def constant(value: float) -> Curve:
    """A property that does not vary."""
    return Curve.constant("property", "SI", value, MADE_UP)


def plain_polymer(conductivity: float = 0.2, density: float = 1000.0, heat_capacity: float = 2000.0) -> Polymer:
    """A polymer with constant properties and no melting peak [W/m/K, kg/m3, J/kg/K]."""
    return melting_polymer(constant(conductivity), constant(heat_capacity), constant(density), 0.0)


def melting_polymer(
    conductivity: Curve, heat_capacity: Curve, density: Curve, melting: float, peak: float = 430.0, width: float = 60.0
) -> Polymer:
    """A polymer with the curves given, and a melting enthalpy [J/kg] around `peak` [K]."""
    return Polymer(
        key="check",
        label="check",
        conductivity=conductivity,
        heat_capacity=heat_capacity,
        density=density,
        melting_enthalpy=melting,
        melting_peak=peak,
        melting_width=width,
        softening_temperature=340.0,
        flow_temperature=450.0,
        degradation_temperature=550.0,
        fumes="",
    )


def linear_loss(film: float, outside: float, gain: float = 0.0) -> LossCurve:
    """Flux out of a face, film (T - outside) - gain [W/m2]; film in [W/m2/K]."""
    surface = outside + np.array([-2000.0, -1000.0, 0.0, 1000.0, 2000.0])
    return CubicSpline(surface, film * (surface - outside) - gain)


def no_facets(space: Space) -> Facets:
    """The orifice of a body that nothing flows through."""
    some = space.facets(space.section.mesh.boundary_facets()[:1])
    empty = {
        f.name: getattr(some, f.name)[:, :0] if f.name == "points" else getattr(some, f.name)[:0] for f in fields(some)
    }
    return Facets(**empty)


def assemble(
    section: SectionMesh,
    conductors: Mapping[str, Curve],
    fixed: np.ndarray,
    losses: Mapping[str, LossCurve] | None = None,
    laws: tuple[ContactLaw, ...] = (),
    polymer: Polymer | None = None,
    stream: np.ndarray | None = None,
    source: np.ndarray | None = None,
    area_factors: Mapping[str, float] | None = None,
    space: Space | None = None,
    inlet_temperature: float = 300.0,
) -> System:
    """System of `section`: conductivity by part, unknowns held at their start, flux by face, one law a contact."""
    space = space or Space(section)
    polymer = polymer or plain_polymer()
    stream = np.zeros(space.size) if stream is None else stream
    tags = section.mesh.boundaries or {}
    outlet = space.facets(tags["outlet"]) if "outlet" in tags else no_facets(space)
    none = Measure(np.zeros(0, int), np.zeros(0))
    judged = judged_at_melt_end(space, stream, SHARES) if "melt zone end" in tags else {}
    given: dict[str, Any] = {
        "problem": SimpleNamespace(
            materials=SimpleNamespace(polymer=polymer), operation=SimpleNamespace(inlet_temperature=inlet_temperature)
        ),
        "space": space,
        "conductors": tuple((space.cells_of(part), curve) for part, curve in conductors.items()),
        "stream": stream,
        "source": np.zeros(space.size) if source is None else source,
        "inlet": fixed,
        "faces": tuple(
            _face(space, name, curve, (area_factors or {}).get(name, 1.0)) for name, curve in (losses or {}).items()
        ),
        "contacts": tuple(_contact(space, k, law) for k, law in enumerate(laws)),
        "outlet": outlet,
        "outlet_share": outlet.flow_through(stream),
        "sensor": none,
        "judged": judged,
        "divided": None,
    }
    # a load that the checks have no use for is zero
    unused: dict[str, Any] = {f.name: np.zeros(space.size) for f in fields(System) if f.name not in given}
    return System(**given, **unused)


def _face(space: Space, name: str, curve: LossCurve, factor: float) -> FaceTerm:
    facets = space.facets(space.section.mesh.boundaries[name])
    return FaceTerm(name, facets, factor * facets.area, curve)


def _contact(space: Space, number: int, law: ContactLaw) -> ContactTerm:
    pair = space.section.contacts[number]
    first, second = space.facets(pair.facets_first), space.facets(pair.facets_second)
    assert np.allclose(first.points, second.points, rtol=0.0, atol=1e-12)
    jump = np.concatenate([first.values, -second.values], axis=1)
    return ContactTerm(pair.name, first, np.hstack([first.dofs, second.dofs]), jump, law)


def solved(system: System, start: np.ndarray, flow: float = 0.0, power: float = 0.0) -> np.ndarray:
    """Temperatures [K] at which the residual vanishes; those of `system.inlet` stay as they start."""
    temperature = start.astype(float)
    for _ in range(40):
        here = Linearisation.at(system, temperature, flow, power)
        move = factorised(here.tangent()).solve(-here.free_residual)
        temperature = temperature + move
        if np.abs(move).max() < 1e-8 * np.abs(temperature).max():  # quadratic: the next move is round-off
            return temperature
    raise RuntimeError("the check's Newton iteration did not converge")


def reactions(
    system: System, temperature: np.ndarray, dofs: np.ndarray, flow: float = 0.0, power: float = 0.0
) -> float:
    """Heat that enters at the held unknowns `dofs` [W]: the flux consistent with the weak form."""
    return float(Linearisation.at(system, temperature, flow, power).residual[dofs].sum())


def at(space: Space, temperature: np.ndarray, r: float, z: float, part: str | None = None) -> float:
    """Temperature [K] at the unknown on (r, z) [m], of `part` where nodes are doubled."""
    dofs = space.dofs_of(part) if part else np.arange(space.size)
    away = np.hypot(space.points[0, dofs] - r, space.points[1, dofs] - z)
    nearest = int(np.argmin(away))
    assert away[nearest] < 1e-9 * (1.0 + abs(r)), f"no unknown at ({r}, {z})"
    return float(temperature[dofs[nearest]])
