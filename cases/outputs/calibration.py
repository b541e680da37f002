"""What is shown and written of a joint calibration: numbers with intervals, correlations, curves beside their samples."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from itertools import combinations
from typing import Any

from meltzone.cases.outputs.calibration_words import common_words, interval_words, method_words, standing, verdicts
from meltzone.cases.outputs.grid import NONE, Cell, Column, Grid, Row, words
from meltzone.cases.outputs.page import Block, Words
from meltzone.cases.outputs.quantities import nested
from meltzone.cases.studies.calibration.calibration import CalibratedNumber, Calibration, CommonError, ConfoundedNumbers
from meltzone.cases.studies.quantities import Quantity
from meltzone.cases.studies.validation.outcome import PredictedCurve

NUMBER: tuple[Quantity[tuple[Calibration, CalibratedNumber]], ...] = (
    Quantity("key", "", "Dotted key of the case.", lambda n: n[1].free.key),
    Quantity("value", "", "The value with its unit.", lambda n: n[1].free.words(n[1].value)),
    Quantity("low_95", "", "Lower end of the 95 % interval, or null.", lambda n: _words(n[1], n[1].low)),
    Quantity("high_95", "", "Upper end, or null.", lambda n: _words(n[1], n[1].high)),
    Quantity(
        "searched", "", "Least and greatest value tried.", lambda n: [n[1].free.words(end) for end in n[1].limits]
    ),
    Quantity("told", "", "Whether the data tell it.", lambda n: n[1] in n[0].identifiable),
    Quantity("standing", "", "If not, how it stands.", lambda n: standing(*n) or None),
)
CONFOUNDED: tuple[Quantity[ConfoundedNumbers], ...] = (
    Quantity("keys", "", "Keys that the data do not tell apart.", lambda t: list(t.keys)),
    Quantity("correlation", "", "Their correlation.", lambda t: t.correlation),
    Quantity("statement", "", "The same in a sentence.", lambda t: t.statement),
    Quantity("advice", "", "What would tell them apart.", lambda t: list(t.advice)),
)
FILAMENT: tuple[Quantity[CommonError], ...] = (
    Quantity("series", "", "Series of one filament.", lambda c: list(c.series)),
    Quantity("density_error_percent", "%", "Error of the density as fitted.", lambda c: 100.0 * c.density * c.density_share),
    Quantity("density_uncertainty_percent", "%", "Its standard uncertainty as stated.", lambda c: 100.0 * c.density_share),
    Quantity("commanded_error_percent", "%", "Error of the commanded flow by the diameter, as fitted.",
             lambda c: 100.0 * c.diameter * c.diameter_share),
    Quantity("commanded_uncertainty_percent", "%", "Its standard uncertainty as stated.", lambda c: 100.0 * c.diameter_share),
)  # fmt: skip
JOINT: tuple[Quantity[Calibration], ...] = (
    Quantity("numbers", "", "Every number that was freed: keys below.",
             lambda j: [nested(NUMBER, (j, n)) for n in j.numbers]),
    Quantity("correlation", "", "Their correlations, as a matrix.", lambda j: [list(map(float, r)) for r in j.correlation]),
    Quantity("tangled", "", "Numbers not told apart: keys below.",
             lambda j: [nested(CONFOUNDED, each) for each in j.confounded]),
    Quantity("chi_square", "", "Chi-square at the best values.", lambda j: j.fit.chi_square),
    Quantity("degrees_of_freedom", "", "Values less numbers.", lambda j: j.fit.freedom),
    Quantity("misfit", "", "Misses over the stated uncertainties.", lambda j: j.fit.misfit),
    Quantity("widened", "", "Whether the intervals are widened by it.", lambda j: j.fit.widened),
    Quantity("ceilings", "", "Number of ceilings fitted.", lambda j: len(j.observed.ceilings)),
    Quantity("samples", "", "Number of samples fitted.", lambda j: j.observed.count - len(j.observed.ceilings)),
    Quantity("filaments", "", "Common errors: keys below.", lambda j: [nested(FILAMENT, each) for each in j.commons]),
    Quantity("outliers", "", "Samples that lie off: `row`, `line`, `deviations`, `weight`, `note`.",
             lambda j: [asdict(each) for each in j.outliers]),
    Quantity("method", "", "What was done, in words.", method_words),
    Quantity("statements", "", "What a reader of the numbers must know.", verdicts),
)  # fmt: skip
CURVE: tuple[Quantity[PredictedCurve], ...] = (
    Quantity("name", "", "Name of the row.", lambda c: c.row.name),
    Quantity("case", "", "Its case.", lambda c: c.row.case),
    Quantity("set", "", "Keys put in place of the case's own.", lambda c: dict(c.row.overrides)),
    Quantity("samples_file", "", "The table of samples.", lambda c: c.row.samples),
    Quantity("series", "", "The series in it.", lambda c: c.row.series.name),
    Quantity("calibrates", "", "Whether it calibrates.", lambda c: c.row.calibrates),
    Quantity("note", "", "Its note.", lambda c: c.row.note),
    Quantity("ceiling_mm3_per_s", "mm3/s", "Predicted flow ceiling.", lambda c: c.ceiling),
    Quantity("governs", "", "The ceiling that governs.", lambda c: c.governs),
    Quantity("mean_miss_percent", "%", "Mean miss of the samples.", lambda c: c.mean_miss),
    Quantity("samples", "", "Every sample: `line`, `commanded_mm3_per_s`, `delivered_mm3_per_s`, `uncertainty_mm3_per_s`, "
             "`predicted_mm3_per_s`, and `deviations`, the miss in standard uncertainties.", lambda c: _samples(c)),  # noqa: PLW0108 - it stands below
)  # fmt: skip


def _words(number: CalibratedNumber, value: float | None) -> str | None:
    return None if value is None else number.free.words(value)


def _samples(curve: PredictedCurve) -> list[dict[str, Any]]:
    samples = curve.samples
    columns = {
        "commanded_mm3_per_s": samples.commanded,
        "delivered_mm3_per_s": samples.flow,
        "uncertainty_mm3_per_s": samples.spread,
        "predicted_mm3_per_s": curve.predicted,
        "deviations": curve.misses,
    }
    return [
        {"line": each.line, **{name: float(column[place]) for name, column in columns.items()}}
        for place, each in enumerate(curve.row.series.samples)
    ]


def joint_blocks(joint: Calibration) -> list[Block]:
    """The numbers, how they hang together, and what was done."""
    done = "\n".join([method_words(joint), *common_words(joint)])
    return [_numbers(joint), *_correlations(joint), Words(done, quiet=True)]


def _numbers(joint: Calibration) -> Grid:
    rows: list[Row] = []
    for number in joint.numbers:
        said = standing(joint, number)
        value = Cell(number.free.words(number.value), style="" if said else "strong")
        rows.append((number.free.key, value, interval_words(number), Cell(said, style="warn")))
    return Grid("", words("freed", "value", "95 % confidence interval", ""), tuple(rows))


def _correlations(joint: Calibration) -> Iterator[Grid]:
    """Every pair with its correlation; nothing for one number."""
    rows = []
    for (one, first), (other, second) in combinations(enumerate(joint.numbers), 2):
        known = first.influences and second.influences
        value = f"{joint.correlation[one, other]:+.3f}" if known else NONE
        rows.append((f"{first.free.key}, {second.free.key}", value))
    if rows:
        yield Grid("", (Column("pair"), Column("correlation", side="number")), tuple(rows))


def curves_table(curves: Sequence[PredictedCurve]) -> Iterator[Grid]:
    """Every series of samples against its curve; nothing where there are none."""
    titles = words("ceiling predicted [mm³/s]", "mean miss [%]", "governs", "")
    rows = tuple(
        (
            each.row.name, str(each.samples.flow.size), f"{each.ceiling:.2f}", f"{each.mean_miss:.1f}", each.governs,
            "calibrates" if each.row.calibrates else "",
        )
        for each in curves
    )  # fmt: skip
    if rows:
        yield Grid("", (Column("series"), Column("samples", side="number"), *titles), rows)
