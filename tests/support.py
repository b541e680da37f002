"""Shared by the tests of geometry and solver: everyday arrangements, materials from the shipped cards, problems of them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache, lru_cache
from typing import Any

import numpy as np
import pytest
from hypothesis import strategies as st

from meltzone.cases.inputs.sizes import expected_and_hint
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.discretise import discretise
from meltzone.fem.explain import explain
from meltzone.fem.field import Field
from meltzone.fem.inputs import SOLID_PARTS, Contacts, MaterialSet, Operation, Surroundings
from meltzone.fem.problem import Problem
from meltzone.fem.system import System
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.block import Block, SecondBlock
from meltzone.geometry.channels import Channels
from meltzone.geometry.covers import Sleeve, Wrap
from meltzone.geometry.errors import GeometryError
from meltzone.geometry.filament import Filament
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.liner import Liner
from meltzone.geometry.nozzle import Nozzle
from meltzone.geometry.thread import MetricThread
from meltzone.materials.curves import Curve
from meltzone.materials.library import air, polymer, solid

ZERO_CELSIUS = 273.15
STILL = Surroundings()
JET = Surroundings(jet_speed=5.0)
LONG_NOZZLE = Nozzle(length=21e-3, exposed=13.5e-3)

# the everyday patterns: dimensions are common practice, no source
ARRANGEMENTS: dict[str, Arrangement] = {
    "short": Arrangement(),
    "long block": Arrangement(block=Block(height=20e-3), nozzle=Nozzle(length=21e-3)),
    "long nozzle": Arrangement(nozzle=LONG_NOZZLE),
    "rings": Arrangement(nozzle=replace(LONG_NOZZLE, exposed_thread="rings")),
    "sleeve": Arrangement(nozzle=LONG_NOZZLE, sleeve=Sleeve()),
    "short sleeve": Arrangement(nozzle=LONG_NOZZLE, sleeve=Sleeve(height=5e-3, width=11e-3, round=True)),
    "nozzle wrap": Arrangement(nozzle=LONG_NOZZLE, wrap=Wrap(covers=("nozzle",))),
    "boot": Arrangement(wrap=Wrap(covers=("block",))),
    "sleeve wrapped": Arrangement(
        nozzle=LONG_NOZZLE, sleeve=Sleeve(height=5e-3), wrap=Wrap(covers=("block", "nozzle"))
    ),
    "three channels": Arrangement(channels=Channels(length=6e-3)),
    "thick filament": Arrangement(
        nozzle=Nozzle(
            bore=3.2e-3,
            orifice=0.8e-3,
            thread=MetricThread(8e-3, 1.25e-3),
            hexagon=10e-3,
            tip_diameter=1.8e-3,
        ),
        heat_break=HeatBreak(bore=3.2e-3, neck_diameter=4.2e-3),
        filament=Filament(2.85e-3),
    ),
}
KINDS = tuple(ARRANGEMENTS)


def materials_for(arrangement: Arrangement, plastic: str = "pla", **parts: str) -> MaterialSet:
    """The usual metals; name another by part, as `nozzle="tool steel"`."""
    return MaterialSet(
        polymer=polymer(plastic),
        block=solid(parts.get("block", "aluminium")),
        nozzle=solid(parts.get("nozzle", "brass")),
        heat_break=solid(parts.get("heat_break", "stainless steel")),
        air=air(),
        sleeve=solid(parts.get("sleeve", "brass")) if arrangement.sleeve else None,
        wrap=solid(parts.get("wrap", "silicone rubber")) if arrangement.wrap else None,
        liner=solid(parts.get("liner", "ptfe")) if arrangement.liner else None,
        second_block=solid(parts.get("second_block", "aluminium")) if arrangement.second_block else None,
        nozzle_cover=solid("silicone rubber") if arrangement.nozzle_cover else None,
        tip=solid(parts.get("tip", "tool steel")) if arrangement.tip else None,
        break_body=solid(parts.get("break_body", "copper")) if arrangement.break_body else None,
        heat_sink=solid(parts.get("heat_sink", "aluminium")) if arrangement.heat_sink else None,
    )


def problem_for(
    arrangement: Arrangement | str = "short",
    plastic: str = "pla",
    setpoint: float = 210.0,
    level: float = 0.0,
    *,
    contacts: Contacts | None = None,
    surroundings: Surroundings = STILL,
    materials: MaterialSet | None = None,
    **operation: Any,
) -> Problem:
    """A problem at `setpoint` [degC]; coarse by default, since most claims hold on every mesh."""
    built = ARRANGEMENTS[arrangement] if isinstance(arrangement, str) else arrangement
    if operation.get("profile_exponent", 0.0) > 0.0:
        operation.setdefault("profile", "power-law")
    return Problem(
        arrangement=built,
        materials=materials or materials_for(built, plastic),
        contacts=contacts or Contacts(),
        surroundings=surroundings,
        operation=Operation(setpoint=setpoint + ZERO_CELSIUS, **operation),
        level=level,
    )


@cache
def usual_problem(kind: str, fan: bool = False, level: float = 0.0) -> Problem:
    """PLA at 210 degC in one of the everyday arrangements, shared between tests."""
    return problem_for(kind, level=level, surroundings=JET if fan else STILL)


def insulated(**changes: Any) -> Surroundings:
    """Surroundings that take no heat from any face: every film coefficient and emissivity zero."""
    from meltzone.geometry.faces import FACES  # only here

    return Surroundings(films=dict.fromkeys(FACES, 0.0), emissivities=dict.fromkeys(SOLID_PARTS, 0.0), **changes)


def constant(name: str, unit: str, value: float) -> Curve:
    """A constant property, made up for a test."""
    return Curve.constant(name, unit, value, "invented for a test")


@lru_cache(maxsize=8)
def system_of(problem: Problem) -> System:
    """The system of `problem`, made once for all that one test asks of it."""
    return discretise(problem)


def smooth_random(problem: Problem, seed: int = 1) -> np.ndarray:
    """A made-up temperature field that crosses softening, melting and the surroundings' range [K]."""
    rng = np.random.default_rng(seed)
    r, z = system_of(problem).space.points
    shape = 460.0 + 90.0 * np.sin(900.0 * r + 1.0) * np.cos(350.0 * z + 0.4) - 3.0e3 * z
    return shape + rng.uniform(-4.0, 4.0, r.size)


