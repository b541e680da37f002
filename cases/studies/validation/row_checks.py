"""Checks of the rows of a measured file, every value with the line it stands in."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from meltzone.cases.inputs.errors import CaseError, nearest
from meltzone.cases.inputs.layers import written_form
from meltzone.cases.studies.bench.rows import CurveRow, RawRow, Row
from meltzone.cases.studies.bench.samples import SampleFile, Series
from meltzone.cases.studies.bench.samples_csv import load_samples
from meltzone.cases.studies.validation.measurements_csv import override_of
from meltzone.materials.units import FLOW, UnitError, parse

HIGHEST = 1e-6  # a thousand mm3/s: beyond any hot end [m3/s]
ROW_KEYS = ("name", "case", "set", "ceiling", "uncertainty", "calibrates", "compared_with", "note")
CURVE_KEYS = ("name", "case", "set", "samples", "series", "calibrates", "note")
_PERCENT = re.compile(r"\s*(\d+\.?\d*|\.\d+)\s*%\s*")


def checked_row(label: str, raw: RawRow, usual_uncertainty: Any, known: list[str]) -> Row:
    """A row with every value checked; `known` are the names taken by the rows before it."""
    values = raw.values
    _check_keys(label, raw, ROW_KEYS)
    for key in ("case", "ceiling"):
        if key not in values:
            hint = 'case = "short-block"' if key == "case" else 'ceiling = "13 mm^3/s", or samples = "my-samples.csv"'
            raise CaseError(label, raw.line(""), key, None, "a value; every row needs it", f"Add {hint}.")
    words = _words(label, raw, ("case", "name", "compared_with", "note"))
    name = _free_name(label, raw, words["name"] or words["case"], known)
    ceiling = _flow(label, raw.line("ceiling"), values["ceiling"])
    uncertainty = values.get("uncertainty", usual_uncertainty)
    return Row(
        name=name,
        case=words["case"],
        overrides=_overrides(label, raw),
        ceiling=ceiling,
        uncertainty=_uncertainty(label, raw.line("uncertainty"), uncertainty, ceiling),
        calibrates=_flag(label, raw.line("calibrates"), values.get("calibrates", False)),
        compared_with=words["compared_with"] or None,
        note=words["note"],
        line=raw.line(""),
    )


def checked_curve(label: str, raw: RawRow, folder: Path, known: Sequence[str]) -> CurveRow:
    """A row that names weighed samples, with the series read; `folder` is that of the file. Raises CaseError."""
    _check_keys(label, raw, CURVE_KEYS)
    words = _words(label, raw, ("samples", "series", "case", "name", "note"))
    table = _samples(label, raw, words["samples"], folder)
    series = _series(label, raw, table, words["series"])
    if not (words["case"] or series.case):
        hint = 'Add case = "short-block", or a column case to the samples.'
        raise CaseError(label, raw.line(""), "case", None, "the case that the samples were weighed with", hint)
    return CurveRow(
        name=_free_name(label, raw, words["name"] or series.name, known),
        case=words["case"] or series.case,
        overrides={**_own(series), **_overrides(label, raw)},
        samples=table.name,
        series=series,
        folder=table.folder,
        comments=table.comments,
        calibrates=_flag(label, raw.line("calibrates"), raw.values.get("calibrates", False)),
        note=words["note"],
        line=raw.line(""),
    )


def _samples(label: str, raw: RawRow, written: str, folder: Path) -> SampleFile:
    """The table beside the measured file, or the shipped demonstration of that name."""
    try:
        beside = folder / written
        return load_samples(beside if beside.exists() else written)
    except CaseError as error:
        if error.line is not None:
            raise
        hint = f"{error.hint} Asked for by samples = {written_form(written)}."
        raise CaseError(
            label, raw.line("samples"), error.key or "samples", error.value, error.expected, hint
        ) from error
    except (OSError, ValueError) as error:
        expected, hint = "a table of weighed samples, .csv", "Write its name as it stands beside this file."
        raise CaseError(label, raw.line("samples"), "samples", written_form(written), expected, hint) from error


def _series(label: str, raw: RawRow, table: SampleFile, wanted: str) -> Series:
    names = [each.name for each in table.series]
    if not wanted and len(names) > 1:
        hint = f'Add series = "{names[0]}".'
        raise CaseError(label, raw.line("samples"), "series", None, f"one of the series: {', '.join(names)}", hint)
    if wanted and wanted not in names:
        close = nearest(wanted, names)
        hint = f'Did you mean "{close[0]}"?' if close else f"{table.file} holds no other."
        expected = f"one of the series: {', '.join(names)}"
        raise CaseError(label, raw.line("series"), "series", written_form(wanted), expected, hint)
    found = table.series[names.index(wanted) if wanted else 0]
    if not found.samples:
        hint = "Weigh some, or leave the row out."
        raise CaseError(
            label, raw.line("samples"), "samples", None, f"weighed samples in the series {found.name}", hint
        )
    return found


def _own(series: Series) -> dict[str, Any]:
    """Values of the case that head columns of the samples' table, such as heater.setpoint [degC]."""
    found = {}
    for heading, cell in series.overrides.items():
        key, _, unit = heading.partition(" [")
        if cell:
            found[key] = override_of(cell, unit.rstrip("]"))
    return found


