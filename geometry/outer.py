"""What a part laid round block or nozzle says of itself: the rings it fills, its faces to the air, its contacts."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import ClassVar, Literal, NamedTuple, Protocol

from meltzone.geometry.block import Block
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.nozzle import Nozzle

Orientation = Literal["side", "up", "down"]
Measures = tuple[float, float, float]


class Site(Protocol):
    """What an outer part may look at of the arrangement that it is laid round; levels are heights z [m]."""

    @property
    def block(self) -> Block:
        """The heater block."""

    @property
    def nozzle(self) -> Nozzle:
        """The nozzle."""

    @property
    def heat_break(self) -> HeatBreak:
        """The heat break."""

    @property
    def wrapped(self) -> tuple[str, ...]:
        """What a wrap covers."""

    @property
    def block_bottom(self) -> float:
        """Level of the block's lower face [m]."""

    @property
    def block_top(self) -> float:
        """Level of the uppermost block's upper face [m]."""


class Ring(NamedTuple):
    """A rectangle of the section, between the radii `inner` and `outer` and the levels `bottom` and `top` [m]."""

    inner: float
    outer: float
    bottom: float
    top: float


@dataclass(frozen=True)
class OuterPart(ABC):
    """Base of the outer parts, whose fields are lengths [m] unless they are words or flags.

    `part` is its name in the section, `contacts` are the names of all contacts it may have; one that ends in "thread" counts by
    the area of the flanks.
    """

    part: ClassVar[str]
    contacts: ClassVar[tuple[str, ...]]

    @abstractmethod
    def check(self, site: Site) -> None:
        """Raises GeometryError where it does not fit."""

    @abstractmethod
    def rings(self, site: Site) -> tuple[Ring, ...]:
        """What it fills; block, nozzle and heat break lie over it where they meet its thread, it lies over a wrap."""

    @abstractmethod
    def measures(self, site: Site, orientation: Orientation) -> Measures:
        """Of its face in an `orientation`: correlations' length, width in a cross flow [m], true over modelled area [-]."""

    @classmethod
    def contact(cls, other: str, horizontal: bool) -> str:
        """Which of its contacts it has with the part `other`, over a `horizontal` or an upright face."""
        return cls.contacts[0]
