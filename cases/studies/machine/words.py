"""Lines of a program for a machine, in words of numerical control that are in general use, and what each asks for."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

# None that belongs to one firmware alone: those of ISO 6983-1 for motion; common practice, no source, for the rest.
MEANING = {
    "G21": "lengths in millimetres",
    "G90": "positions of axes absolute",
    "M83": "lengths of filament relative",
    "G0": "move without filament",
    "G1": "move, F in mm/min; E feeds filament",
    "G4": "wait, S in seconds",
    "M0": "stop until the button is pressed",
    "M104": "setpoint of the hot end; S0 switches the heater off",
    "M109": "the same, and wait until it is reached",
    "M106": "fan on, S255 in full",
    "M107": "fan off",
    "M117": "text on the display",
    "M400": "wait until all motion is done",
    "M84": "motors off",
}
MM, MINUTE = 1e3, 60.0
PIECE = 0.1  # of a length fed in one line at most; machines refuse much longer ones [m]


@dataclass(frozen=True)
class Line:
    """One line: its `word`, values by letter in the units of the machine (mm, mm/min, degC, s), `text` for the display."""

    word: str
    values: tuple[tuple[str, float], ...] = ()
    text: str = ""

    @property
    def written(self) -> str:
        """It as it stands in the file."""
        values = [f"{letter}{_digits(value)}" for letter, value in self.values]
        return " ".join(filter(None, [self.word, *values, self.text]))


@dataclass(frozen=True)
class Move:
    """What a moving line asks for: `length` of the way [m], filament `fed` [m], the `time` it takes without ramps [s]."""

    length: float
    fed: float
    time: float


def _digits(value: float) -> str:
    return f"{value:.5f}".rstrip("0").rstrip(".")


def begin(fan: bool) -> list[Line]:
    """Units, modes and the fan, before anything is heated."""
    return [Line("G21"), Line("G90"), Line("M83"), Line("M106", (("S", 255.0),)) if fan else Line("M107")]


def heat(celsius: float) -> list[Line]:
    """Heat to a setpoint [degC], a tenth of a degree below at most, and wait."""
    setpoint = math.floor(10.0 * celsius + 1e-6) / 10.0
    return [Line("M104", (("S", setpoint),)), Line("M109", (("S", setpoint),))]


def wait(seconds: float) -> Line:
    """Stand still for so long [s]."""
    return Line("G4", (("S", seconds),))


def heater_off() -> Line:
    """The heater off."""
    return Line("M104", (("S", 0.0),))


def pause(text: str) -> list[Line]:
    """Wait until all is done, say `text`, wait for the button."""
    return [Line("M400"), say(text), Line("M0")]


def say(text: str) -> Line:
    """A `text` on the display."""
    return Line("M117", text=text)


def feed(length: float, speed: float) -> list[Line]:
    """Feed a `length` [m] at a `speed` [m/s], in pieces of equal length."""
    count = math.ceil(length / PIECE - 1e-9)
    piece = ("E", MM * length / count), ("F", MM * MINUTE * speed)
    return [Line("G1", piece)] * count


def end() -> list[Line]:
    """Heater and fan off, motors off."""
    return [Line("M400"), heater_off(), Line("M107"), Line("M84"), say("Done. Heater off, still hot")]


def moves(lines: Iterable[Line]) -> Iterator[Move]:
    """Every motion of a program: its way, what it feeds, its time; axes begin at zero."""
    at, rate = {"X": 0.0, "Y": 0.0, "Z": 0.0}, math.inf
    for line in lines:
        if line.word not in ("G0", "G1"):
            continue
        values = dict(line.values)
        rate = values.get("F", rate)
        way = math.dist(at.values(), [values.get(axis, place) for axis, place in at.items()])
        at |= {axis: values[axis] for axis in at if axis in values}
        fed = values.get("E", 0.0)
        yield Move(way / MM, fed / MM, MINUTE * (way or abs(fed)) / rate)


def setpoints(lines: Iterable[Line]) -> list[float]:
    """Every setpoint of a program [degC]."""
    return [value for line in lines if line.word in ("M104", "M109") for letter, value in line.values if letter == "S"]


def duration(lines: Iterable[Line]) -> float:
    """Motion and waiting [s], without heating and without what a person takes at the pauses."""
    every = list(lines)
    waited = sum(value for line in every if line.word == "G4" for _, value in line.values)
    return waited + sum(move.time for move in moves(every))
