"""The dictionary behind result.json: the numbers of a result and what stands with them, key by key."""

from __future__ import annotations

from typing import Any

from meltzone.cases.outputs.quantities import Quantity, nested
from meltzone.cases.outputs.record_head import LAST, case_head, celsius_of, in_words
from meltzone.cases.outputs.vtu import part_numbers
from meltzone.cases.studies.cautions import BURNS, margins_of, materials_by_part
from meltzone.cases.studies.result_quantities import (
    BALANCE,
    CEILINGS,
    MASSES,
    MESH,
    POLYMER,
    PRINTING,
    REST,
    SPOILING,
    STATE,
    STUCK_ON,
)
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.wording import beyond_words
from meltzone.fem.field import Field
from meltzone.fem.system import System

FORM = 1  # raised when a key changes its name, its unit or its meaning


HEAD: tuple[Quantity[Result], ...] = (
    *case_head(FORM, lambda r: r.case),
    Quantity("answer", "", "The outcome in a sentence.", lambda r: r.statement),
)  # fmt: skip
PARTS: Quantity[Result] = Quantity(
    "parts", "number; degC", "Every part: its number in the VTU file, its material, its coldest and hottest temperature.",
    lambda r: parts_of(r.system, r.field),
)  # fmt: skip
SAFETY: tuple[Quantity[Result], ...] = (
    STUCK_ON,
    Quantity("safety.stuck_on_parts", "degC; words", "Every part in that state: `hottest_degC`, the `limit_degC` of its "
        "material or null, and `severity` (warning, refuse) or null.", lambda r: stuck_on_parts(r)),  # noqa: PLW0108 - it stands below
    Quantity("safety.stuck_on_beyond", "", "What was used there beyond the range it is stated for.",
        lambda r: list(beyond_words(r.stuck_on)) if r.stuck_on else []),
)  # fmt: skip
HEED: tuple[Quantity[Result], ...] = (
    Quantity("warnings", "", "What a reader of the numbers must know; empty as a rule.", lambda r: list(r.warnings)),
    Quantity("cautions", "degC", "Materials against the hottest point they reach: `severity` (note, warning, refuse), "
        "`material`, `temperature_degC`, `limit_degC`, `text`.", lambda r: list(map(in_words, r.safety))),
    Quantity("burns", "", "What counts for every hot end.", lambda _: BURNS),
)  # fmt: skip
KEYS = (
    *HEAD,
    *CEILINGS,
    *PRINTING,
    *STATE,
    *REST,
    *SPOILING,
    *POLYMER,
    *BALANCE,
    PARTS,
    *MASSES,
    *SAFETY,
    *MESH,
    *HEED,
    LAST,
)


def record(result: Result) -> dict[str, Any]:
    """The whole record: plain types only, numbers to eight digits, None where something does not exist."""
    return nested(KEYS, result)


def parts_of(system: System, field: Field | None) -> dict[str, dict[str, Any]]:
    """Number, material and temperatures of every part."""
    materials = materials_by_part(system.problem)
    extremes = field.part_extremes if field else {}
    parts: dict[str, dict[str, Any]] = {}
    for part, number in part_numbers(system.space.section).items():
        coldest, hottest = extremes.get(part, (None, None))
        parts[part] = {
            "number": number,
            "material": materials[part].label if part in materials else "air",
            "coldest_degC": celsius_of(coldest),
            "hottest_degC": celsius_of(hottest),
        }
    return parts


def stuck_on_parts(result: Result) -> dict[str, dict[str, Any]]:
    """Every part with the heater stuck on, against its material's limit; empty where that was not found."""
    if result.stuck_on is None:
        return {}
    return {
        margin.part: {
            "hottest_degC": celsius_of(margin.temperature),
            "limit_degC": celsius_of(margin.limit),
            "severity": margin.severity,
        }
        for margin in margins_of(result.problem, result.stuck_on.hottest)
    }
