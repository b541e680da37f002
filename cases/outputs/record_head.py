"""What records share: their first keys, the inputs of a case as written, cautions in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from pydantic import BaseModel

from meltzone.cases.inputs.fields import number_kind
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.schema import CaseModel
from meltzone.cases.inputs.tolerance import show_toleranced
from meltzone.cases.inputs.uncertain import tolerances_of
from meltzone.cases.studies.cautions import without_deference
from meltzone.cases.studies.quantities import Quantity
from meltzone.cases.studies.result_quantities import RESULT
from meltzone.cases.studies.results import ZERO_CELSIUS, Result
from meltzone.cases.studies.versions import versions
from meltzone.materials.limits import DEFERENCE, Finding
from meltzone.materials.units import Kind


def head(form: int) -> tuple[Quantity[Any], ...]:
    """The first keys of every record; `form` is raised when a key changes its name, its unit or its meaning."""
    return (
        Quantity("form", "", "Number of this form of the file; it rises when a key changes.", lambda _: form),
        Quantity("versions", "", "Versions of the program, of Python and of the libraries that carry the numbers.",
                 lambda _: versions()),
    )  # fmt: skip


def case_head(form: int, case_of: Callable[[Any], Case]) -> tuple[Quantity[Any], ...]:
    """The first keys of the record of something about one case, which `case_of` fetches."""
    return (
        *head(form),
        Quantity("case.name", "", "Name of the case: its file's name without the ending.", lambda found: case_of(found).name),
        Quantity("case.title", "", "The title written in the case.", lambda found: case_of(found).model.title),
        Quantity("case.files", "", "The files and overrides it is made of, the nearest first.",
                 lambda found: [layer.label for layer in case_of(found).layers]),
        Quantity("inputs", "as written", "Every input as resolved, in the form of a case file; absent keys are the card's or "
                 "the parts' own.", lambda found: inputs_of(case_of(found))),
    )  # fmt: skip


def of_result(path: str, up: Callable[[Any], Result], name: str) -> Quantity[Any]:
    """The quantity of a result at `path`, of something that holds the result, which `up` fetches; called `name`."""
    (quantity,) = (each for each in RESULT if each.path == path)
    return quantity.lifted(up, name)


LAST: Quantity[Any] = Quantity("deference", "", "What comes before every caution above.", lambda _: DEFERENCE)


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
        if kind is not None and (kind.unit or f"{title}.{name}" in tolerances):
            value = _with_unit(value, kind, f"{title}.{name}", tolerances)
        written[name] = list(value) if isinstance(value, tuple) else value
    return written


def _with_unit(value: Any, kind: Kind, key: str, tolerances: Mapping[str, float]) -> Any:
    if isinstance(value, dict):
        return {name: _with_unit(item, kind, f"{key}.{name}", tolerances) for name, item in value.items()}
    return show_toleranced(value, tolerances.get(key, 0.0), kind)


def in_words(finding: Finding) -> dict[str, Any]:
    """A finding as plain types."""
    return {
        "severity": finding.severity,
        "material": finding.material,
        "temperature_degC": celsius_of(finding.temperature),
        "limit_degC": celsius_of(finding.limit),
        "text": without_deference(finding),
    }


def celsius_of(temperature: float | None) -> float | None:
    """[K] to [degC], None for None."""
    return None if temperature is None else temperature - ZERO_CELSIUS
