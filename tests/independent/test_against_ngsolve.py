"""Whole cases against independent code: ngsolve on its own unstructured triangles, its own weak forms and iteration.

ngsolve: Schoeberl, C++11 Implementation of Finite Elements in NGSolve, ASC Report 30/2014, TU Wien. Cubic elements on
triangles here, quadratic elements on quadrilaterals in the solver; conservative advection of enthalpy there, the
convective form here; a bordered iteration for the ceiling there, bracketing here. Both share the material curves and
the correlations of heat loss, which have tests of their own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest

pytest.importorskip("ngsolve", reason="needs ngsolve: install the extra 'bench'")

from galerkin import Steady, Triangulated

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.reader import load_case
from meltzone.fem.discretise import discretise
from meltzone.fem.field import Field
from meltzone.fem.limits import melt_ceiling
from meltzone.fem.steady import solve_at_flow

pytestmark = pytest.mark.independent

CASES = ("short-block", "long-nozzle-brass-sleeve-fan")
FLOW = 8e-9  # a flow that every case melts [m3/s]
Record = Callable[[str, object], None]
AGREEMENT = 0.001  # relative; temperatures as their rise above the inlet


@dataclass(frozen=True)
class Pair:
    """One case by both programs: at `FLOW`, and at each one's own melt ceiling."""

    case: str
    ours: Field
    theirs: Steady
    our_ceiling: Field
    their_ceiling: float
    their_state: Steady


@pytest.fixture(scope="module", params=CASES)
def pair(request: pytest.FixtureRequest) -> Pair:
    problem = problem_of(load_case(request.param))
    problem = replace(problem, operation=replace(problem.operation, profile="plug"))
    system = discretise(problem)
    triangles = Triangulated(problem)
    assert set(triangles.mesh.GetBoundaries()) >= {face.name for face in system.space.section.exposed}
    ceiling = melt_ceiling(system)
    flow, state = triangles.melt_ceiling(0.99 * ceiling.flow, 1.01 * ceiling.flow)
    theirs = triangles.steady(FLOW, state.temperature)
    return Pair(request.param, solve_at_flow(system, FLOW), theirs, ceiling, flow, state)


def close(pair: Pair, what: str, ours: float, theirs: float, record: Record) -> None:
    """Check the agreement, and say how far apart the two are."""
    difference = ours / theirs - 1.0
    record("difference", f"{pair.case}: {what} {ours:.5g} here, {theirs:.5g} by ngsolve, {100.0 * difference:+.3f} %")
    print(f"{pair.case}: {what} {ours:.6g} here, {theirs:.6g} by ngsolve, {100.0 * difference:+.3f} %")
    assert abs(difference) < AGREEMENT


def test_core_at_the_end_of_the_melt_zone(pair: Pair, record_property: Record) -> None:
    inlet = pair.ours.problem.operation.inlet_temperature
    close(pair, "core's rise [K]", pair.ours.core - inlet, pair.theirs.core - inlet, record_property)


def test_heater_power_at_a_fixed_flow(pair: Pair, record_property: Record) -> None:
    close(pair, "heater power [W]", pair.ours.power, pair.theirs.power, record_property)


def test_melt_ceiling(pair: Pair, record_property: Record) -> None:
    close(pair, "melt ceiling [mm3/s]", 1e9 * pair.our_ceiling.flow, 1e9 * pair.their_ceiling, record_property)


def test_heater_power_at_the_melt_ceiling(pair: Pair, record_property: Record) -> None:
    close(pair, "heater power at the ceiling [W]", pair.our_ceiling.power, pair.their_state.power, record_property)
