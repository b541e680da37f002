"""One point of a sweep: build the case, find its ceilings, say in plain types what came of it; never raises."""

from __future__ import annotations

import json
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.sweep.plan import Base
from meltzone.fem.ceiling import Ceilings, find_ceilings
from meltzone.materials.limits import Finding, gravest

# found: a ceiling. no ceiling: solved, and nothing can flow. refused: the parts or materials do not go together.
# failed: the solver found no state, or the process ended before it did.
Status = Literal["found", "no ceiling", "refused", "failed"]


@dataclass(frozen=True)
class Outcome:
    """What came of a point: flows [mm3/s], heater power [W], temperatures at the ceiling [degC], None where there is none.

    `reason` says why there is no ceiling, or what a reader of it must know. `caution` is the gravest severity among the
    `findings` on the materials, which are kept as JSON.
    """

    status: Status
    reason: str
    ceiling_mm3_per_s: float | None = None
    governs: str | None = None
    melt_ceiling_mm3_per_s: float | None = None
    power_ceiling_mm3_per_s: float | None = None
    heater_W: float | None = None
    core_degC: float | None = None
    inner_degC: float | None = None
    mean_degC: float | None = None
    wall_degC: float | None = None
    tip_degC: float | None = None
    factorisations: int = 0
    seconds: float = 0.0
    caution: str | None = None
    findings: str = "[]"


def outcome_of(base: Base, overrides: Mapping[str, Any]) -> Outcome:
    """The ceilings of `base` with `overrides`, from cold.

    A start from the neighbour's field was measured: it saves a fifth of a point's time at steps of 2 K in the setpoint and
    a tenth at 10 K, since most of the time goes into the mesh and its arrays. From cold a point gives the same
    numbers whoever computes it and whatever went before.
    """
    begun = time.perf_counter()
    try:
        case = base.case(overrides)
        found = find_ceilings(problem_of(case))
        return _told(Result(case, found.system, found.field, found), found, time.perf_counter() - begun)
    except CaseError as error:
        return Outcome("refused", _one_line(error), seconds=time.perf_counter() - begun)
    except Exception as error:  # whatever it is, it is this point's and must not stop the others
        return Outcome("failed", f"{type(error).__name__}: {error}", seconds=time.perf_counter() - begun)


def _told(result: Result, found: Ceilings, seconds: float) -> Outcome:
    heed = result.cautions
    return Outcome(
        _status(found),
        _reason(result, found),
        result.flow_ceiling,
        result.governs,
        result.melt_ceiling,
        result.power_ceiling,
        result.power,
        result.core,
        result.inner,
        result.mean,
        result.wall,
        result.tip,
        result.factorisations,
        seconds,
        gravest(heed),
        json.dumps([[f.severity, f.material, f.temperature, f.limit, f.text] for f in heed], ensure_ascii=False),
    )


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
