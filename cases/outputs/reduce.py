"""What is shown and written of a reduction: onset, ceiling, tolerated flow, shortfalls, differences; ceilings for validate."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from meltzone.cases.inputs.seal import sealed
from meltzone.cases.outputs.delimited import COMMENT, delimited
from meltzone.cases.outputs.files import Files
from meltzone.cases.outputs.grid import NONE, Cell, Column, Grid, counted, words
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.page import Answer, Block, Head, Page, Picture, Warnings, Words
from meltzone.cases.outputs.quantities import as_json, flat, nested
from meltzone.cases.outputs.record_head import head
from meltzone.cases.outputs.reduce_figure import reduction_figure
from meltzone.cases.statistics.resample import Estimate
from meltzone.cases.studies.bench.reduce import Compared, Reduced, Reduction
from meltzone.cases.studies.bench.samples import SampleFile
from meltzone.cases.studies.quantities import Quantity

RECORD, TABLE, PICTURE, CEILINGS, REPORT = (
    "reduced.json", "reduced.csv", "reduced.png", "ceilings.csv", "report.html",
)  # fmt: skip
OURS = (RECORD, TABLE, PICTURE, CEILINGS, REPORT)
FORM = 1  # raised when a key changes its name, its unit or its meaning
MOST_LINES = 4  # of the answer; all series stand in the tables
ALIKE = 0.05  # probability below which a difference is called one
Sampled = tuple[Reduced, int]  # a series and the place of one of its samples


def _interval(read: Callable[[Reduced], Estimate | None]) -> Callable[[Reduced], Any]:
    def found(each: Reduced) -> dict[str, float] | None:
        interval = read(each)
        return None if interval is None else {
            "value": interval.value, "low_95": interval.low, "high_95": interval.high,
            "uncertainty": interval.uncertainty,
        }  # fmt: skip

    return found


SAMPLE: tuple[Quantity[Sampled], ...] = (
    Quantity("line", "", "Line of the file.", lambda s: s[0].series.samples[s[1]].line),
    Quantity("commanded_mm3_per_s", "mm3/s", "Commanded flow.", lambda s: float(s[0].delivered.commanded[s[1]])),
    Quantity("delivered_mm3_per_s", "mm3/s", "Delivered flow.", lambda s: float(s[0].delivered.flow[s[1]])),
    Quantity("random_uncertainty_mm3_per_s", "mm3/s", "Its standard uncertainty by weighing and length.",
             lambda s: float(s[0].delivered.random[s[1]])),
    Quantity("common_uncertainty_mm3_per_s", "mm3/s", "Its standard uncertainty by the density, common to all.",
             lambda s: float(s[0].delivered.common[s[1]])),
    Quantity("fitted_mm3_per_s", "mm3/s", "The broken line there.",
             lambda s: float(s[0].fitted.curve.delivered(s[0].delivered.commanded)[s[1]])),
    Quantity("shortfall_percent", "%", "What is missing to the reference line.", lambda s: 100.0 * float(s[0].shortfall[s[1]])),
    Quantity("robust_z", "", "Distance from the line in robust standard deviations.", lambda s: float(s[0].scores[s[1]])),
    Quantity("outlier", "", "Whether it counts as an outlier.", lambda s: bool(s[0].outliers[s[1]])),
)  # fmt: skip
WITH_95 = "`value`, `low_95`, `high_95` and `uncertainty`."
SERIES: tuple[Quantity[Reduced], ...] = (
    Quantity("name", "", "Name of the series.", lambda r: r.series.name),
    Quantity("case", "", "The case that it names, or null.", lambda r: r.series.case or None),
    Quantity("onset_mm3_per_s", "mm3/s", f"Commanded flow at which under-delivery begins: {WITH_95}",
             _interval(lambda r: r.onset)),
    Quantity("plateau_from_mm3_per_s", "mm3/s", "Commanded flow at which the plateau begins, or null.",
             _interval(lambda r: r.turn if r.reached else None)),
    Quantity("ceiling_mm3_per_s", "mm3/s", "Delivered flow of the plateau.", _interval(lambda r: r.ceiling)),
    Quantity("ceiling_reached", "", "Whether the samples reach the plateau; if not, the ceiling is a lower bound.",
             lambda r: r.reached),
    Quantity("ceiling_uncertainty_mm3_per_s", "mm3/s", "Standard uncertainty of the ceiling with the density's share.",
             lambda r: r.ceiling_uncertainty),
    Quantity("tolerated_mm3_per_s", "mm3/s", "Commanded flow at which the shortfall passes the tolerance.",
             _interval(lambda r: r.tolerated)),
    Quantity("gain", "", "Slope of the reference line.", _interval(lambda r: r.gain)),
    Quantity("gain_common_uncertainty", "", "Its standard uncertainty by density and diameter.", lambda r: r.common_gain),
    Quantity("scatter_percent", "%", "Scatter about the broken line.", lambda r: 100.0 * r.fitted.scatter),
    Quantity("weighing_percent", "%", "Scatter that the weighing explains.", lambda r: 100.0 * r.delivered.random_share),
    Quantity("density_g_per_cm3", "g/cm3", "Density and its standard uncertainty.",
             lambda r: [1e-3 * r.series.filament.density.value, 1e-3 * r.series.filament.density.tolerance]),
    Quantity("diameter_mm", "mm", "Diameter and its standard uncertainty.",
             lambda r: [1e3 * r.series.filament.diameter.value, 1e3 * r.series.filament.diameter.tolerance]),
    Quantity("left_out", "", "Rows left out: `line` and `reason`.",
             lambda r: [{"line": gone.line, "reason": gone.reason} for gone in r.series.left_out]),
    Quantity("samples", "", "Every sample: keys below.", lambda r: [flat(SAMPLE, each) for each in _samples(r)]),
)  # fmt: skip
COMPARED: tuple[Quantity[Compared], ...] = (
    Quantity("series", "", "The series.", lambda c: c.name),
    Quantity("against", "", "The series that it is held against.", lambda c: c.base),
    Quantity("change_mm3_per_s", "mm3/s", "Difference of the ceilings.", lambda c: c.change),
    Quantity("uncertainty_mm3_per_s", "mm3/s", "Its standard uncertainty.", lambda c: c.uncertainty),
    Quantity("p_ceiling", "", "Probability of such a difference by chance.", lambda c: c.p_ceiling),
    Quantity("p_curve", "", "The same for the whole curve.", lambda c: c.p_curve),
    Quantity("adjusted_p_ceiling", "", "`p_ceiling` with regard to the number of comparisons.", lambda c: c.adjusted_ceiling),
    Quantity("adjusted_p_curve", "", "`p_curve` likewise.", lambda c: c.adjusted_curve),
    Quantity("same_filament", "", "Whether both are of one filament.", lambda c: c.shared),
)  # fmt: skip
KEYS: tuple[Quantity[Reduction], ...] = (
    *head(FORM),
    Quantity("samples", "", "Name of the file of samples.", lambda r: r.samples.name),
    Quantity("comments", "", "Its comments.", lambda r: list(r.samples.comments)),
    Quantity("assumed", "", "What was assumed, as nothing else was said.", lambda r: list(r.samples.assumed)),
    Quantity("tolerance_percent", "%", "The shortfall that is accepted.", lambda r: 100.0 * r.tolerance),
    Quantity("resamples", "", "Resampled series behind intervals and tests.", lambda r: r.resamples),
    Quantity("seed", "", "Seed of everything random.", lambda r: r.seed),
    Quantity("series", "", "Every series: keys below.", lambda r: [nested(SERIES, each) for each in r.series]),
    Quantity("compared", "", "Every series against the first: keys below.",
             lambda r: [nested(COMPARED, each) for each in r.compared]),
)  # fmt: skip


def _samples(each: Reduced) -> Iterator[Sampled]:
    return ((each, place) for place in range(len(each.series.samples)))


def record(found: Reduction) -> dict[str, Any]:
    """The whole record; what does not exist is None."""
    return nested(KEYS, found)


def files(found: Reduction, folder: Path) -> Files:
    """What goes into `folder`; a table of ceilings where there is one to write."""
    rows = ([each.series.name, *flat(SAMPLE, sample).values()] for each in found.series for sample in _samples(each))
    return {
        PICTURE: reduction_figure(found),
        TABLE: delimited(["series", *(quantity.name for quantity in SAMPLE)], rows),
        CEILINGS: ceilings_text(found, folder),
        REPORT: page_html(page(found)),
        RECORD: as_json(record(found)),
    }


def ceilings_text(found: Reduction, folder: Path) -> str | None:
    """Rows of measured ceilings, for a file in `folder`; None where no series reached its ceiling and names its case."""
    usable = [each for each in found.series if each.reached and each.series.case]
    if not usable:
        return None
    own = list(dict.fromkeys(key for each in usable for key in each.series.overrides))
    rows = []
    for each in usable:
        note = f"reduced from {found.samples.name}, {counted(len(each.series.samples), 'sample')}"
        cells = [each.series.name, _case(each.series.case, found.samples, folder)]
        cells += [f"{each.ceiling.value:.5g}", f"{each.ceiling_uncertainty:.3g}", "", note]
        rows.append([*cells, *(each.series.overrides.get(key, "") for key in own)])
    headings = ["name", "case", "ceiling_mm3_per_s", "uncertainty_mm3_per_s", "calibrates", "note", *own]
    return sealed(delimited(headings, rows, found.samples.comments[:1]), COMMENT)


def _case(written: str, samples: SampleFile, folder: Path) -> str:
    """How `folder` calls the case file that the samples name, beside themselves or where the command runs."""
    for path in (samples.folder / written, Path(written)):
        if path.is_file():
            return os.path.relpath(path.resolve(), folder.resolve())
    return written


def page(found: Reduction) -> Page:
    """Everything about one file of samples."""
    samples = found.samples
    blocks: list[Block] = [
        Head(samples.file),
        _answer(found),
        *([Words("\n".join(samples.comments), quiet=True)] if samples.comments else []),
        Picture(
            lambda: reduction_figure(found), "Delivered over commanded flow, and the shortfall", "See the tables below."
        ),
        _ceilings(found),
        *map(_shortfalls, found.series),
    ]
    if found.compared:
        blocks.append(_differences(found.compared))
        if left := sentences(found)[MOST_LINES:]:
            blocks.append(Words("\n".join(left)))
    blocks.append(Warnings(tuple(remarks(found))))
    text = f"Intervals hold 95 %, from {found.resamples} resampled series (seed {found.seed}), without density and diameter."
    return Page((*blocks, Words(text)), "Weighed samples")


def _answer(found: Reduction) -> Answer:
    """Ceiling and onset of every series, and whether the series differ."""
    lines = []
    for each in found.series:
        reach = f" ({each.ceiling.low:.1f} to {each.ceiling.high:.1f})" if each.reached else ""
        ceiling = f"{'' if each.reached else 'above '}{each.ceiling.value:.1f}{reach}"
        told = [
            "it differs" if _differs(one) else "not told apart"
            for one in found.compared
            if one.name == each.series.name
        ]
        said = [f"ceiling {ceiling}, onset {each.onset.value:.1f} mm³/s", *told]
        lines.append(f"{each.series.name}: {'; '.join(said)}")
    return Answer("\n".join(lines[:MOST_LINES] + sentences(found)[:MOST_LINES]))


def _ceilings(found: Reduction) -> Grid:
    columns = words("series", "flow", "value [mm³/s]", "95 % [mm³/s]", "± by density or diameter [mm³/s]")
    rows = []
    for each in found.series:
        commanded, density = each.delivered.commanded_share, each.delivered.common_share
        intervals = [
            ("onset, commanded", each.onset, commanded),
            (f"{100 * found.tolerance:g} % short at, commanded", each.tolerated, commanded),
            ("ceiling, delivered", each.ceiling, density),
        ]
        for number, (what, interval, share) in enumerate(intervals):
            bound = interval is each.ceiling and not each.reached
            value = Cell(f"{'above ' if bound else ''}{interval.value:.2f}", style="strong")
            told = NONE if bound else f"{interval.low:.2f} to {interval.high:.2f}"
            rows.append(("" if number else each.series.name, what, value, told, f"{share * interval.value:.2f}"))
    return Grid("", columns, tuple(rows))


def _shortfalls(each: Reduced) -> Grid:
    """Means over the samples at one commanded flow; outliers are in them, and named below."""
    x, y, short = each.delivered.commanded, each.delivered.flow, each.shortfall
    rows = []
    for flow in sorted({round(float(value), 6) for value in x}):
        here = abs(x - flow) < 1e-5
        means = y[here].mean(), float(each.fitted.curve.delivered(x[here]).mean())
        mark = "outlier among them" if each.outliers[here].any() else ""
        numbers = (f"{flow:.2f}", f"{here.sum()}", *(f"{mean:.2f}" for mean in means))
        rows.append((*numbers, f"{100 * short[here].mean():.1f}", mark))
    titles = words("commanded [mm³/s]", "samples", "delivered [mm³/s]", "fitted [mm³/s]", "short by [%]", "")
    columns = (titles[0], Column("samples", side="number"), *titles[2:])
    slope = f"reference line {each.gain.value:.3f}, ± {each.common_gain:.3f} by density and diameter"
    return Grid(each.series.name, columns, tuple(rows), notes=(slope,))


def _differences(compared: tuple[Compared, ...]) -> Grid:
    titles = words("series", "against", "change [mm³/s]")
    columns = (*titles, Column("p, ceiling", side="number"), Column("p, curve", side="number"))
    rows = tuple(
        (
            each.name, each.base, f"{each.change:+.2f} ± {each.uncertainty:.2f}", f"{each.adjusted_ceiling:.3f}",
            f"{each.adjusted_curve:.3f}",
        )
        for each in compared
    )  # fmt: skip
    said = "p is the probability of such a difference by chance, with regard to the number of comparisons."
    return Grid("", columns, rows, notes=(said,))


def sentences(found: Reduction) -> list[str]:
    """Whether the series differ, in words."""
    return [_verdict(each) for each in found.compared]


def _differs(each: Compared) -> bool:
    return min(each.adjusted_ceiling, each.adjusted_curve) < ALIKE


def _verdict(each: Compared) -> str:
    parts = {"ceilings": each.adjusted_ceiling, "curves": each.adjusted_curve}
    differ = " and ".join(name for name, p in parts.items() if p < ALIKE)
    same = " and ".join(name for name, p in parts.items() if p >= ALIKE)
    said = [f"{differ} differ by more than chance would have it"] if differ else []
    said += (
        [f"the {same} are not told apart by these samples" if not differ else f"{same} are not told apart"]
        if same
        else []
    )
    text = f"{each.name} against {each.base}: {'; '.join(said)}."
    return (
        text if each.shared else f"{text} The filaments differ, and so may their true density, which no such test sees."
    )


def remarks(found: Reduction) -> list[str]:
    """What a reader of the numbers must know: ends not reached, outliers, rows left out, what was assumed."""
    texts = []
    for each in found.series:
        name = each.series.name
        if not each.reached:
            texts.append(
                f"{name}: the samples do not establish a plateau; the ceiling is a lower bound. Measure at higher flows."
            )
        for sample, z, mark in zip(each.series.samples, each.scores, each.outliers, strict=True):
            if mark:
                note = f", noted: {sample.note}" if sample.note else ""
                side = "above" if z > 0.0 else "below"
                lies = f"lies {abs(z):.1f} robust standard deviations {side} the line"
                texts.append(f"{name}: line {sample.line} {lies}{note}; it is kept, with little weight.")
        texts += [f"{name}: line {gone.line} is left out, {gone.reason}." for gone in each.series.left_out]
        if each.fitted.scatter > 2.0 * each.delivered.random_share:
            texts.append(
                f"{name}: samples scatter by {100 * each.fitted.scatter:.1f} %, the balance explains "
                f"{100 * each.delivered.random_share:.1f} %."
            )
        if abs(each.gain.value - 1.0) > 2.0 * (each.common_gain + each.gain.uncertainty):
            texts.append(
                f"{name}: the reference line is off by more than density and diameter explain. Check the feeder."
            )
    if found.samples.assumed:
        texts.append(f"Assumed, as nothing else was said: {'; '.join(found.samples.assumed)}.")
    return texts
