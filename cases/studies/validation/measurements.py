"""Reads a measured file: rows of ceilings, forces and weighed series, checked, with the place of each for messages."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from meltzone.cases.inputs.errors import CaseError, at_key
from meltzone.cases.inputs.files import Shelf, Source, found, read_layer
from meltzone.cases.inputs.layers import Layer, written_form
from meltzone.cases.inputs.spreadsheet import TableColumn, filled, flag, override_of, read_table, with_unit
from meltzone.cases.inputs.translate import checked
from meltzone.cases.studies.bench.archive import ENDINGS, samples_of
from meltzone.cases.studies.bench.rows import CeilingRow, CurveRow, ForceRow, MeasuredFile, Row
from meltzone.cases.studies.bench.samples import SampleFile, Series
from meltzone.cases.studies.bench.samples_csv import load_samples
from meltzone.cases.studies.validation.schema import CeilingTable, CurveTable, ForceTable, MeasuredModel
from meltzone.materials.errors import nearest

MOST_ROWS = 500
REDUCED = "ceilings.csv"  # as `meltzone reduce` calls the table that it writes beside its own files
MEASURED = Shelf("measured", ".toml", "measurements", "measurements")

HEADINGS = "case; ceiling [mm^3/s]; uncertainty [%]; calibrates"
COLUMNS = ("name", "case", "ceiling", "uncertainty", "calibrates", "compared_with", "note")

RowPath = tuple[str, int]


def _name_of(path: Path) -> str:
    """The file's name; for a reduction's table, of which there are many of one name, that of the reduction."""
    reduced = path.name == REDUCED and path.resolve().parent.name
    return reduced.removeprefix("reduce-") if reduced else path.stem


def measured_names() -> tuple[str, ...]:
    """Names of the shipped measured files, sorted."""
    return MEASURED.names


def load_measured(written: str | Path) -> MeasuredFile:
    """Read the measured file `written` (TOML, or CSV by its ending), or the shipped one of that name; raises CaseError."""
    source = found(str(written), MEASURED, "a file of measured ceilings, .toml or .csv, or a shipped one's name")
    layer = _layer_of(source)
    model = checked(MeasuredModel, layer.data, [layer])
    if not model.row:
        hint = "Begin each with [[row]] on a line of its own." if layer.text else "Below the header, one row a line."
        raise CaseError(source.label, None, "row", None, "at least one row with a measured ceiling", hint)
    if len(model.row) > MOST_ROWS:
        count = f"{len(model.row)} rows"
        raise CaseError(source.label, None, "row", count, f"at most {MOST_ROWS} rows", "Split the file.")
    usual = {} if model.uncertainty is None else {"uncertainty": model.uncertainty}
    rows: list[Row] = []
    for number, values in enumerate(model.row):
        row = _row(layer, ("row", number), values, usual, source.path.parent)
        if row.name in [each.name for each in rows]:
            hint = 'Give each row a name of its own, as in name = "short block, hot".'
            raise at_key(
                [layer], ["row", number, "name"], "a name that no other row has", hint, value=written_form(row.name)
            )
        rows.append(row)
    _check_comparisons(layer, rows)
    _check_shares(layer, rows)
    return MeasuredFile(
        _name_of(source.path),
        source.label,
        source.path.parent,
        model.title,
        model.source,
        tuple(filter(None, model.free)),
        tuple(row for row in rows if isinstance(row, CeilingRow)),
        tuple(row for row in rows if isinstance(row, CurveRow)),
        model.assumes,
        tuple(row for row in rows if isinstance(row, ForceRow)),
    )


def _row(layer: Layer, path: RowPath, values: dict[str, Any], usual: dict[str, Any], folder: Path) -> Row:
    """The row of these `values`; what is `usual` in the file counts where it says nothing."""
    if "samples" in values and "ceiling" not in values:
        return _curve(layer, path, values, folder)
    return (_force if "force" in values and "ceiling" not in values else _ceiling)(layer, path, {**usual, **values})


def _layer_of(source: Source) -> Layer:
    if source.path.suffix.lower() in ENDINGS:  # every series that is kept, as a curve
        names = [each.name for each in samples_of(source.path).series]
        return Layer(source.label, "", {"row": [{"samples": source.path.name, "series": name} for name in names]})
    if source.path.suffix.lower() != ".csv":
        return read_layer(source)
    rows = _rows_of_csv(source)
    return Layer(source.label, "", {"row": [values for _, values in rows]}, tuple(line for line, _ in rows))


def _ceiling(layer: Layer, path: RowPath, values: dict[str, Any]) -> CeilingRow:
    row = checked(CeilingTable, values, [layer], path)
    return CeilingRow(
        name=row.name or row.case,
        case=row.case,
        overrides=row.set,
        ceiling=row.ceiling,
        uncertainty=row.uncertainty,
        calibrates=row.calibrates,
        compared_with=row.compared_with or None,
        note=row.note,
        line=layer.line(path),
    )


def _force(layer: Layer, path: RowPath, values: dict[str, Any]) -> ForceRow:
    row = checked(ForceTable, values, [layer], path)
    force, relative = row.force
    return ForceRow(
        name=row.name or row.case,
        case=row.case,
        overrides=row.set,
        flow=row.flow,
        force=force,
        relative=relative,
        uncertainty=row.uncertainty,
        calibrates=row.calibrates,
        note=row.note,
        line=layer.line(path),
    )


def _curve(layer: Layer, path: RowPath, values: dict[str, Any], folder: Path) -> CurveRow:
    """A row that names weighed samples, with the series read; `folder` is that of the file."""
    row = checked(CurveTable, values, [layer], path)
    table = _samples(layer, path, row.samples, folder)
    series = _series(layer, path, table, row.series)
    if not (row.case or series.case):
        hint = 'Add case = "short-block", or a column case to the samples.'
        raise at_key([layer], [*path, "case"], "the case that the samples were weighed with", hint)
    return CurveRow(
        name=row.name or series.name,
        case=row.case or series.case,
        overrides={**_own(series), **row.set},
        samples=table.name,
        series=series,
        folder=table.folder,
        comments=table.comments,
        calibrates=row.calibrates,
        note=row.note,
        line=layer.line(path),
    )


def _samples(layer: Layer, path: RowPath, written: str, folder: Path) -> SampleFile:
    """The table beside the measured file, or the shipped demonstration of that name."""
    try:
        return load_samples(written, folder=folder)
    except CaseError as error:
        if error.line is not None:
            raise
        hint = f"{error.hint} Asked for by samples = {written_form(written)}."
        line, key = layer.line([*path, "samples"]), error.key or "samples"
        raise CaseError(layer.label, line, key, error.value, error.expected, hint) from error


def _series(layer: Layer, path: RowPath, table: SampleFile, wanted: str) -> Series:
    names = [each.name for each in table.series]
    expected = f"one of the series: {', '.join(names)}"
    if not wanted and len(names) > 1:
        raise at_key([layer], [*path, "series"], expected, f'Add series = "{names[0]}".')
    if wanted and wanted not in names:
        close = nearest(wanted, names)
        hint = f'Did you mean "{close[0]}"?' if close else f"{table.file} holds no other."
        raise at_key([layer], [*path, "series"], expected, hint)
    series = table.series[names.index(wanted) if wanted else 0]
    if not series.samples:
        expected = f"weighed samples in the series {series.name}"
        raise at_key([layer], [*path, "samples"], expected, "Weigh some, or leave the row out.")
    return series


def _own(series: Series) -> dict[str, Any]:
    """Values of the case that head columns of the samples' table, such as heater.setpoint [degC]."""
    headed = ((heading.partition(" ["), cell) for heading, cell in series.overrides.items() if cell)
    return {key: override_of(cell, unit.rstrip("]")) for (key, _, unit), cell in headed}


