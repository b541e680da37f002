"""A flow enclosed between two, at which a measure of the field vanishes: the slow way where the direct one fails."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from meltzone.fem.faults import NoSignChange
from meltzone.fem.field import Field
from meltzone.fem.steady import solve_at_flow

CLOSE = 1e-9  # of the flow
STRIDE = 1.5  # factor of the flow from one trial to the next
TRIALS = 16

Excess = Callable[[Field], float]


def flow_between(first: Field, second: Field, excess: Excess) -> Field:
    """Field between those of two flows at which `excess` vanishes, whose signs there differ; every solve from the nearest.

    Brent's method on the flow. Raises NoConvergence where a field on the way does not converge.
    """
    from scipy.optimize import brentq  # a tenth of a second to load, and few calls come here

    known = {field.flow: field for field in (first, second)}
    spent = first.factorisations + second.factorisations

    def at(flow: float) -> float:
        nonlocal spent
        if flow not in known:
            nearest = min(known, key=lambda other: abs(math.log(other / flow)))
            known[flow] = solve_at_flow(first.system, flow, known[nearest].state)
            spent += known[flow].factorisations
        return excess(known[flow])

    root = brentq(at, first.flow, second.flow, xtol=CLOSE * min(known), rtol=CLOSE)
    at(root)
    return replace(known[root], factorisations=spent)


def stepped_up(field: Field, excess: Excess) -> tuple[Field, Field]:
    """Two neighbouring flows from that of `field` up between which `excess` changes its sign.

    Raises NoConvergence where it does not up to a few hundred times the first.
    """
    start = excess(field)
    for _ in range(TRIALS):
        before, field = field, solve_at_flow(field.system, STRIDE * field.flow, field.state)
        if excess(field) * start <= 0.0:
            return before, field
    raise NoSignChange(field.flow)
