"""What every record begins with: its form, the versions behind the numbers, the case with its inputs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from meltzone.cases.inputs.reader import Case
from meltzone.cases.outputs.record import inputs_of
from meltzone.cases.studies.quantities import Quantity
from meltzone.cases.studies.result_quantities import RESULT
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.versions import versions
from meltzone.materials.limits import DEFERENCE


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
        Quantity("case.name", "", "Name of the case.", lambda found: case_of(found).name),
        Quantity("case.title", "", "Its title.", lambda found: case_of(found).model.title),
        Quantity("inputs", "as written", "Every input as resolved, as in result.json.",
                 lambda found: inputs_of(case_of(found))),
    )  # fmt: skip


def of_result(path: str, up: Callable[[Any], Result], name: str) -> Quantity[Any]:
    """The quantity of a result at `path`, of something that holds the result, which `up` fetches; called `name`."""
    (quantity,) = (each for each in RESULT if each.path == path)
    return quantity.lifted(up, name)


LAST: Quantity[Any] = Quantity("deference", "", "What comes before every caution above.", lambda _: DEFERENCE)