def _second_block(draw: st.DrawFn) -> SecondBlock:
    """A second block: narrower or wider than the first, or the same."""
    mm = 1e-3
    width, depth = draw(st.sampled_from([(23.0, 16.0), (21.0, 15.5), (30.0, 20.0)]))
    return SecondBlock(width * mm, depth * mm, draw(st.floats(2.0, 12.0)) * mm)


def _liner(draw: st.DrawFn, filament: float, bore: float) -> Liner:
    """A liner for `filament`, as wide as the nozzle's `bore` or not; its end on the nozzle, in the block or above it."""
    mm = 1e-3
    inner = draw(st.sampled_from([bore, filament + 0.05 * mm, bore + 0.1 * mm]))
    end = draw(st.sampled_from([None, 2.0 * mm, 0.3 * mm, 0.001 * mm, 0.0, -0.001 * mm, -1.0 * mm, -2.5 * mm]))
    return Liner(inner, bore + draw(st.floats(0.5, 1.6)) * mm, end)


def _channels(draw: st.DrawFn, nozzle: Nozzle) -> Channels:
    """Holes in the straight upper bore of `nozzle`, as fine as they are made or as wide as they fit."""
    mm = 1e-3
    straight = min(level for level, radius in nozzle.passage if radius == nozzle.bore / 2.0)
    position = draw(st.floats(0.1, 4.0)) * mm
    length = draw(st.floats(0.1, 1.0)) * (nozzle.length - straight - position)
    hole = draw(st.sampled_from([0.1, 0.2, 0.5, 0.8])) * mm
    ring = draw(st.sampled_from([None, nozzle.bore - 0.3 * mm, nozzle.bore + 0.5 * mm]))
    return Channels(draw(st.integers(2, 6)), hole, length, position, ring)


