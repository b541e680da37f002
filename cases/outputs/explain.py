"""What is shown and written of an explanation: bottleneck, budget, drops, levers, numbers to know, interval."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from meltzone.cases.outputs.explain_figure import explain_figure
from meltzone.cases.outputs.files import Files
from meltzone.cases.outputs.grid import Cell, Column, Grid, Row, signed_bars, words
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.page import (
    Answer,
    Beside,
    Block,
    Cautions,
    Head,
    Page,
    Picture,
    Section,
    Warnings,
    Words,
)
from meltzone.cases.outputs.printing import speeds
from meltzone.cases.outputs.quantities import as_json
from meltzone.cases.outputs.record_head import LAST, case_head, in_words, of_result
from meltzone.cases.outputs.result import answer, evidence, outside, width
from meltzone.cases.studies.bottleneck import bottleneck_brief, ordered
from meltzone.cases.studies.cautions import without_deference
from meltzone.cases.studies.explain import Explained, LeverEffect
from meltzone.cases.studies.interval import Contribution, Interval, Sampled
from meltzone.cases.studies.quantities import Quantity, nested, with_ends
from meltzone.cases.studies.result_quantities import PRINTING
from meltzone.materials.units import ZERO_CELSIUS

RECORD, PICTURE, REPORT = "explain.json", "explain.png", "report.html"
OURS = (RECORD, PICTURE, REPORT)
FORM = 1  # raised when a key changes its name, its unit or its meaning
BARS = Column("", side="bar")
LEAST_SHARE = 5e-4  # shares that print as 0.0 % are left out
GAINS = "[%] is what the ceiling gains where 1 % more of a conductance is there, times a hundred."
DROPS = (
    "[K] is what is spent on the way at the end of the melt zone. The two need not go together: where a drop falls away, more "
    "heat comes to the filament, and most of it drops there."
)
NO_TOLERANCE = "Inputs without a tolerance count as exact, and the model's own error is not in it."
RATING = "A stronger heater overheats faster when its control fails, and loads supply and wiring more."

LEVER: tuple[Quantity[LeverEffect], ...] = (
    Quantity("key", "", "Dotted key of the case.", lambda e: e.key),
    Quantity("words", "", "What it is called.", lambda e: e.words),
    Quantity("now", "", "Its value with its unit; empty for a property over temperature.", lambda e: e.now),
    Quantity("step", "", "The step taken, with its unit.", lambda e: e.step),
    Quantity("change_mm3_per_s", "mm3/s", "Change of the ceiling for the step.", lambda e: e.change),
    Quantity("change_percent", "%", "The same in percent of the ceiling.", lambda e: e.percent),
)
CONTRIBUTION: tuple[Quantity[Contribution], ...] = (
    Quantity("key", "", "Dotted key of the case.", lambda c: c.key),
    Quantity("tolerance", "", "Its tolerance as given.", lambda c: c.words),
    Quantity("change_for_one_deviation_mm3_per_s", "mm3/s", "Change of the ceiling for one standard deviation.",
             lambda c: c.change),
    Quantity("share_of_variance", "", "Share of the variance of the ceiling, from 0 to 1.", lambda c: c.share),
)  # fmt: skip
INTERVAL: tuple[Quantity[Interval], ...] = (
    Quantity("centre_mm3_per_s", "mm3/s", "The ceiling.", lambda i: i.centre),
    Quantity("deviation_mm3_per_s", "mm3/s", "Its standard deviation, linear.", lambda i: i.deviation),
    Quantity("low_95_mm3_per_s", "mm3/s", "Lower end of the interval that holds 95 %.", lambda i: i.bounds[0]),
    Quantity("high_95_mm3_per_s", "mm3/s", "Upper end.", lambda i: i.bounds[1]),
    Quantity("contributions", "", "What each input adds: keys below.", lambda i: _contributions(i.contributions)),
    Quantity("left_out", "", "Inputs that are left out, with the reason.", lambda i: dict(i.skipped)),
    Quantity("other_ceiling_within", "", "Whether the other ceiling lies within it and may govern there.",
             lambda i: i.other_within),
)  # fmt: skip
SAMPLES: tuple[Quantity[Sampled], ...] = (
    Quantity("asked", "", "Samples asked for.", lambda s: s.asked),
    Quantity("solved", "", "Samples with a ceiling.", lambda s: len(s.flows)),
    Quantity("failed", "", "Numbers of the others, by reason.", lambda s: dict(s.failed)),
    Quantity("governed", "", "How often each ceiling governs.", lambda s: dict(s.governed)),
    Quantity("mean_mm3_per_s", "mm3/s", "Mean; null with fewer than two.", lambda s: s.mean if _enough(s) else None),
    Quantity("deviation_mm3_per_s", "mm3/s", "Standard deviation.", lambda s: s.deviation if _enough(s) else None),
    Quantity("low_95_mm3_per_s", "mm3/s", "The middle 95 % begin here.", lambda s: _bounds(s)[0]),
    Quantity("high_95_mm3_per_s", "mm3/s", "The middle 95 % end here.", lambda s: _bounds(s)[1]),
    Quantity("contributions", "", "What each input adds, first order.", lambda s: _contributions(s.contributions)),
    Quantity("ceilings_mm3_per_s", "mm3/s", "Every ceiling found.", lambda s: s.flows.tolist()),
)  # fmt: skip
KEYS: tuple[Quantity[Explained], ...] = (
    *case_head(FORM, lambda e: e.result.case),
    Quantity("answer", "", "The outcome in a sentence.", lambda e: e.result.statement),
    Quantity("bottleneck", "", "What limits it, in a sentence.", lambda e: e.bottleneck),
    of_result("ceilings.governs", lambda e: e.result, "governs"),
    *with_ends(of_result("ceilings.flow_mm3_per_s", lambda e: e.result, "ceiling_mm3_per_s")),
    of_result("ceilings.widest", lambda e: e.result, "widest"),
    of_result("ceilings.narrowed_percent", lambda e: e.result, "narrowed_percent"),
    of_result("ceilings.outside", lambda e: e.result, "outside"),
    *(each.lifted(lambda e: e.result) for each in PRINTING),
    Quantity("budget_percent", "%", "By how much the ceiling rises if a conductance rises by one percent, times a hundred, by "
             "its name; null where there is no ceiling to explain.",
             lambda e: e.explanation and {k: 100.0 * v for k, v in ordered(dict(e.explanation.budget)).items()}),
    Quantity("drops_K", "K", "Temperature spent on the way from the sensor to the judged core.",
             lambda e: e.explanation and dict(e.explanation.drops)),
    Quantity("design_levers", "", "The strongest levers that one can build or set: keys below.",
             lambda e: [nested(LEVER, effect) for effect in e.strongest("design")]),
    Quantity("data_levers", "", "The strongest numbers that the ceiling hangs on.",
             lambda e: [nested(LEVER, effect) for effect in e.strongest("data")]),
    Quantity("interval", "", "From the tolerances in the case: keys below; null without any.",
             lambda e: e.interval and nested(INTERVAL, e.interval)),
    Quantity("samples", "", "From whole solves, with `--samples`: keys below.",
             lambda e: e.sampled and nested(SAMPLES, e.sampled)),
    Quantity("notes", "", "What a reader of the levers must know.", lambda e: list(e.notes)),
    Quantity("warnings", "", "What a reader of the numbers must know.", lambda e: list(e.result.warnings)),
    Quantity("cautions", "degC", "As in result.json.", lambda e: list(map(in_words, e.result.cautions))),
    Quantity("cautions_if_hotter", "degC", "Those that a setpoint higher by its step would add.",
             lambda e: list(map(in_words, e.hotter))),
    LAST,
)  # fmt: skip


def record(explained: Explained) -> dict[str, Any]:
    """The whole record; what does not exist is None."""
    return nested(KEYS, explained)


def files(explained: Explained, folder: Path) -> Files:
    """What goes into `folder`; the picture where there is a ceiling to explain."""
    return {
        PICTURE: None if explained.explanation is None else explain_figure(explained),
        REPORT: page_html(page(explained)),
        RECORD: as_json(record(explained)),
    }


def page(explained: Explained) -> Page:
    """Everything about one explanation."""
    result = explained.result
    blocks: list[Block] = [Head(result.title, result.case.file), outside([result]), _answer(explained), *speeds(result)]
    if result.band is not None:
        blocks.append(width(result.band))
    if explained.explanation is not None:
        blocks += [
            Picture(lambda: explain_figure(explained), "Budget, temperatures and levers", explained.bottleneck),
            Beside((budget(explained), drops(explained))),
            Words(f"{GAINS} {DROPS}", quiet=True),
            *levers(explained.strongest("design"), "What one can build or set"),
            Warnings(tuple(warmer(explained))),
            *levers(explained.strongest("data"), "What the number hangs on"),
        ]
    if explained.interval is not None:
        blocks += interval(explained.interval)
    if explained.sampled is not None:
        blocks += _sampled(explained.sampled)
    blocks += [evidence([result]), Warnings((*result.warnings, *explained.notes)), Cautions(tuple(result.cautions))]
    return Page(tuple(blocks), "What limits a hot end")


def _answer(explained: Explained) -> Answer:
    """The ceiling; the limit and the strongest lever in a line; what that means."""
    if explained.explanation is None:
        return answer(explained.result, explained.bottleneck)
    brief = bottleneck_brief(explained.explanation)
    strongest = explained.strongest("design")[:1]
    lever = [f"Strongest lever: {most.words} {most.step}, {most.percent:+.0f} %." for most in strongest]
    return answer(explained.result, "\n".join([" ".join([brief, *lever]), explained.bottleneck]))


def warmer(explained: Explained) -> list[str]:
    """What a hotter setpoint or a stronger heater would bring with it, where it is among the levers shown."""
    keys = {effect.key: effect for effect in explained.strongest("design")}
    texts = []
    if "heater.setpoint" in keys:
        step = keys["heater.setpoint"].step.removeprefix("+")
        texts += [f"at a setpoint {step} higher, {without_deference(found)}" for found in explained.hotter]
    if "heater.rating" in keys:
        texts.append(RATING)
    return texts


def budget(explained: Explained) -> Grid:
    """What the ceiling rests on."""
    assert explained.explanation is not None
    whole = dict(explained.explanation.budget)
    shares = {name: share for name, share in ordered(whole).items() if abs(share) >= LEAST_SHARE}
    bars = signed_bars([*shares.values()])
    rows: list[Row] = [(n, f"{100.0 * share:.1f}", bar) for (n, share), bar in zip(shares.items(), bars, strict=True)]
    rows.append((Cell("together", style="quiet"), f"{100.0 * sum(whole.values()):.1f}", ""))
    return Grid("Budget", (*words("what the ceiling rests on", "[%]"), BARS), tuple(rows))


def drops(explained: Explained) -> Grid:
    """The way of the temperature from the sensor to the judged core."""
    explanation, level = explained.explanation, explained.result.sensor
    assert explanation is not None and level is not None
    rows: list[Row] = [("sensor", "", f"{level:.1f}")]
    for name, drop in explanation.drops.items():
        level -= drop
        rows.append((name, f"{drop:.1f}", f"{level:.1f}"))
    judged = explanation.adjoint.field.problem.materials.polymer.flow_temperature - ZERO_CELSIUS
    rows.append((Cell("flow temperature", style="quiet"), "", Cell(f"{judged:.1f}", style="quiet")))
    return Grid("Temperatures", words("from sensor to core", "drop [K]", "[degC]"), tuple(rows))


def levers(effects: Sequence[LeverEffect], caption: str) -> list[Grid]:
    """What natural steps of the inputs would do, the strongest first; nothing where there are none."""
    rows = tuple(
        (
            e.step,
            e.words,
            e.now,
            Cell(f"{e.change:+.2f}", style="good" if e.change > 0.0 else "bad"),
            f"{e.percent:+.1f}",
        )
        for e in effects
    )
    return [Grid(caption, words("step", "of", "now", "ceiling [mm³/s]", "[%]"), rows)] if rows else []


def interval(found: Interval) -> list[Block]:
    """The linear interval in words, and what each input with a tolerance adds to it."""
    low, high = found.bounds
    lines = [
        f"Linear: {found.centre:.2f} ± {found.deviation:.2f} mm³/s (one standard deviation), 95 % from {low:.2f} to "
        f"{high:.2f} mm³/s",
        *_strongest(found.contributions, ""),
        NO_TOLERANCE,
    ]
    if found.other_within:
        lines.append("The other ceiling lies within it and may govern there, which only --samples sees.")
    lines += [f"{key} is left out: {why}." for key, why in found.skipped.items()]
    return [
        Section("Interval from the tolerances given", "Interval"),
        Words("\n".join(lines)),
        _table(found.contributions),
    ]


def _sampled(sampled: Sampled) -> list[Block]:
    solved = len(sampled.flows)
    lines = [f"{solved} of {sampled.asked} samples solved, each input normal and by itself (Latin hypercube)."]
    lines += [f"{count} without a ceiling: {reason}." for reason, count in sampled.failed.items()]
    if sampled.failed:
        lines.append("They are left out below, so the true spread is wider.")
    if _enough(sampled):
        low, high = sampled.bounds
        lines.append(
            f"Mean {sampled.mean:.2f}, standard deviation {sampled.deviation:.2f} mm³/s; the middle 95 % of the samples lie "
            f"between {low:.2f} and {high:.2f} mm³/s."
        )
        if len(sampled.governed) > 1:
            counts = ", ".join(f"{limit} governs in {count}" for limit, count in sampled.governed.items())
            lines.append(f"Of these, {counts}.")
    lines += _strongest(sampled.contributions, " (first order)")
    return [Section("Sampled"), Words("\n".join(lines)), _table(sampled.contributions)]


def _strongest(parts: Sequence[Contribution], how: str) -> list[str]:
    return [f"{each.key} contributes most: {100.0 * each.share:.0f} % of the variance{how}." for each in parts[:1]]


def _table(parts: Sequence[Contribution]) -> Grid:
    rows = tuple((each.key, each.words, f"{each.change:+.3f}", f"{100.0 * each.share:.1f}") for each in parts)
    return Grid("", words("input", "tolerance", "for one deviation [mm³/s]", "variance [%]"), rows)


def _contributions(parts: Sequence[Contribution]) -> list[dict[str, Any]]:
    return [nested(CONTRIBUTION, part) for part in parts]


def _enough(sampled: Sampled) -> bool:
    return len(sampled.flows) >= 2


def _bounds(sampled: Sampled) -> tuple[float | None, float | None]:
    return sampled.bounds if _enough(sampled) else (None, None)
