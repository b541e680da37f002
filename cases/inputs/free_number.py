"""The numbers that a calibration frees: by key, with their values in a case."""

from __future__ import annotations

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.parameters import Parameter, UnknownParameter, parameter
from meltzone.cases.inputs.reader import Case
from meltzone.fem.problem import Problem

DEFAULT_FREE = "contacts.bore_melt"


def free_number(key: str, where: str) -> Parameter:
    """The number behind the dotted `key`; raises CaseError, naming `where` the key was given."""
    try:
        return parameter(key)
    except UnknownParameter as error:
        close = error.nearest
        hint = f"Did you mean {' or '.join(close)}?" if close else f"The usual one is {DEFAULT_FREE}."
        expected = "a dotted key of a case that holds one number"
        raise CaseError(where, None, "free", written_form(key), expected, hint) from error


def value_in(free: Parameter, case: Case, problem: Problem) -> float:
    """The value [SI] that `case` itself gives the number; raises CaseError where it is not above zero or not there."""
    given = free.in_model(case.model)
    value = free.in_problem(problem) if given is None else given
    if value is None or not value > 0.0:
        hint = "Write it in the case, or free another key."
        expected = "a number above zero in the cases of the rows that calibrate"
        raise CaseError(case.file, None, free.key, None if value is None else f"{value:g}", expected, hint)
    return float(value)