def _rows_of_csv(source: Source) -> list[tuple[int, dict[str, Any]]]:
    """Line number and values of every row, in the form of a row of a TOML file; raises CaseError."""
    table = read_table(source, COLUMNS, ("case", "ceiling"), HEADINGS)
    return [(line, _values(source.label, line, table.columns, cells)) for line, cells in table.rows]


def _values(label: str, line: int, columns: Sequence[TableColumn | None], cells: Sequence[str]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    overrides: dict[str, Any] = {}
    for column, cell in filled(label, line, columns, cells):
        if column.key == "calibrates":
            values[column.key] = flag(label, line, column.key, cell)
        elif cell and "." in column.key:
            overrides[column.key] = override_of(cell, column.unit)
        elif cell:
            values[column.key] = with_unit(cell, column.unit) if column.key in ("ceiling", "uncertainty") else cell
    return values | ({"set": overrides} if overrides else {})


def _check_shares(layer: Layer, rows: Sequence[Row]) -> None:
    """Forces are all shares or all in newtons; shares need a row that sets what they are shares of."""
    forces = [(number, row) for number, row in enumerate(rows) if isinstance(row, ForceRow)]
    if not forces:
        return
    relative = forces[0][1].relative
    for number, row in forces:
        if row.relative != relative:
            hint = "Give shares of one force as plain numbers in every row, or newtons in every row."
            raise at_key([layer], ["row", number, "force"], "a force like those of the other rows", hint)
    if relative and not any(row.calibrates for _, row in forces):
        hint = "Add calibrates = true to the row, or rows, that the others are held against."
        raise at_key([layer], ["row", forces[0][0], "calibrates"], "a row that sets what the shares are of", hint)


def _check_comparisons(layer: Layer, rows: Sequence[Row]) -> None:
    names = [row.name for row in rows if isinstance(row, CeilingRow)]
    for number, row in enumerate(rows):
        other = row.compared_with if isinstance(row, CeilingRow) else None
        if other is not None and (other not in names or other == row.name):
            close = nearest(other, [name for name in names if name != row.name])
            hint = f'Did you mean "{close[0]}"?' if close else f"Rows: {', '.join(names)}."
            raise at_key([layer], ["row", number, "compared_with"], "the name of another row", hint)
