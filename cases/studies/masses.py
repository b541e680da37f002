"""What the parts of a hot end weigh, cold, as they are modelled: blocks are discs of their true volume."""

from __future__ import annotations

import numpy as np

from meltzone.cases.studies.cautions import materials_by_part
from meltzone.fem.problem import Problem
from meltzone.fem.space import Space
from meltzone.materials.curves import REFERENCE_TEMPERATURE


def masses(problem: Problem, space: Space) -> dict[str, float]:
    """Mass of every solid part of `problem` [kg], by name: volumes of revolution of its cells times the card's density.

    Heater, sensor and screws have no part and no mass; the polymer inside counts as none.
    """
    cold = np.array(REFERENCE_TEMPERATURE)
    cards = materials_by_part(problem)
    parts = [part for part in cards if part != "polymer" and part in space.section.parts]
    return {part: float(cards[part].density(cold) * space.cells.volume[space.cells_of(part)].sum()) for part in parts}
