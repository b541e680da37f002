"""Parts refuse what cannot be built, and name the key, the value, the legal range and a way out."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from support import ARRANGEMENTS, LONG_NOZZLE

from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.block import Block
from meltzone.geometry.covers import Sleeve, Wrap
from meltzone.geometry.errors import GeometryError
from meltzone.geometry.filament import Filament
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.nozzle import Nozzle
from meltzone.geometry.thread import MetricThread

MM = 1e-3

REFUSED: list[tuple[str, float | object, Callable[[], object]]] = [
    ("polymer.filament_diameter", 0.0, lambda: Filament(0.0)),
    ("polymer.filament_diameter", 1.75, lambda: Filament(1.75)),  # millimetres given as metres
    ("polymer.filament_diameter", 2.85 * MM, lambda: Arrangement(filament=Filament(2.85 * MM))),
    ("polymer.filament_diameter", 1.99 * MM, lambda: Arrangement(filament=Filament(1.99 * MM))),
    ("block.width", -1 * MM, lambda: Block(width=-1 * MM)),
    ("block.depth", 0.0, lambda: Block(depth=0.0)),
    ("block.height", 11.5, lambda: Block(height=11.5)),
    ("block.heater_radius", 10 * MM, lambda: Block(heater_radius=10 * MM)),
    ("block.heater_width", 0.0, lambda: Block(heater_width=0.0)),
    ("block.sensor_radius", 12 * MM, lambda: Block(sensor_radius=12 * MM)),
    ("block.sensor_height", 12 * MM, lambda: Block(sensor_height=12 * MM)),
    ("block.sensor_height", -1 * MM, lambda: Block(sensor_height=-1 * MM)),
    ("block.heater_radius", 4 * MM, lambda: Arrangement(block=Block(heater_radius=4 * MM))),
    ("block.sensor_radius", 2.5 * MM, lambda: Arrangement(block=Block(sensor_radius=2.5 * MM))),
    ("nozzle.length", 0.0, lambda: Nozzle(length=0.0)),
    ("nozzle.bore", -2 * MM, lambda: Nozzle(bore=-2 * MM)),
    ("nozzle.bore", 4.7 * MM, lambda: Nozzle(bore=4.7 * MM)),
    ("nozzle.orifice", 2 * MM, lambda: Nozzle(orifice=2 * MM, tip_diameter=3 * MM)),
    ("nozzle.tip_diameter", 0.4 * MM, lambda: Nozzle(tip_diameter=0.4 * MM)),
    ("nozzle.tip_diameter", 7.5 * MM, lambda: Nozzle(tip_diameter=7.5 * MM)),
    ("nozzle.hexagon", 5.5 * MM, lambda: Nozzle(hexagon=5.5 * MM)),
    ("nozzle.exposed", 12.5 * MM, lambda: Nozzle(exposed=12.5 * MM)),
    ("nozzle.exposed", 4 * MM, lambda: Nozzle(exposed=4 * MM)),
    ("nozzle.land", 4 * MM, lambda: Nozzle(land=4 * MM)),
    ("nozzle.cone_angle", math.radians(5), lambda: Nozzle(cone_angle=math.radians(5))),
    ("nozzle.cone_angle", math.radians(170), lambda: Nozzle(cone_angle=math.radians(170))),
    ("nozzle.cone_angle", 60.0, lambda: Nozzle(cone_angle=60.0)),  # degrees given as radians
    (
        "nozzle.tip_cone_height",
        4.4 * MM,
        lambda: Nozzle(
            tip_cone_height=4.4 * MM, hexagon_height=0.5 * MM, land=0.1 * MM, tip_diameter=0.5 * MM, cone_angle=2.0
        ),
    ),
    ("nozzle.exposed", 1.5 * MM, lambda: replace(Arrangement(), nozzle=_barely_outside())),
    ("nozzle.thread_pitch", 0.0, lambda: MetricThread(6 * MM, 0.0)),
    ("nozzle.thread_diameter", 3 * MM, lambda: MetricThread(3 * MM, 1 * MM)),
    # a step from 2 to 4.2 mm needs a shoulder of 1.1 mm, half the engagement of 2 mm gives 1 mm
    (
        "heat_break.bore",
        4.2 * MM,
        lambda: Arrangement(
            nozzle=Nozzle(length=14.5 * MM), heat_break=HeatBreak(bore=4.2 * MM, neck_diameter=4.4 * MM)
        ),
    ),
    ("heat_break.neck_diameter", 2.05 * MM, lambda: HeatBreak(neck_diameter=2.05 * MM)),
    ("heat_break.neck_diameter", 5 * MM, lambda: Arrangement(heat_break=HeatBreak(neck_diameter=5 * MM))),
    ("heat_break.neck_length", 0.0, lambda: HeatBreak(neck_length=0.0)),
    ("heat_break.cooled_length", math.inf, lambda: HeatBreak(cooled_length=math.inf)),
    ("sleeve.height", math.nan, lambda: Sleeve(height=math.nan)),
    ("sleeve.height", 9.5 * MM, lambda: Arrangement(nozzle=LONG_NOZZLE, sleeve=Sleeve(height=9.5 * MM))),
    ("sleeve.height", 8.5 * MM, lambda: Arrangement(sleeve=Sleeve())),
    ("sleeve.width", 5.5 * MM, lambda: Arrangement(nozzle=LONG_NOZZLE, sleeve=Sleeve(width=5.5 * MM))),
    ("wrap.thickness", 0.0, lambda: Wrap(thickness=0.0)),
    ("wrap.covers", (), lambda: Wrap(covers=())),
    ("wrap.covers", ("tip",), lambda: Wrap(covers=("tip",))),  # type: ignore[arg-type]
]


def _barely_outside() -> Nozzle:
    """A nozzle that fills the block to the top: nothing is left for the heat break."""
    return Nozzle(
        length=13 * MM,
        exposed=1.5 * MM,
        tip_cone_height=1 * MM,
        hexagon_height=0.5 * MM,
        land=0.3 * MM,
        cone_angle=math.radians(120),
        tip_diameter=1.8 * MM,
    )


@pytest.mark.parametrize(("key", "value", "build"), REFUSED, ids=[f"{k}={v}" for k, v, _ in REFUSED])
def test_impossible_dimensions_are_refused_with_all_that_a_reader_needs(
    key: str, value: object, build: Callable[[], object]
) -> None:
    with pytest.raises(GeometryError) as caught:
        build()
    fault = caught.value
    assert fault.key == key
    if isinstance(value, float):
        assert fault.value == pytest.approx(value, nan_ok=True)
    else:
        assert fault.value == value
    assert len(fault.expected) > 8
    assert fault.hint.endswith(".")
    assert key in str(fault)
    assert fault.expected in str(fault)


@pytest.mark.parametrize("kind", ARRANGEMENTS)
def test_everyday_arrangements_are_accepted(kind: str) -> None:
    a = ARRANGEMENTS[kind]
    assert 0.0 < a.block_bottom < a.joint < a.block_top < a.top


def test_disc_and_circles_keep_the_true_areas() -> None:
    block, nozzle = Block(width=20 * MM, depth=15 * MM, height=10 * MM), Nozzle()
    assert math.pi * block.radius**2 == pytest.approx(300e-6, rel=1e-12)
    assert block.side_area_ratio * 2 * math.pi * block.radius * block.height == pytest.approx(700e-6, rel=1e-12)
    # a hexagon of width s across flats: area (sqrt(3)/2) s^2, perimeter 2 sqrt(3) s
    assert math.pi * nozzle.hexagon_radius**2 == pytest.approx(math.sqrt(3) / 2 * 49e-6, rel=1e-12)
    assert nozzle.hexagon_area_ratio * 2 * math.pi * nozzle.hexagon_radius == pytest.approx(2 * math.sqrt(3) * 7e-3)
    sleeve = Sleeve(width=10 * MM)
    assert math.pi * sleeve.radius**2 == pytest.approx(math.sqrt(3) / 2 * 100e-6, rel=1e-12)
    assert sleeve.side_area_ratio * 2 * math.pi * sleeve.radius == pytest.approx(2 * math.sqrt(3) * 10e-3)
    assert Sleeve(width=10 * MM, round=True).radius == 5 * MM


def test_passage_is_land_cone_and_bore() -> None:
    nozzle = Nozzle(cone_angle=math.radians(90))  # at 90 degrees the radius grows as the height
    wall = Arrangement(nozzle=nozzle).wall
    assert nozzle.inner_cone_height == pytest.approx(0.8 * MM)
    assert wall.radius(0.0) == pytest.approx(0.2 * MM)
    assert wall.radius(0.6 * MM) == pytest.approx(0.2 * MM)
    assert wall.radius(1.0 * MM) == pytest.approx(0.6 * MM)
    assert wall.radius(5.0 * MM) == pytest.approx(1.0 * MM)
