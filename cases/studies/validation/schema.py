"""The schema of a measured file: what the file and its rows, ceilings, forces and weighed series, may hold."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, StrictBool, ValidationInfo, field_validator

from meltzone.cases.inputs.fields import Exact, Table, Text, bad_value, key
from meltzone.cases.inputs.layers import leaves
from meltzone.materials.units import FLOW, FORCE, PLAIN, Kind, UnitError, parse

CEILING = FLOW.within(1e-15, 1e-6)  # up to a thousand mm3/s: beyond any hot end
LEAST_SHARE = 1e-4  # of a ceiling: nobody measures better
FORCES = FORCE.within(0.01, 1000.0)
SHARES = PLAIN.within(1e-4, 1.0)
_PERCENT = re.compile(r"\s*(\d+\.?\d*|\.\d+)\s*%\s*")


def _overrides(value: object) -> dict[str, Any]:
    """A row's own values by dotted key, also where they stand as tables within tables."""
    if not isinstance(value, Mapping):
        raise bad_value("a table of dotted keys of a case", 'set = { "heater.setpoint" = "235 degC" }')
    return {".".join(path): item for path, item in leaves(value)}


class MeasuredTable(Table):
    """A table of a measured file."""

    called = "a file of measured ceilings"
    page = "meltzone validate --help"


class RowTable(MeasuredTable):
    """What every row may hold."""

    called = "a row"
    strays = 'Keys of the case stand in the row\'s set table: set = { "heater.setpoint" = "235 degC" }.'

    name: Text = key("", "What the row is called; by default its case.")
    set: Annotated[dict[str, Any], BeforeValidator(_overrides)] = key(
        {}, "The row's own values by dotted key of a case."
    )
    calibrates: StrictBool = key(False, "Whether this row calibrates the free numbers.")
    note: Text = key("", "What a reader must know.")


class CeilingTable(RowTable):
    """A measured ceiling."""

    case: Annotated[Text, Field(min_length=1)] = key(..., "The case it was measured with.", example='"short-block"')
    ceiling: Annotated[float, Exact(CEILING)] = key(
        ..., "The measured flow.", example='"13 mm^3/s", or samples = "my-samples.csv"'
    )
    uncertainty: Any = Field(None, validate_default=True, description="One standard deviation: a share, or a flow.")
    compared_with: Text = key("", "The row from which the change is counted.")

    @field_validator("uncertainty")
    @classmethod
    def _standard(cls, value: Any, info: ValidationInfo) -> float:
        """The standard uncertainty [m3/s] of a share such as "5 %" or of a flow."""
        return _deviation(
            value, info.data.get("ceiling", 1.0), FLOW, "0.6 mm^3/s"
        )  # one that is no flow is told of first


class ForceTable(RowTable):
    """A force measured on the filament."""

    case: Annotated[Text, Field(min_length=1)] = key(..., "The case it was measured with.", example='"short-block"')
    flow: Annotated[float, Exact(CEILING)] = key(..., "The flow it was measured at.", example='"10 mm^3/s"')
    force: Any = key(
        ..., "The measured force, or its share of one that is not told, as a plain number.", example='"40 N"'
    )
    uncertainty: Any = Field(None, validate_default=True, description="One standard deviation: a share, or a force.")

    @field_validator("force")
    @classmethod
    def _newtons(cls, value: Any) -> tuple[float, bool]:
        """The force [N] or share [-], and whether it is a share."""
        try:
            return (parse(value, FORCES), False) if isinstance(value, str) else (parse(value, SHARES), True)
        except UnitError as error:
            raise bad_value('a force, as in "40 N", or a share of one, as in 0.44', error.hint) from error

    @field_validator("uncertainty")
    @classmethod
    def _standard(cls, value: Any, info: ValidationInfo) -> float:
        """The standard uncertainty in the unit of the force."""
        force, relative = info.data.get("force", (1.0, True))
        return _deviation(value, force, *((SHARES, "0.02") if relative else (FORCES, "2 N")))


def _deviation(value: Any, measured: float, kind: Kind, example: str) -> float:
    """A standard uncertainty as a share of what was `measured`, such as "5 %", or in its own unit [SI]."""
    expected = f'a standard uncertainty, as in "5 %" or "{example}"'
    hint = "One standard deviation; state what you assume where you do not know it."
    if value is None:
        raise bad_value(expected, f"{hint} At the top of the file it counts for every row.")
    if isinstance(value, str) and (share := _PERCENT.fullmatch(value)):
        found = float(share.group(1)) / 100.0 * measured
    else:
        try:
            found = parse(value, kind)
        except UnitError as error:
            raise bad_value(expected, hint) from error
    if not LEAST_SHARE * measured <= found <= measured:
        raise bad_value("from 0.01 % to 100 % of what was measured", hint)
    return found


class CurveTable(RowTable):
    """Weighed samples as a whole curve."""

    case: Text = key("", "The case that the samples were weighed with; by default what their table says.")
    samples: Annotated[Text, Field(min_length=1)] = key(..., "The table of weighed samples, beside this file.")
    series: Text = key("", "Which series of the table.")


class MeasuredModel(MeasuredTable):
    """A measured file."""

    title: Text = key("", "One line that says what was measured.")
    source: Text = key("", "Where the numbers come from.")
    assumes: Text = key("", "What had to be assumed of the arrangement; such a file says nothing of the model's error.")
    free: Annotated[list[Text], BeforeValidator(lambda value: value if isinstance(value, list) else [value])] = key(
        [], "The numbers to calibrate."
    )
    uncertainty: Any = key(None, "Counts for every row that states none.")
    row: list[dict[str, Any]] = key([], "The rows, each a [[row]].")
