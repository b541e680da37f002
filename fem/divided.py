"""What a divided length changes in the axisymmetric balance: an equivalent passage in the place of the bore."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.stack import within

if TYPE_CHECKING:
    from meltzone.fem.across.division import EquivalentPassage
    from meltzone.fem.space import Space


@dataclass(frozen=True, eq=False)
class DividedTerm:
    """The cells of the divided length, (n,), and the passage that stands for it.

    The temperature over the share of the flow is kept where the stream is divided and where it is joined again; between them
    it evens out `passage.factor` times as fast as in the bore.
    """

    cells: np.ndarray
    passage: EquivalentPassage


@dataclass(frozen=True, eq=False)
class Streams:
    """How the flow runs at n levels: in `count` equal streams, `narrowing` the radius of one over the bore's; (n,) [-]."""

    count: np.ndarray
    narrowing: np.ndarray

    @property
    def open_share(self) -> np.ndarray:
        """Section of all streams over that of the bore, (n,) [-]."""
        return self.count * self.narrowing**2


def streams_at(arrangement: Arrangement, heights: np.ndarray) -> Streams:
    """The streams at `heights` (n,) [m]: one as wide as the bore, but in a divided length."""
    one, channels, (lower, upper) = np.ones_like(heights), arrangement.channels, arrangement.divided_levels
    if channels is None:
        return Streams(one, one)
    inside = within(heights, lower, upper)
    narrowing = channels.hole_diameter / arrangement.nozzle.bore
    return Streams(np.where(inside, channels.number, one), np.where(inside, narrowing, one))


def divided_cells(space: Space) -> np.ndarray:
    """Cells of the polymer between the ends of the divided length; empty where the bore is not divided."""
    cells = space.cells_of("polymer")
    lower, upper = space.section.arrangement.divided_levels
    heights = space.section.mesh.p[1][space.section.mesh.t[:, cells]]
    return np.asarray(cells[within(heights, lower, upper).all(axis=0)])


def open_shares(space: Space, arrangement: Arrangement) -> np.ndarray:
    """Share of each cell's volume that is filled, the webs between the holes of `arrangement` left out: (n_cells,) [-]."""
    shares = np.ones(space.section.mesh.t.shape[1])
    if arrangement.channels is not None:
        shares[divided_cells(space)] = arrangement.channels.open_share(arrangement.nozzle.bore)
    return shares
