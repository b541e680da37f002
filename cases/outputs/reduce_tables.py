"""What the terminal shows of a reduction: onset, ceiling and tolerated flow of each series, outliers, differences."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.tables import HEADING, NONE, QUIET, plain_table, spaced, warnings
from meltzone.cases.studies.bench.reduce import Compared, Reduced, Reduction

ALIKE = 0.05  # probability below which a difference is called one


def summary(found: Reduction) -> Group:
    """Everything about one file of samples."""
    samples = found.samples
    head = Text.assemble((samples.file, HEADING))
    for comment in samples.comments:
        head.append(f"\n{comment}", QUIET)
    blocks: list[RenderableType | None] = [head, _ceilings(found), *(_shortfalls(each) for each in found.series)]
    if found.compared:
        blocks += [_differences(found.compared), Text("\n".join(sentences(found)))]
    blocks.append(warnings(remarks(found)))
    blocks.append(
        Text(
            f"Intervals hold 95 %, from {found.resamples} resampled series (seed {found.seed}), without density and diameter."
        )
    )
    return spaced(blocks)


def _ceilings(found: Reduction) -> Table:
    table = plain_table("series", "", "[mm³/s]", "95 %\n[mm³/s]", "density, diameter\n[± mm³/s]")
    table.columns[0].overflow = "fold"
    for each in found.series:
        commanded, density = each.delivered.commanded_share, each.delivered.common_share
        rows = [
            ("onset, commanded", each.onset, commanded),
            (f"{100 * found.tolerance:g} % short at, commanded", each.tolerated, commanded),
            ("ceiling, delivered", each.ceiling, density),
        ]
        for number, (what, interval, share) in enumerate(rows):
            bound = interval is each.ceiling and not each.reached
            value = Text(f"{'above ' if bound else ''}{interval.value:.2f}", "bold")
            told = NONE if bound else f"{interval.low:.2f} to {interval.high:.2f}"
            table.add_row("" if number else each.series.name, what, value, told, f"{share * interval.value:.2f}")
        table.add_section()
    return table


def _shortfalls(each: Reduced) -> Table:
    """Means over the samples at one commanded flow; outliers are in them, and named below."""
    gain, common = each.gain, each.common_gain
    title = f"{each.series.name}\nreference line {gain.value:.3f}, ± {common:.3f} by density and diameter"
    table = plain_table(
        "commanded\n[mm³/s]", "samples\n[-]", "delivered\n[mm³/s]", "fitted\n[mm³/s]", "short by\n[%]", "", title=title
    )
    x, y, short = each.delivered.commanded, each.delivered.flow, each.shortfall
    for flow in sorted({round(float(value), 6) for value in x}):
        here = abs(x - flow) < 1e-5
        fitted = float(each.fitted.curve.delivered(x[here]).mean())
        mark = "outlier among them" if each.outliers[here].any() else ""
        table.add_row(
            f"{flow:.2f}",
            f"{here.sum()}",
            f"{y[here].mean():.2f}",
            f"{fitted:.2f}",
            f"{100 * short[here].mean():.1f}",
            mark,
        )
    return table


def _differences(compared: tuple[Compared, ...]) -> Table:
    table = plain_table("series", "against", "change\n[mm³/s]", "p, ceiling [-]", "p, curve [-]")
    for each in compared:
        change = f"{each.change:+.2f} ± {each.uncertainty:.2f}"
        table.add_row(each.name, each.base, change, f"{each.adjusted_ceiling:.3f}", f"{each.adjusted_curve:.3f}")
    return table


def sentences(found: Reduction) -> list[str]:
    """Whether the series differ, in words."""
    return [_verdict(each) for each in found.compared]


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
                texts.append(
                    f"{name}: line {sample.line} lies off by robust z {z:+.1f}{note}; it is kept, with little weight."
                )
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
