"""What is shown and exported of weighings that are kept: sessions, every sample with units and sources."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.outputs.delimited import delimited
from meltzone.cases.outputs.files import check_ending, write_table
from meltzone.cases.outputs.grid import Grid, words
from meltzone.cases.outputs.page import Head, Page
from meltzone.cases.outputs.quantities import flat, nested
from meltzone.cases.outputs.record_head import head
from meltzone.cases.outputs.writing import staged_file
from meltzone.cases.studies.bench.archive import ENDINGS, Kept, back_up
from meltzone.cases.studies.bench.samples import CUBIC_MM, Sample
from meltzone.cases.studies.quantities import Quantity

FORM = 1  # raised when a key changes its name, its unit or its meaning
SAMPLE: tuple[Quantity[Sample], ...] = (
    Quantity("line", "", "Line of the file.", lambda s: s.line),
    Quantity("commanded_mm3_per_s", "mm3/s", "Commanded flow.", lambda s: CUBIC_MM * s.commanded),
    Quantity("time_s", "s", "Time of the sample.", lambda s: s.time),
    Quantity("time_uncertainty_s", "s", "Its standard uncertainty.", lambda s: s.time_uncertainty),
    Quantity("mass_g", "g", "Mass.", lambda s: 1e3 * s.mass),
    Quantity("note", "", "Its note.", lambda s: s.note),
)
SERIES: tuple[Quantity[Kept], ...] = (
    Quantity("number", "", "Its number in the file.", lambda k: k.number),
    Quantity("name", "", "Name of the series.", lambda k: k.series.name),
    Quantity("measured_on", "", "Day of the measurement.", lambda k: k.measured_on),
    Quantity("spool", "", "Spool of filament.", lambda k: k.spool),
    Quantity("case", "", "Its case, or null.", lambda k: k.series.case or None),
    Quantity("set", "", "Values of the case that head columns of the samples.", lambda k: dict(k.series.overrides)),
    Quantity("density_g_per_cm3", "g/cm3", "Density and its standard uncertainty.",
             lambda k: [1e-3 * k.series.filament.density.value, 1e-3 * k.series.filament.density.tolerance]),
    Quantity("diameter_mm", "mm", "Diameter and its standard uncertainty.",
             lambda k: [1e3 * k.series.filament.diameter.value, 1e3 * k.series.filament.diameter.tolerance]),
    Quantity("balance_resolution_g", "g", "Last digit of the balance.", lambda k: 1e3 * k.series.balance.resolution),
    Quantity("source", "", "File that the samples came from.", lambda k: k.source),
    Quantity("source_sha256", "", "SHA-256 of that file.", lambda k: k.sha256),
    Quantity("kept_at", "", "When they were kept, UTC.", lambda k: k.kept_at),
    Quantity("comments", "", "Comments of that file.", lambda k: list(k.comments)),
    Quantity("assumed", "", "What was assumed, as nothing else was said.", lambda k: list(k.assumed)),
    Quantity("samples", "", "Every sample: keys below.", lambda k: [flat(SAMPLE, each) for each in k.series.samples]),
    Quantity("left_out", "", "Rows left out: `line` and `reason`.",
             lambda k: [{"line": gone.line, "reason": gone.reason} for gone in k.series.left_out]),
)  # fmt: skip
KEYS: tuple[Quantity[Sequence[Kept]], ...] = (
    *head(FORM),
    Quantity("series", "", "Every series: keys below.", lambda every: [nested(SERIES, each) for each in every]),
)
HEADINGS = (
    "series", "case", "measured_on", "spool", "commanded_mm3_per_s", "time_s", "mass_g", "density_g_per_cm3",
    "density_uncertainty_g_per_cm3", "diameter_mm", "diameter_uncertainty_mm", "balance_resolution_g", "note", "source",
)  # fmt: skip


def record(every: Sequence[Kept]) -> dict[str, Any]:
    """The whole record; what does not exist is None."""
    return nested(KEYS, every)


def write_csv(every: Sequence[Kept], path: Path) -> None:
    """Every sample as a row of a table that `meltzone reduce` reads; raises CaseError."""
    own = list(dict.fromkeys(key for each in every for key in each.series.overrides))
    rows = []
    for each in every:
        series, filament = each.series, each.series.filament
        for s in series.samples:
            rows.append([
                series.name, series.case, each.measured_on, each.spool, CUBIC_MM * s.commanded, s.time, 1e3 * s.mass,
                1e-3 * filament.density.value, 1e-3 * filament.density.tolerance, 1e3 * filament.diameter.value,
                1e3 * filament.diameter.tolerance, 1e3 * series.balance.resolution, s.note, each.source,
                *(series.overrides.get(key, "") for key in own),
            ])  # fmt: skip
    comments = dict.fromkeys(comment for each in every for comment in each.comments)
    write_table(path, delimited([*HEADINGS, *own], rows, list(comments)))


def write_backup(path: Path, place: Path) -> None:
    """The whole data base at `path` as one file at `place`, which must be free; raises CaseError."""
    check_ending(place, f"output {place}", "a data base", *ENDINGS)
    if place.exists() and place.samefile(path):
        raise CaseError(f"output {place}", None, None, None, "another file than the data base", "Choose another name.")
    with staged_file(place, overwrite=False) as temporary:
        back_up(path, temporary)


def page(every: Sequence[Kept], file: Path) -> Page:
    """What was measured when, on which case, with which spool."""
    columns = words("", "series", "measured on", "spool", "case", "samples", "to [mm³/s]", "from file")
    rows = tuple(
        (
            str(each.number), each.series.name, each.measured_on, each.spool or "-", each.series.case or "-",
            str(len(each.series.samples)),
            f"{CUBIC_MM * max((s.commanded for s in each.series.samples), default=0.0):.2f}", each.source,
        )
        for each in every
    )  # fmt: skip
    return Page((Head("Weighings kept", str(file)), Grid("", columns, rows)), "Weighings")
