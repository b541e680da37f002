"""One point of a sweep: build the case, find its ceilings, say in plain types what came of it; never raises."""

from __future__ import annotations

import json
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.studies.completing import result_of, with_band, with_push
from meltzone.cases.studies.quantities import Quantity, chosen
from meltzone.cases.studies.result_quantities import RESULT, SWEPT, shown_in
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.sweep.plan import Base
from meltzone.fem.ceiling import Ceilings, find_ceilings
from meltzone.fem.search_mesh import SEARCH_ERROR, ceilings_for_search
from meltzone.materials.limits import Finding, gravest

# found: a ceiling. no ceiling: solved, and nothing can flow. refused: the parts or materials do not go together.
# failed: the solver found no state, or the process ended before it did.
Status = Literal["found", "no ceiling", "refused", "failed"]


# Of a point's result: what its ceilings leave behind without further solves but that for the feeding force, and its band
BAND = chosen(RESULT, "ceilings.flow_low_mm3_per_s", "ceilings.flow_high_mm3_per_s")
KEPT = (*shown_in(SWEPT), *BAND)


@dataclass(frozen=True)
class Outcome:
    """What came of a point: its `status`, the `numbers` of its result by the names of their columns, empty without one.

    `reason` says why there is no ceiling, or what a reader of it must know. `caution` is the gravest severity among the
    `findings` on the materials, which are kept as JSON.
    """

    status: Status
    reason: str
    numbers: Mapping[str, Any] = field(default_factory=dict)
    seconds: float = 0.0
    caution: str | None = None
    findings: str = "[]"


def _number(quantity: Quantity[Result]) -> Quantity[Outcome]:
    """The column of a quantity of the result; nothing was spent on a point without one."""
    name, empty = quantity.name, 0 if quantity.name == "factorisations" else None

    def read(outcome: Outcome) -> Any:
        return outcome.numbers.get(name, empty)

    return Quantity(name, quantity.unit, quantity.meaning, read, quantity.heading, quantity.digits)


COLUMNS: tuple[Quantity[Outcome], ...] = (
    Quantity("status", "", "`waiting`, `found`, `no ceiling` (solved, and nothing can flow), `refused` (parts or materials do "
        "not go together), `failed` (the solver found no state).", lambda o: o.status),
    Quantity("reason", "", "Why there is no ceiling; with one, what a reader of it must know.", lambda o: o.reason),
    *map(_number, KEPT),
    Quantity("mesh_error_percent", "%", "By how much the ceiling lies off that on the case's own mesh, at most.",
        lambda o: 100.0 * SEARCH_ERROR if o.status == "found" else None),
    Quantity("seconds", "s", "Time the point took.", lambda o: o.seconds),
    Quantity("caution", "", "The gravest caution on the materials at this point: `note`, `warning` or `refuse`.",
        lambda o: o.caution),
    Quantity("findings", "", "All cautions of the point, as JSON (not in the CSV file).", lambda o: o.findings),
)  # fmt: skip


def outcome_of(base: Base, overrides: Mapping[str, Any]) -> Outcome:
    """The ceilings of `base` with `overrides`, from cold, on the mesh of searches.

    A start from the neighbour's field was measured: it saves a fifth of a point's time at steps of 2 K in the setpoint and
    a tenth at 10 K, since most of the time goes into the mesh and its arrays. From cold a point gives the same
    numbers whoever computes it and whatever went before.
    """
    begun = time.perf_counter()
    try:
        case = base.case(overrides)
        found = ceilings_for_search(problem_of(case))
        result = with_push(result_of(case, found))
        return _told(with_band(result) if base.banded else result, found, begun)
    except CaseError as error:
        return Outcome("refused", _one_line(error), seconds=time.perf_counter() - begun)
    except Exception as error:  # whatever it is, it is this point's and must not stop the others
        return Outcome("failed", f"{type(error).__name__}: {error}", seconds=time.perf_counter() - begun)


def own_mesh_ceiling(base: Base, overrides: Mapping[str, Any]) -> float:
    """The ceiling of `base` with `overrides` on the case's own mesh, as its other commands find it [m3/s]."""
    return find_ceilings(problem_of(base.case(overrides))).flow


def _told(result: Result, found: Ceilings, begun: float) -> Outcome:
    numbers = {quantity.name: quantity.read(result) for quantity in KEPT}
    heed = result.cautions
    findings = json.dumps(
        [[f.severity, f.material, f.temperature, f.limit, f.text, f.brief] for f in heed], ensure_ascii=False
    )
    seconds = time.perf_counter() - begun
    return Outcome(_status(found), _reason(result, found), numbers, seconds, gravest(heed), findings)


def _status(found: Ceilings) -> Status:
    if found.field is not None:
        return "found"
    return (
        "no ceiling" if found.heater_too_weak or ("melt" in found.faults and "melt" not in found.failed) else "failed"
    )


def _reason(result: Result, found: Ceilings) -> str:
    """Why there is no ceiling; with one, warnings, and a power ceiling that was sought and not reached by the iteration."""
    if found.field is None:
        return result.statement
    return "; ".join([*result.warnings, *(f"{name} ceiling: {result.reasons[name]}" for name in found.failed)])


def _one_line(error: CaseError) -> str:
    key = f"{error.key} = {error.value}: " if error.value else f"{error.key}: " if error.key else ""
    return f"{key}expected {error.expected}. {error.hint}"


def findings_of(text: str) -> list[Finding]:
    """The findings that an outcome keeps as JSON."""
    return [Finding(*items) for items in json.loads(text)]
