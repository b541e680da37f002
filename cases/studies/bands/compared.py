"""What the model was compared with: every measured ceiling with its prediction, as the generator left them in a file."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

FILE = Path(__file__).with_name("compared.toml")


@dataclass(frozen=True)
class Conditions:
    """What a ceiling was found at: the `polymer`, lengths [mm], the `setpoint` [degC], the number of `channels`.

    `length` is that of the melt zone, from the block's upper face to the capillary.
    """

    polymer: str
    orifice: float
    filament: float
    length: float
    setpoint: float
    channels: int


@dataclass(frozen=True)
class Compared:
    """A measured ceiling: its `file` and `row`, `measured` and `predicted` [mm3/s], the standard `uncertainty` [%].

    `arrangement` numbers the hot ends of a file, `base` is the row from which its gain is counted, '' for none. The prediction
    knew no row of its own arrangement.
    """

    file: str
    row: str
    arrangement: int
    base: str
    measured: float
    predicted: float
    uncertainty: float
    at: Conditions

    @property
    def error(self) -> float:
        """Logarithm of predicted over measured [-]."""
        return math.log(self.predicted / self.measured)

    @property
    def error_percent(self) -> float:
        """Predicted over measured, less one [%]."""
        return 100.0 * (self.predicted / self.measured - 1.0)

    def as_toml(self) -> list[str]:
        """Its lines in the data file."""
        words = {"file": self.file, "row": self.row, "base": self.base, "polymer": self.at.polymer}
        counts = {"arrangement": self.arrangement, "channels": self.at.channels}
        numbers = {
            "measured": self.measured, "predicted": self.predicted, "uncertainty": self.uncertainty, "orifice": self.at.orifice,
            "filament": self.at.filament, "length": self.at.length, "setpoint": self.at.setpoint,
        }  # fmt: skip
        return [
            *(f'{key} = "{value}"' for key, value in words.items()),
            *(f"{key} = {value}" for key, value in counts.items()),
            *(f"{key} = {value:.6g}" for key, value in numbers.items()),
        ]


@dataclass(frozen=True)
class Evidence:
    """All that the model was compared with, and the logarithms of ceilings by velocity `profile` over that of a plug [-]."""

    rows: tuple[Compared, ...]
    profile: Mapping[str, float]

    @property
    def gains(self) -> tuple[tuple[Compared, Compared], ...]:
        """The measured gains: each row with the row from which its gain is counted."""
        by_name = {(row.file, row.row): row for row in self.rows}
        return tuple((row, by_name[row.file, row.base]) for row in self.rows if row.base)


@cache
def evidence() -> Evidence:
    """What the shipped data file holds."""
    read = tomllib.loads(FILE.read_text(encoding="utf-8"))
    return Evidence(tuple(map(_row, read["row"])), MappingProxyType(read["profile"]))


def _row(values: dict[str, object]) -> Compared:
    at = {name: values.pop(name) for name in Conditions.__dataclass_fields__}
    return Compared(**values, at=Conditions(**at))  # type: ignore[arg-type]
