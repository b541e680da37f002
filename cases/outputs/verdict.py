"""An outcome in a sentence or two: which variant comes first, which differences are real, what the fan costs."""

from __future__ import annotations

from collections.abc import Sequence

from meltzone.cases.inputs.printed_line import short_words
from meltzone.cases.outputs.grid import within
from meltzone.cases.outputs.page import Answer
from meltzone.cases.outputs.result import answer, flow_words, gained
from meltzone.cases.studies.bands.gain import GainBand, Judgement, gain_band
from meltzone.cases.studies.compare import Comparison, Variant
from meltzone.cases.studies.printing import lines_of_all, speed_at, working_flow
from meltzone.cases.studies.results import Result

BEHIND: dict[Judgement, str] = {
    "open": "{names} may be as good: the bands of the differences reach to both sides of zero.",
    "less": "Less: {names}.",
}
NOTICED = 3.0  # [%] from here on what the fan costs is told by name


def ranked(results: Sequence[Result]) -> Answer:
    """The first of several results and what its lead is worth; of one result, its answer."""
    if len(results) == 1:
        return answer(results[0])
    able = sorted((r for r in results if r.flow_ceiling), key=lambda r: -(r.flow_ceiling or 0.0))
    if not able:
        return Answer("No variant melts anything.", "No variant", good=False)
    best, first = able[0], results[0]
    ahead, others = [best], {word: list[str]() for word in BEHIND}
    for each in able[1:]:
        band = gain_band(each.band, best.band)
        judged = band.judged if band is not None else "less"
        if judged == "tie":
            ahead.append(each)
        else:
            others[judged].append(f"{each.case.name} {_gain(each, best, band)}" if judged == "less" else each.case.name)
    names = [each.case.name for each in ahead]
    strong = f"{' and '.join(filter(None, [', '.join(names[:-1]), names[-1]]))} first"
    alike = ", no difference that could be measured between them" if len(ahead) > 1 else ""
    lead = _gain(best, first, gain_band(best.band, first.band))
    gain = "" if first in ahead or not lead else f", {lead} on {first.case.name}"
    told = [f"{strong}{alike}: {_flow(best)}{gain}."]
    told += [text.format(names=", ".join(others[word])) for word, text in BEHIND.items() if others[word]]
    melting_nothing = [r.case.name for r in results if not r.flow_ceiling]
    if melting_nothing:
        told.append(f"No ceiling: {', '.join(melting_nothing)}.")
    return Answer(" ".join(told), strong)


def verdict(comparison: Comparison) -> Answer:
    """The outcome of a comparison, with what the fan costs and how fast lines may be printed."""
    results = [variant.result for variant in comparison.variants]
    said, alone = ranked(results), len(results) == 1
    more = " ".join(filter(None, [_fan(comparison.variants), *([] if alone else _speeds(results)), *_time(comparison)]))
    lead, _, rest = said.text.partition("\n") if alone else (said.text, "", "")
    return Answer("\n".join(filter(None, [lead, more, rest])), said.strong, said.good)


def _flow(result: Result) -> str:
    flow, _ = flow_words(result)
    return flow if result.band is None else f"{flow} ({within(result.band.value, *result.band.bounds)[1]})"


def _gain(result: Result, other: Result, band: GainBand | None) -> str:
    gain = result.gain_on(other)
    return "" if gain is None else gained(gain, band, " %")


def _fan(variants: Sequence[Variant]) -> str:
    costs = sorted(((-v.fan_change, v.name) for v in variants if v.fan_change is not None), reverse=True)
    if not costs:
        return ""
    (most, name), others = costs[0], costs[1:]
    if most < NOTICED:
        return f"The fan costs {f'none of them more than {most:.1f}' if others else f'it {most:.1f}'} %."
    rest = f", the others at most {max(others[0][0], 0.0):.1f} %" if others else ""
    return f"The fan costs {name} {most:.1f} %{rest}."


def _speeds(results: Sequence[Result]) -> list[str]:
    """How fast the lines of the cases may be printed at the flows to use."""
    return [
        f"{short_words(line)}: "
        + ", ".join(f"{r.case.name} {speed:.0f}" for r in results if (speed := speed_at(working_flow(r), line)))
        + " mm/s to use."
        for line in lines_of_all(results)
    ]


def _time(comparison: Comparison) -> list[str]:
    timed = [variant for variant in comparison.variants if variant.time is not None]
    if not timed or comparison.volume is None:
        return []
    best = min(timed, key=lambda v: v.time.minutes if v.time else 0.0)
    assert best.time is not None
    saved = "" if not best.time.saved else f", {best.time.saved:.0f} min less than {comparison.variants[0].name}"
    return [f"{comparison.volume / 1000.0:.3g} cm³ take {best.name} {best.time.minutes:.0f} min{saved}."]