def _check_keys(label: str, raw: RawRow, known: tuple[str, ...]) -> None:
    for key in raw.values:
        if key not in known:
            raise unknown_key(label, raw.line(key), key, "a row", known)


def _words(label: str, raw: RawRow, keys: Sequence[str]) -> dict[str, str]:
    return {key: text_of(label, raw.line(key), key, raw.values.get(key, "")) for key in keys}


def _free_name(label: str, raw: RawRow, name: str, known: Sequence[str]) -> str:
    if name in known:
        hint = 'Give each row a name of its own, as in name = "short block, hot".'
        raise CaseError(label, raw.line("name"), "name", written_form(name), "a name that no other row has", hint)
    return name


def text_of(label: str, line: int | None, key: str, value: object) -> str:
    """The text of a key on one line; raises CaseError."""
    if not isinstance(value, str) or (key in ("case", "samples") and value != "" and not value.strip()):
        raise CaseError(label, line, key, written_form(value), "text", "Put it in quotes.")
    return " ".join(value.split())


def _flow(label: str, line: int | None, value: object) -> float:
    try:
        flow = parse(value, FLOW)
    except UnitError as error:
        raise CaseError(label, line, "ceiling", written_form(value), error.expected, error.hint) from error
    if not 0.0 < flow <= HIGHEST:
        expected = "a volume flow above 0 and up to 1000 mm^3/s"
        hint = "Check the number and its unit."
        raise CaseError(label, line, "ceiling", written_form(value), expected, hint)
    return flow


def _uncertainty(label: str, line: int | None, value: object, ceiling: float) -> float:
    """The standard uncertainty [m3/s] of a share such as "5 %" or of a flow."""
    key, expected = "uncertainty", 'a standard uncertainty, as in "5 %" or "0.6 mm^3/s"'
    hint = "One standard deviation; state what you assume where you do not know it."
    if value is None:
        raise CaseError(label, line, key, None, expected, f"{hint} At the top of the file it counts for every row.")
    if isinstance(value, str) and (share := _PERCENT.fullmatch(value)):
        uncertainty = float(share.group(1)) / 100.0 * ceiling
    else:
        try:
            uncertainty = parse(value, FLOW)
        except UnitError as error:
            raise CaseError(label, line, key, written_form(value), expected, hint) from error
    if not 1e-4 * ceiling <= uncertainty <= ceiling or not math.isfinite(uncertainty):
        raise CaseError(label, line, key, written_form(value), "from 0.01 % to 100 % of the ceiling", hint)
    return uncertainty


def _flag(label: str, line: int | None, value: object) -> bool:
    if not isinstance(value, bool):
        hint = "It says whether this row calibrates the free number."
        raise CaseError(label, line, "calibrates", written_form(value), "true or false, without quotes", hint)
    return value


def _overrides(label: str, raw: RawRow) -> dict[str, Any]:
    """The row's own values by dotted key; nested tables of a TOML row are flattened."""
    value = raw.values.get("set", {})
    if not isinstance(value, Mapping):
        expected, hint = "a table of dotted keys of a case", 'set = { "heater.setpoint" = "235 degC" }'
        raise CaseError(label, raw.line("set"), "set", written_form(value), expected, hint)
    return dict(_flattened(value, ""))


def _flattened(value: Mapping[str, Any], above: str) -> list[tuple[str, Any]]:
    found: list[tuple[str, Any]] = []
    for name, item in value.items():
        key = f"{above}{name}"
        found += _flattened(item, f"{key}.") if isinstance(item, Mapping) else [(key, item)]
    return found


def unknown_key(label: str, line: int | None, name: str, where: str, known: tuple[str, ...]) -> CaseError:
    """The error for a key that nothing reads, `name`, in `where`."""
    close = nearest(name, known)
    hint = f"Did you mean {close[0]}?" if close else "Remove it, or see docs/validation.md."
    if "." in name or name in ("heater", "nozzle", "block", "polymer"):
        hint = 'Keys of the case stand in the row\'s set table: set = { "heater.setpoint" = "235 degC" }.'
    return CaseError(label, line, name, None, f"a key of {where}: {', '.join(known)}", hint)
