"""A machine that carries a program out without heat or plastic: its own reader of the lines, and what a balance would show."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from gcodeparser import parse_gcode_lines

KNOWN = {"G0", "G1", "G4", "G21", "G90", "M0", "M83", "M84", "M104", "M106", "M107", "M109", "M117", "M400"}


@dataclass
class Fed:
    """Filament fed between two pauses: `length` [mm] at `speed` [mm/min], the `text` on the display, the `setpoint` [degC]."""

    text: str
    setpoint: float
    speed: float
    length: float = 0.0


@dataclass
class Machine:
    """What happened: every stretch `fed`, setpoints, flows [mm3/s], pauses with the heater's setpoint, seconds waited."""

    diameter: float
    fed: list[Fed] = field(default_factory=list)
    setpoints: list[float] = field(default_factory=list)
    flows: list[float] = field(default_factory=list)
    pauses: list[tuple[str, float]] = field(default_factory=list)
    waited: list[float] = field(default_factory=list)
    fans: list[float] = field(default_factory=list)
    way: list[tuple[float, float, float, float, float]] = field(default_factory=list)  # from x, y, to x, y; flow
    height: float = 0.0
    motors: bool = True

    @property
    def heater(self) -> float:
        """The last setpoint [degC]."""
        return self.setpoints[-1] if self.setpoints else 0.0


def texts_of(program: str) -> Iterator[str]:
    """Texts for the display, in their order: the reader from the package index takes them for parameters."""
    return (line.partition(" ")[2] for line in program.splitlines() if line.startswith("M117"))


def carry_out(program: str, diameter: float = 1.75) -> Machine:
    """Carry a `program` out with filament of that `diameter` [mm]; raises AssertionError for a word that is not known."""
    machine, texts, shown = Machine(diameter), texts_of(program), ""
    at, rate, relative = {"X": 0.0, "Y": 0.0, "Z": 0.0}, 0.0, False
    for line in parse_gcode_lines(re.sub(r"^M117 .*$", "M117", program, flags=re.MULTILINE)):
        word, values = f"{line.command[0]}{line.command[1]}", line.params
        assert word in KNOWN, word
        if word in ("G0", "G1"):
            rate = values.get("F", rate)
            target = {axis: values.get(axis, place) for axis, place in at.items()}
            way, fed = math.dist(at.values(), target.values()), values.get("E", 0.0)
            if fed:
                assert relative and machine.heater > 0.0, "nothing is fed cold, or before lengths are relative"
                seconds = 60.0 * (way or fed) / rate
                machine.flows.append(fed * math.pi / 4.0 * diameter**2 / seconds)
                if not machine.fed or machine.fed[-1].text != shown or machine.fed[-1].speed != rate:
                    machine.fed.append(Fed(shown, machine.heater, rate))
                machine.fed[-1].length += fed
                machine.way.append((at["X"], at["Y"], target["X"], target["Y"], machine.flows[-1]))
            at = target
            machine.height = max(machine.height, at["Z"])
        elif word in ("M104", "M109"):
            machine.setpoints.append(values["S"])
        elif word == "M0":
            machine.pauses.append((shown, machine.heater))
        elif word == "G4":
            machine.waited.append(values["S"])
        elif word in ("M106", "M107"):
            machine.fans.append(values.get("S", 0.0))
        elif word == "M83":
            relative = True
        elif word == "M84":
            machine.motors = False
        elif word == "M117":
            shown = next(texts)
    return machine


def weighed(machine: Machine, delivered: Callable[[float], float], density: float = 1.24e-3) -> list[float]:
    """Masses [g] of the samples in their order, by the law `delivered` over commanded flow [mm3/s]."""
    area = math.pi / 4.0 * machine.diameter**2
    samples = [each for each in machine.fed if each.text.startswith("Sample") and "purge" not in each.text]
    return [
        density * each.length * area * delivered(area * each.speed / 60.0) / (area * each.speed / 60.0)
        for each in samples
    ]