def _sleeve(draw: st.DrawFn, room: float, thick: bool) -> Sleeve:
    """A sleeve over all or some of the bare thread; narrower than the block's disc, all but as wide, or wider."""
    mm = 1e-3
    height = draw(st.sampled_from([1.0, 0.5, 0.31])) * room
    return Sleeve(height, draw(st.sampled_from([12.0 if thick else 10.0, 20.6, 22.0, 26.0])) * mm, draw(st.booleans()))


@st.composite
def arrangements(draw: st.DrawFn) -> Arrangement:
    """Valid arrangements of both filament sizes; those that the parts refuse are drawn again."""
    thick = draw(st.booleans())
    thread = MetricThread(8e-3, 1.25e-3) if thick else MetricThread(6e-3, 1e-3)
    mm = 1e-3
    head = draw(st.floats(1.5, 3.0)) * mm, draw(st.floats(2.0, 4.0)) * mm
    bare = draw(st.sampled_from([0.0, 0.5, 3.0, 8.5, 15.0])) * mm
    exposed = (
        sum(head) + bare + draw(st.sampled_from([0.0, 0.001, 0.2, 0.4])) * mm
    )  # a drawing has no finer step than a micrometre
    inside = draw(st.floats(4.0, 9.0)) * mm
    filament = 2.85 * mm if thick else 1.75 * mm
    bore = filament + draw(st.floats(0.1, 0.4)) * mm
    above = draw(st.sampled_from([bore, filament + 0.05 * mm, bore + 0.3 * mm, bore - 0.001 * mm]))
    lower = draw(st.floats(1.05, bore / mm + 0.3)) if draw(st.booleans()) else None
    tapered = lower is not None and draw(st.booleans())
    orifice = draw(st.floats(0.25, 1.0)) * mm
    try:
        nozzle = Nozzle(
            length=exposed + inside,
            exposed=exposed,
            bore=bore,
            orifice=orifice,
            land=draw(st.floats(0.3, 1.2)) * mm,
            cone_angle=math.radians(draw(st.floats(40.0, 130.0))),
            thread=thread,
            hexagon=(10.0 if thick else 7.0) * mm,
            hexagon_height=head[1],
            tip_diameter=orifice + draw(st.floats(0.3, 1.0)) * mm,
            tip_cone_height=head[0],
            lower_bore=None if lower is None else lower * mm,
            lower_bore_length=None if lower is None else draw(st.floats(0.3, 4.0)) * mm,
            taper_length=draw(st.floats(0.01, 4.0)) * mm if tapered else None,
            exposed_thread=draw(st.sampled_from(["smooth", "rings"])),
        )
        sleeve = None
        if bare > 1 * mm and draw(st.booleans()):
            sleeve = _sleeve(draw, exposed - nozzle.shoulder, thick)
        liner = _liner(draw, filament, bore) if draw(st.booleans()) else None
        neck = above if liner is None else max(above, liner.outer_diameter)
        covers = draw(st.sampled_from([None, ("block",), ("nozzle",), ("block", "nozzle")]))
        return Arrangement(
            block=Block(height=inside + draw(st.floats(1.0, 8.0)) * mm, heater_radius=8.0 * mm),
            nozzle=nozzle,
            heat_break=HeatBreak(bore=above, neck_diameter=neck + draw(st.floats(0.3, 1.2)) * mm),
            filament=Filament(filament),
            sleeve=sleeve,
            wrap=Wrap(draw(st.floats(0.4, 4.0)) * mm, covers) if covers else None,
            liner=liner,
            channels=_channels(draw, nozzle) if draw(st.booleans()) else None,
            second_block=_second_block(draw) if draw(st.booleans()) else None,
        )
    except GeometryError:
        from hypothesis import reject  # only on the way out

        reject()
        raise


def refused(key: str, words: str, build: Callable[[], object]) -> None:
    """`build` must fail with a GeometryError for `key` that says `words`."""
    with pytest.raises(GeometryError) as caught:
        build()
    assert caught.value.key == key
    assert words in " ".join(expected_and_hint(caught.value))


def balanced(problem: Problem) -> Field:
    """The field at the ceiling of `problem`, whose heat balance must close and whose budget must be whole."""
    found = find_ceilings(problem)
    assert found.field is not None
    assert found.field.balance.relative_imbalance < 1e-9
    assert sum(explain(found).budget.values()) == pytest.approx(1.0, abs=1e-6)
    return found.field
