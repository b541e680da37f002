"""A thin upright ring whose flow rises in steps with its height: which flows a machine reaches on it, and its program."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from meltzone.cases.studies.machine.words import MINUTE, MM, Line, heater_off, say
from meltzone.geometry.printed_line import PrintedLine

MARGIN = 0.01  # left free at the edge of the bed [m]
LARGEST, SMALLEST = 0.06, 0.015  # radius of the ring [m]
CHORDS = 180  # of a turn: two degrees each
CALIPER = 1.5e-3  # least height of a stretch, for calipers [m]
TURNS, CONTENTS = 2, 3.0  # a stretch has at least so many turns, and takes so many contents of the melt zone
FOOT, FOOT_SPEED = 6, 0.02  # rings that hold it to the bed, and their print speed: common practice, no source [m/s]
LIFTED, TRAVEL = 0.02, 0.05  # height of moves without filament [m], their speed [m/s]


@dataclass(frozen=True)
class Motion:
    """What a machine can do: its `bed` [m], x by y, `acceleration` [m/s2], the `fastest` print speed [m/s]."""

    bed: tuple[float, float]
    acceleration: float
    fastest: float

    @property
    def radius(self) -> float:
        """Of the ring: as large as the bed has room, up to `LARGEST` [m]."""
        return min(LARGEST, 0.5 * min(self.bed) - MARGIN)

    @property
    def reached(self) -> float:
        """The highest speed round the ring [m/s]: a = v^2 / r, the acceleration of uniform motion on a circle."""
        return min(self.fastest, math.sqrt(self.acceleration * self.radius))


@dataclass(frozen=True)
class Stretch:
    """One step of the ring: its `number` from below, `flow` [m3/s], `speed` [m/s], whole `turns`, `bottom` and `top` [m].

    `time` is that of all of it [s], `ramp` the part in which the speed rises [s].
    """

    number: int
    flow: float
    speed: float
    turns: int
    bottom: float
    top: float
    time: float
    ramp: float


def stretches(flows: list[float], line: PrintedLine, motion: Motion, content: float) -> list[Stretch]:
    """The stretches of rising `flows` [m3/s] that the machine reaches; `content` is what the melt zone holds [m3]."""
    around = 2.0 * math.pi * motion.radius
    least = CONTENTS * content / (line.section * around)
    turns = max(TURNS, math.ceil(least - 1e-9), math.ceil(CALIPER / line.height - 1e-9))
    found: list[Stretch] = []
    bottom, before = line.height, FOOT_SPEED
    for flow in flows:
        speed = flow / line.section
        if speed <= motion.reached * (1.0 + 1e-9):
            top, ramp = bottom + turns * line.height, abs(speed - before) / motion.acceleration
            found.append(Stretch(len(found) + 1, flow, speed, turns, bottom, top, turns * around / speed, ramp))
            bottom, before = top, speed
    return found


def ring(found: list[Stretch], line: PrintedLine, motion: Motion, area: float) -> Iterator[Line]:
    """The lines of the piece, its foot first; `area` is the cross section of the filament [m2]."""
    fed = line.section / area
    x, y = (0.5 * side for side in motion.bed)
    yield Line("G0", (("Z", MM * LIFTED), ("F", MM * MINUTE * TRAVEL)))
    yield say("Foot")
    for number in reversed(range(FOOT)):
        radius = motion.radius + number * line.width
        yield Line("G0", (("X", MM * (x + radius)), ("Y", MM * y), ("F", MM * MINUTE * TRAVEL)))
        yield Line("G0", (("Z", MM * line.height),))
        yield from _turn(x, y, radius, line.height, line.height, fed, FOOT_SPEED)
    for each in found:
        yield say(f"Stretch {each.number}: {1e9 * each.flow:.2f} mm3/s")
        for turn in range(each.turns):
            height = each.bottom + turn * line.height
            yield from _turn(x, y, motion.radius, height, height + line.height, fed, each.speed)


def lifted(found: list[Stretch]) -> list[Line]:
    """Heater off, then the nozzle away from the piece."""
    up = MM * (found[-1].top + LIFTED)
    return [Line("M400"), heater_off(), Line("G0", (("Z", up), ("F", MM * MINUTE * TRAVEL)))]


def _turn(x: float, y: float, radius: float, low: float, high: float, fed: float, speed: float) -> Iterator[Line]:
    """Once round about (x, y), rising from `low` to `high`; `fed` is the filament to a way [-]."""
    chord = math.hypot(2.0 * radius * math.sin(math.pi / CHORDS), (high - low) / CHORDS)
    for step in range(1, CHORDS + 1):
        angle, height = 2.0 * math.pi * step / CHORDS, low + (high - low) * step / CHORDS
        place = ("X", MM * (x + radius * math.cos(angle))), ("Y", MM * (y + radius * math.sin(angle)))
        yield Line("G1", (*place, ("Z", MM * height), ("E", MM * fed * chord), ("F", MM * MINUTE * speed)))
