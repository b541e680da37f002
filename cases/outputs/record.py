"""The dictionary behind result.json: the numbers of a result and what stands with them, key by key."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel

from meltzone.cases.inputs.fields import number_kind
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.schema import CaseModel
from meltzone.cases.inputs.tolerance import show_toleranced
from meltzone.cases.inputs.uncertain import tolerances_of
from meltzone.cases.outputs.quantities import Quantity, nested
from meltzone.cases.outputs.vtu import part_numbers
from meltzone.cases.studies.cautions import margins_of, materials_by_part, without_deference
from meltzone.cases.studies.result_quantities import BALANCE, CEILINGS, MESH, POLYMER, STATE, STUCK_ON
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.versions import versions
from meltzone.cases.studies.wording import beyond_words
from meltzone.fem.field import Field
from meltzone.fem.system import System
from meltzone.materials.limits import DEFERENCE, Finding
from meltzone.materials.units import ZERO_CELSIUS, Kind

FORM = 1  # raised when a key changes its name, its unit or its meaning


HEAD: tuple[Quantity[Result], ...] = (
    Quantity("form", "", "Number of this form of the file; it rises when a key changes.", lambda r: FORM),
    Quantity("versions", "", "Versions of the program, of Python and of the libraries that carry the numbers.",
        lambda r: versions()),
    Quantity("case.name", "", "Name of the case: its file's name without the ending.", lambda r: r.case.name),
    Quantity("case.title", "", "The title written in the case.", lambda r: r.case.model.title),
    Quantity("case.files", "", "The files and overrides it is made of, the nearest first.",
        lambda r: [layer.label for layer in r.case.layers]),
    Quantity("inputs", "as written", "Every input as resolved, in the form of a case file; absent keys are the card's or the "
        "parts' own.", lambda r: inputs_of(r.case)),
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
    Quantity("deference", "", "What comes before every caution above.", lambda r: DEFERENCE),
)  # fmt: skip
KEYS = (*HEAD, *CEILINGS, *STATE, *POLYMER, *BALANCE, PARTS, *SAFETY, *MESH, *HEED)


def record(result: Result) -> dict[str, Any]:
    """The whole record: plain types only, numbers to eight digits, None where something does not exist."""
    return nested(KEYS, result)


def inputs_of(case: Case) -> dict[str, Any]:
    """All resolved inputs with units and tolerances, as a case file would hold them; reading them again gives the same case."""
    tolerances = tolerances_of(case)
    return {
        name: _table_as_written(name, value, tolerances) if isinstance(value, BaseModel) else value
        for name in CaseModel.model_fields
        if name != "extends" and (value := getattr(case.model, name)) is not None
    }


def _table_as_written(title: str, table: BaseModel, tolerances: Mapping[str, float]) -> dict[str, Any]:
    written = {}
    for name, field in type(table).model_fields.items():
        value = getattr(table, name)
        kind = number_kind(field)
        if value is None:
            continue
        if kind is not None and kind.unit:
            value = _with_unit(value, kind, f"{title}.{name}", tolerances)
        written[name] = list(value) if isinstance(value, tuple) else value
    return written


def _with_unit(value: Any, kind: Kind, key: str, tolerances: Mapping[str, float]) -> Any:
    if isinstance(value, dict):
        return {name: _with_unit(item, kind, f"{key}.{name}", tolerances) for name, item in value.items()}
    return show_toleranced(value, tolerances.get(key, 0.0), kind)


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
            "coldest_degC": _celsius(coldest),
            "hottest_degC": _celsius(hottest),
        }
    return parts


def stuck_on_parts(result: Result) -> dict[str, dict[str, Any]]:
    """Every part with the heater stuck on, against its material's limit; empty where that was not found."""
    if result.stuck_on is None:
        return {}
    return {
        margin.part: {
            "hottest_degC": _celsius(margin.temperature),
            "limit_degC": _celsius(margin.limit),
            "severity": margin.severity,
        }
        for margin in margins_of(result.problem, result.stuck_on.hottest)
    }


def in_words(finding: Finding) -> dict[str, Any]:
    """A finding as plain types."""
    return {
        "severity": finding.severity,
        "material": finding.material,
        "temperature_degC": _celsius(finding.temperature),
        "limit_degC": _celsius(finding.limit),
        "text": without_deference(finding),
    }


def _celsius(temperature: float | None) -> float | None:
    return None if temperature is None else temperature - ZERO_CELSIUS
