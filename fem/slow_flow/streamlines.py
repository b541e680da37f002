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

        The wall is straight between sections. Where it is a cylinder one step has no strain; above the first narrowing or widening
        nothing is drawn, and nothing is kept.
        """
        down, radius = heights[::-1], wall[::-1]
        whole = 2.0 * np.log(radius[:-1] / radius[1:])
        sloping = np.flatnonzero(np.abs(whole) > 1e-12)
        if sloping.size == 0:
            return cls(*(np.zeros(0) for _ in range(2)), np.zeros(0, dtype=int), np.zeros(0))
        rows = range(int(sloping[0]), int(sloping[-1]) + 1)
        counts = {row: max(int(np.ceil(abs(whole[row]) / LONGEST)), 1) for row in rows}
        upper = np.concatenate([np.full(counts[row], row) for row in rows])
        share = np.concatenate([np.arange(counts[row]) / counts[row] for row in rows])
        width = 1.0 / np.array([counts[row] for row in upper])
        above = radius[upper] + share * (radius[upper + 1] - radius[upper])
        below = radius[upper] + (share + width) * (radius[upper + 1] - radius[upper])
        tall = width * (down[upper] - down[upper + 1])
        volumes = np.pi / 3.0 * tall * (above**2 + above * below + below**2)
        count = heights.size
        return cls(2.0 * np.log(above / below), volumes, count - 1 - upper, share + width / 2.0)

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
