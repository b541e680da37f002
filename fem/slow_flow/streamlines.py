"""Streamlines of the plug through the narrowing and widening of the filled bore: strain and time of every step along them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from meltzone.fem.slow_flow.stretching import Drawing

LONGEST = 0.05  # greatest Hencky strain of a step [-]: the work is then within 3e-4


@dataclass(frozen=True, eq=False)
class Streamlines:
    """Steps down a passage: `strains` (n,) [-], `volumes` (n,) [m3], and the sections (n,) that they lie between.

    Step k lies below the section `upper[k]`, at the share `place[k]` of the way to the section under it [-].
    """

    strains: np.ndarray
    volumes: np.ndarray
    upper: np.ndarray
    place: np.ndarray

    @classmethod
    def along(cls, heights: np.ndarray, wall: np.ndarray) -> Streamlines:
        """Steps between the sections at `heights` (n,), rising [m], with the radius `wall` (n,) [m], from the top down.

        The wall is straight between sections. A cylinder is one step without strain; above the first narrowing or widening
        and below the last there is none.
        """
        down, radius = heights[::-1], wall[::-1]
        whole = 2.0 * np.log(radius[:-1] / radius[1:])
        sloping = np.flatnonzero(np.abs(whole) > 1e-12)
        if sloping.size == 0:
            none = np.zeros(0)
            return cls(none, none, np.zeros(0, dtype=int), none)
        rows = range(int(sloping[0]), int(sloping[-1]) + 1)
        edges = [_edges(radius[row], radius[row + 1]) for row in rows]
        upper = np.concatenate([np.full(edge.size - 1, row) for row, edge in zip(rows, edges, strict=True)])
        share, end = (np.concatenate([edge[part] for edge in edges]) for part in (slice(None, -1), slice(1, None)))
        above, below = (radius[upper] + at * (radius[upper + 1] - radius[upper]) for at in (share, end))
        tall = (end - share) * (down[upper] - down[upper + 1])
        volumes = np.pi / 3.0 * tall * (above**2 + above * below + below**2)
        return cls(2.0 * np.log(above / below), volumes, heights.size - 1 - upper, (share + end) / 2.0)

    def drawing(self, fluidity: np.ndarray, flow: float, modulus: float) -> Drawing:
        """What the steps do to chains whose relaxation time is 1 / (`modulus` times `fluidity`).

        `fluidity` (sections, m) is 1 / eta0 [1/Pa/s] at the sections, geometric between them; `flow` [m3/s], `modulus` [Pa].
        """
        above, below, place = fluidity[self.upper], fluidity[self.upper - 1], self.place[:, None]
        middle = above ** (1.0 - place) * below**place
        return Drawing(self.strains, (self.volumes / flow)[:, None] * middle * modulus, modulus)

    def slopes(self, drawing: Drawing, sections: int) -> tuple[np.ndarray, np.ndarray]:
        """Derivatives of the `drawing`'s work by ln(fluidity) at the sections, (sections, m), and by ln(flow), (m,) [Pa]."""
        by_log = drawing.slopes * drawing.decays
        by_fluidity = np.zeros((sections, by_log.shape[1]))
        np.add.at(by_fluidity, self.upper, (1.0 - self.place[:, None]) * by_log)
        np.add.at(by_fluidity, self.upper - 1, self.place[:, None] * by_log)
        return by_fluidity, -by_log.sum(axis=0)


def _edges(wide: float, narrow: float) -> np.ndarray:
    """Shares of a cone's height that cut it into steps of equal strain, from 0 to 1 [-]."""
    steps = max(int(np.ceil(2.0 * abs(np.log(wide / narrow)) / LONGEST)), 1)
    if steps == 1:
        return np.array([0.0, 1.0])
    return np.asarray((np.geomspace(wide, narrow, steps + 1) - wide) / (narrow - wide))
