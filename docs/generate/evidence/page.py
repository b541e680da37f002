"""The page that lays the model against measured ceilings; run as a module it rewrites docs/validation.md and its pictures.

Data bases of weighings, or measured files, that are named behind it get a section of their own.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from jinja2 import Environment, StrictUndefined
from PIL import Image

from generate.evidence.claim import claim
from generate.evidence.cooling_study import SECONDS, ratios
from generate.evidence.figures import WORDS, slip_figure, variants_figure
from generate.evidence.findings import Findings, findings
from generate.evidence.force_study import BARE, EQUAL, LongNozzle, mean_error, slope_of
from generate.evidence.literature_study import CRITERIA, SLIP, Criterion, Slip
from generate.evidence.studies import PRACTICE, VARIANTS
from meltzone.cases.outputs.calibration_words import interval_words, verdicts
from meltzone.cases.outputs.figures import save
from meltzone.cases.outputs.grid import signed as signed_to
from meltzone.cases.outputs.validate_figure import validation_figure
from meltzone.cases.outputs.validation_words import factor_words, sentences
from meltzone.cases.studies.validation.measurements import load_measured
from meltzone.cases.studies.validation.outcome import CUBIC_MM, Validation

DOCS = Path(__file__).resolve().parents[2]
PAGE = DOCS / "validation.md"
IMAGES = DOCS / "images"
TEMPLATE = Path(__file__).with_name("validation.md.j2")
COLOURS = 128  # enough for a picture on a page, at a third of the size
PICTURES = {name: f"validation-{name}.png" for name in ("practice", "variants", "slip")}
GOALS = {"row": 7.0, "mean": 3.0, "fan": 2.0}  # [%], [%], [percentage points]


def page(found: Findings) -> str:
    """The whole page as Markdown."""
    made = Environment(trim_blocks=True, lstrip_blocks=True, undefined=StrictUndefined, keep_trailing_newline=True)
    made.filters["f"] = format
    functions = (
        signed,
        fan_misses,
        error,
        verdict,
        steadiest,
        interval_words,
        verdicts,
        sentences,
        factor_words,
        slope_of,
        mean_error,
        long_nozzle_open,
        claim,
        weighings,
    )
    text = made.from_string(TEMPLATE.read_text(encoding="utf-8")).render(
        found=found,
        labelled=[(variant.label, result) for variant, result in zip(VARIANTS, found.variants, strict=True)],
        slip_names=[row.name.removeprefix("slip at ") for row in load_measured(SLIP).rows],
        practice=PRACTICE,
        pictures=PICTURES,
        criteria={name: WORDS[name] for name in CRITERIA},
        goals=GOALS,
        bare=BARE,
        equal_flows=[CUBIC_MM * row.flow for row in load_measured(EQUAL).forces],
        cooling_seconds=SECONDS,
        cooling_ratios=ratios(SECONDS),
        **{each.__name__: each for each in functions},
    )
    return "\n".join(line.rstrip() for line in text.split("\n"))


def signed(value: float | None) -> str:
    """The value with its sign and one decimal, a dash for None."""
    return signed_to(value, 1)


def fan_misses(found: Validation) -> dict[str, float]:
    """What is missed of the changes by the fan alone [percentage points], by row."""
    pairs = ("short block, fan on", "long nozzle bare, fan on")
    return {change.row.row.name: change.miss or 0.0 for change in found.changes if change.row.row.name in pairs}


def error(found: Validation, name: str) -> str:
    """The error of the row of that name [%], with its sign."""
    return signed(next(row.error for row in found.rows if row.row.name == name))


def verdict(kept: bool) -> str:
    """Whether a goal is met, in a word."""
    return "met" if kept else "**missed**"


def long_nozzle_open(found: Sequence[LongNozzle]) -> str:
    """What the long nozzle's rows miss with the inputs as they are, and at best with any change, in words."""

    def span(row: LongNozzle) -> tuple[float, float]:
        sizes = [abs(error) for error in row.errors[1:] if error is not None]
        return min(sizes), max(sizes)

    given, best = span(found[0]), min(map(span, found), key=max)
    return (
        f"{given[0]:.0f} to {given[1]:.0f} % as it is, {best[0]:.0f} to {best[1]:.0f} % with the change that does most"
    )


def weighings(found: Sequence[Validation]) -> str:
    """The section of weighed series, with what their files say of them; empty where there are none."""
    curves = [(each, curve) for each in found for curve in each.curves]
    if not curves:
        return ""
    told = dict.fromkeys(comment for _, curve in curves for comment in curve.row.comments)
    rows = [
        f"| {curve.row.name} | {curve.row.case} | {each.measured.name} | {curve.samples.flow.size} | {curve.ceiling:.1f} | "
        f"{curve.mean_miss:.1f} |"
        for each, curve in curves
    ]
    head = [
        "| series | case | file | samples | ceiling predicted [mm³/s] | mean miss [%] |",
        "|---|---|---|---|---|---|",
    ]
    return "\n".join(["## Weighings", "", *(f"{comment}\n" for comment in told), *head, *rows, "", ""])


def steadiest(slips: Sequence[Slip], name: Criterion) -> Slip:
    """The length at which the criterion's temperature is nearest to constant."""
    return min(slips, key=lambda slip: slip.spread(name))


def write(found: Findings) -> None:
    """Rewrite the page and its pictures."""
    IMAGES.mkdir(exist_ok=True)
    labels = [variant.label for variant in VARIANTS]
    figures = {
        "practice": validation_figure(found.default),
        "variants": variants_figure(labels, found.variants),
        "slip": slip_figure(found.slips),
    }
    for name, figure in figures.items():
        path = IMAGES / PICTURES[name]
        save(figure, path)
        with Image.open(path) as picture:
            small = picture.convert("RGB").quantize(COLOURS)
        small.save(path, optimize=True)
    PAGE.write_text(page(found), encoding="utf-8")


if __name__ == "__main__":
    write(findings(lambda what: print(what, file=sys.stderr), sys.argv[1:]))
