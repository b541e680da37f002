"""Where the heater's power is released: its ring in the block, and by its share a second one, or the second block."""

from __future__ import annotations

import numpy as np

from meltzone.fem.problem import Problem
from meltzone.fem.space import Space
from meltzone.fem.sparse import scatter


def powered_blocks(problem: Problem) -> tuple[str, ...]:
    """The blocks in which power is released, by part."""
    second = problem.operation.second_share
    shares = {"block": 1.0 - second, "second block": second}
    return tuple(part for part, share in shares.items() if share > 0.0)


def powered(problem: Problem) -> tuple[float, float]:
    """The shares of the power released in a second block, and in a second heater [-]."""
    return problem.operation.second_share, problem.operation.second_heater_share


def heater_rings(problem: Problem, space: Space) -> list[tuple[np.ndarray, float]]:
    """Cells of the ring in each block, or of each heater in one block, (n,), with the share of the power released there [-]."""
    if problem.arrangement.second_heater is not None:
        share = problem.operation.second_heater_share
        return [(space.cells_of("heater"), 1.0 - share), (space.cells_of("second heater"), share)]
    ring, second = space.cells_of("heater"), problem.operation.second_share
    parts = [(block.part, second) for block in problem.arrangement.blocks[1:]]
    shares = [("block", 1.0 - sum(share for _, share in parts)), *parts]
    return [(np.intersect1d(ring, space.cells_of(part)), share) for part, share in shares]


def heater_load(problem: Problem, space: Space) -> np.ndarray:
    """Load of 1 W, spread evenly over each ring, shape (size,) [-]."""
    cells, loads = space.cells, []
    rings = heater_rings(problem, space)
    for ring, share in rings:
        volume = cells.volume[ring]
        loads.append(share * (volume @ cells.values.T) / volume.sum())
    return scatter(loads, [cells.dofs[ring] for ring, _ in rings], space.size)
