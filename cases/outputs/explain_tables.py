"""What the terminal shows of an explanation: bottleneck, budget, drops, levers, numbers to know, interval."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.tables import HEADING, QUIET, cautions, plain_table, spaced, warnings
from meltzone.cases.studies.bottleneck import ordered
from meltzone.cases.studies.cautions import without_deference
from meltzone.cases.studies.explain import Explained, LeverEffect
from meltzone.cases.studies.interval import Contribution, Interval, Sampled
from meltzone.cases.studies.results import ZERO_CELSIUS
from meltzone.fem.explain import Explanation

BAR = 22  # characters for the whole ceiling, or for more than that
LEAST_SHARE = 5e-4  # shares that print as 0.0 % are left out
NO_TOLERANCE = "Inputs without a tolerance count as exact, and the model's own error is not in it."
RATING = "A stronger heater overheats faster when its control fails, and loads supply and wiring more."


def summary(explained: Explained) -> Group:
    """Everything about one explanation."""
    result = explained.result
    blocks: list[RenderableType | None] = [_head(explained)]
    if explained.explanation is not None:
        beside = Table.grid(padding=(0, 6))
        beside.add_row(_budget(explained.explanation), _drops(explained))
        blocks += [beside, _levers(explained.strongest("design"), "What one can build or set")]
        blocks.append(warnings(warmer(explained)))
        blocks.append(_levers(explained.strongest("data"), "What the number hangs on"))
    if explained.interval is not None:
        blocks.append(_interval(explained.interval))
    if explained.sampled is not None:
        blocks.append(_sampled(explained.sampled))
    blocks += [warnings([*result.warnings, *explained.notes]), cautions(result.cautions)]
    return spaced(blocks)


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


def _head(explained: Explained) -> Text:
    result = explained.result
    text = Text.assemble((result.title, HEADING), "\n", (result.case.file, QUIET), "\n\n")
    if result.flow_ceiling is not None:
        text.append("Flow ceiling ")
        text.append(f"{result.flow_ceiling:.1f} mm³/s", "bold green")
        text.append(f", {result.governs} governs\n")
    return text.append(explained.bottleneck)


def _budget(explanation: Explanation) -> Table:
    table = plain_table("what the ceiling rests on", "[%]", "", title="Budget")
    longest = max(1.0, *(abs(share) for share in explanation.budget.values()))
    for name, share in ordered(dict(explanation.budget)).items():
        if abs(share) >= LEAST_SHARE:
            bar = Text("█" * round(BAR * abs(share) / longest), "yellow" if share > 0.0 else "blue")
            table.add_row(name, f"{100.0 * share:.1f}", bar)
    table.add_row(Text("together", QUIET), f"{100.0 * sum(explanation.budget.values()):.1f}", "")
    return table


def _drops(explained: Explained) -> Table:
    explanation, result = explained.explanation, explained.result
    assert explanation is not None and result.sensor is not None
    table = plain_table("from sensor to core", "drop [K]", "[degC]", title="Temperatures")
    level = result.sensor
    table.add_row("sensor", "", f"{level:.1f}")
    for name, drop in explanation.drops.items():
        level -= drop
        table.add_row(name, f"{drop:.1f}", f"{level:.1f}")
    judged = explanation.adjoint.field.problem.materials.polymer.flow_temperature - ZERO_CELSIUS
    table.add_row(Text("flow temperature", QUIET), "", Text(f"{judged:.1f}", QUIET))
    return table


def _levers(effects: Sequence[LeverEffect], title: str) -> RenderableType | None:
    if not effects:
        return None
    table = plain_table("step", "of", "now", "ceiling [mm³/s]", "[%]", title=title)
    for effect in effects:
        style = "green" if effect.change > 0.0 else "red"
        table.add_row(
            effect.step, effect.words, effect.now, Text(f"{effect.change:+.2f}", style), f"{effect.percent:+.1f}"
        )
    return table


def _interval(interval: Interval) -> Group:
    low, high = interval.bounds
    lines = [
        f"Linear: {interval.centre:.2f} ± {interval.deviation:.2f} mm³/s (one standard deviation), 95 % from {low:.2f} to "
        f"{high:.2f} mm³/s",
        NO_TOLERANCE,
    ]
    if interval.contributions:
        first = interval.contributions[0]
        lines.insert(1, f"{first.key} contributes most: {100.0 * first.share:.0f} % of the variance.")
    if interval.other_within:
        lines.append("The other ceiling lies within it and may govern there, which only --samples sees.")
    lines += [f"{key} is left out: {why}." for key, why in interval.skipped.items()]
    return Group(Text("Interval from the tolerances given", HEADING), *lines, _contributions(interval.contributions))


def _sampled(sampled: Sampled) -> Group:
    solved = len(sampled.flows)
    lines = [f"{solved} of {sampled.asked} samples solved, each input normal and by itself (Latin hypercube)."]
    lines += [f"{count} without a ceiling: {reason}." for reason, count in sampled.failed.items()]
    if sampled.failed:
        lines.append("They are left out below, so the true spread is wider.")
    if solved >= 2:
        low, high = sampled.bounds
        lines.append(
            f"Mean {sampled.mean:.2f}, standard deviation {sampled.deviation:.2f} mm³/s; the middle 95 % of the samples lie "
            f"between {low:.2f} and {high:.2f} mm³/s."
        )
        if len(sampled.governed) > 1:
            counts = ", ".join(f"{limit} governs in {count}" for limit, count in sampled.governed.items())
            lines.append(f"Of these, {counts}.")
    if sampled.contributions:
        first = sampled.contributions[0]
        lines.append(f"{first.key} contributes most: {100.0 * first.share:.0f} % of the variance (first order).")
    return Group(Text("Sampled", HEADING), *lines, _contributions(sampled.contributions))


def _contributions(parts: Sequence[Contribution]) -> Table:
    table = plain_table("input", "tolerance", "for one deviation [mm³/s]", "variance [%]")
    for part in parts:
        table.add_row(part.key, part.words, f"{part.change:+.3f}", f"{100.0 * part.share:.1f}")
    return table
