"""What is shown and written of a print trial: its stretches, the program, the print read back beside prediction and bench."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from meltzone.cases.outputs.delimited import delimited
from meltzone.cases.outputs.files import Files
from meltzone.cases.outputs.grid import NONE, Grid, number, words
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.page import Answer, Block, Cautions, Head, Page, Picture, Warnings, Words
from meltzone.cases.outputs.program import NEVER_ALONE, program_text
from meltzone.cases.outputs.quantities import as_json, flat, nested
from meltzone.cases.outputs.record_head import LAST, case_head, of_result
from meltzone.cases.outputs.trial_figure import trial_figure
from meltzone.cases.studies.bands.band import Band
from meltzone.cases.studies.bench.rows import CeilingRow
from meltzone.cases.studies.machine.ring import LIFTED, Stretch
from meltzone.cases.studies.machine.trial import Printed, Trial, reasons
from meltzone.cases.studies.quantities import Quantity
from meltzone.cases.studies.results import CUBIC_MM

RECORD, PROGRAM, TABLE, PICTURE, REPORT = "trial.json", "trial.gcode", "trial.csv", "trial.png", "report.html"
OURS = (RECORD, PROGRAM, TABLE, PICTURE, REPORT)
FORM = 1  # raised when a key changes its name, its unit or its meaning
MM = 1e3

STRETCH: tuple[Quantity[Stretch], ...] = (
    Quantity("number", "", "Its number, from below.", lambda s: s.number),
    Quantity("flow_mm3_per_s", "mm3/s", "Commanded flow.", lambda s: CUBIC_MM * s.flow),
    Quantity("speed_mm_per_s", "mm/s", "Print speed.", lambda s: MM * s.speed),
    Quantity("bottom_mm", "mm", "Where it begins above the bed.", lambda s: MM * s.bottom),
    Quantity("top_mm", "mm", "Where it ends.", lambda s: MM * s.top),
    Quantity("turns", "", "Whole turns.", lambda s: s.turns),
    Quantity("time_s", "s", "Time of all of it.", lambda s: s.time),
    Quantity("ramp_s", "s", "Of that the speed rises.", lambda s: s.ramp),
)
PRINTED: tuple[Quantity[Printed], ...] = (
    Quantity("low_mm3_per_s", "mm3/s", "Highest flow that held, or null.", lambda p: p.low),
    Quantity("high_mm3_per_s", "mm3/s", "First flow that failed, or null.", lambda p: p.high),
    Quantity("ceiling_mm3_per_s", "mm3/s", "Between them, or null.", lambda p: p.value),
    Quantity("uncertainty_mm3_per_s", "mm3/s", "Its standard uncertainty, or null.", lambda p: p.uncertainty),
)
KEYS: tuple[Quantity[Trial], ...] = (
    *case_head(FORM, lambda t: t.result.case),
    of_result("ceilings.flow_mm3_per_s", lambda t: t.result, "predicted"),
    Quantity("line", "mm", "Height and width of the printed line.", lambda t: [MM * t.line.height, MM * t.line.width]),
    Quantity("diameter_mm", "mm", "Diameter of the ring.", lambda t: 2.0 * MM * t.asked.motion.radius),
    Quantity("highest_speed_mm_per_s", "mm/s", "What the machine reaches on it.", lambda t: MM * t.asked.motion.reached),
    Quantity("stretches", "", "Every stretch: keys below.", lambda t: [flat(STRETCH, each) for each in t.stretches]),
    Quantity("left_out_mm3_per_s", "mm3/s", "Flows that the machine does not reach.",
             lambda t: [CUBIC_MM * flow for flow in t.left_out]),
    Quantity("printed", "", "The print read back: keys below; null before.",
             lambda t: t.printed and nested(PRINTED, t.printed)),
    Quantity("lasts_s", "s", "How long the melt zone's store holds the flow that failed, out of one below the ceiling; null "
             "where that is not asked or has no end.", lambda t: t.lasts),
    Quantity("other_fan_mm3_per_s", "mm3/s", "Predicted ceiling with the fan turned over; null before a print.",
             lambda t: t.other_fan),
    LAST,
)  # fmt: skip


def record(found: Trial) -> dict[str, Any]:
    """The whole record; what does not exist is None."""
    return nested(KEYS, found)


def files(found: Trial, folder: Path) -> Files:
    """What goes into `folder`: the program and its drawing with the record, the table and the page."""
    return {
        PICTURE: trial_figure(found),
        PROGRAM: _program(found),
        TABLE: delimited(
            [each.path for each in STRETCH], ([*flat(STRETCH, each).values()] for each in found.stretches)
        ),
        REPORT: page_html(page(found)),
        RECORD: as_json(record(found)),
    }


def _program(found: Trial) -> str:
    motion, result = found.asked.motion, found.result
    x, y = (MM * side for side in motion.bed)
    fastest = max(each.speed for each in found.stretches)
    true = (
        f"All axes are homed: X0 Y0 is the front left corner of a bed of {x:.0f} x {y:.0f} mm, Z0 the nozzle on the bed.",
        f"The bed is clear, level and at its temperature, set by hand; the way up to {MM * LIFTED:.0f} mm and across is free.",
        f"The nozzle prints lines of {MM * found.line.height:g} x {MM * found.line.width:g} mm; the filament is the case's.",
        f"The axes reach {MM * fastest:.0f} mm/s with {MM * motion.acceleration:.0f} mm/s2.",
        f"The part-cooling fan {'is fitted, and runs in full' if found.fan else 'is off throughout'}.",
        "Stop it when the feeder grinds or the wall tears off: what follows is of no use.",
    )
    title = (
        f"Print trial: ring of {2.0 * MM * motion.radius:.0f} mm in {len(found.stretches)} stretches, predicted ceiling "
        f"{result.flow_ceiling:.1f} mm3/s: {result.title}"
    )
    return program_text(title, true, result, found.limits, found.lines)


def page(found: Trial) -> Page:
    """The stretches; with a print read back, its ceiling beside the others, and why they differ."""
    result = found.result
    strong = f"{result.flow_ceiling:.1f} mm³/s"
    blocks: list[Block] = [
        Head(result.title, result.case.file),
        Answer(f"Predicted ceiling {strong}, {result.governs} governs", strong),
        Picture(lambda: trial_figure(found), "The ring, flow by flow", "See the table below."),
    ]
    if found.printed is not None:
        blocks += [_beside(found, found.printed), Words("\n".join(reasons(found)))]
    blocks += [_stretches(found), Words("\n".join(_words(found)))]
    blocks += [
        Warnings((NEVER_ALONE, "The print and the nozzle burn; the bed too. Wait until all is cold."), "machine")
    ]
    return Page((*blocks, Cautions(tuple(result.cautions))), "Print trial of a hot end")


def _stretches(found: Trial) -> Grid:
    columns = words("stretch", "flow [mm³/s]", "speed [mm/s]", "height from [mm]", "to [mm]", "time [s]", "")
    rows = tuple(
        (
            str(each.number), f"{CUBIC_MM * each.flow:.2f}", f"{MM * each.speed:.1f}", f"{MM * each.bottom:.1f}",
            f"{MM * each.top:.1f}", f"{each.time:.0f}", "first failed" if each is found.first_failed else "",
        )
        for each in found.stretches
    )  # fmt: skip
    return Grid("", columns, rows)


def _words(found: Trial) -> list[str]:
    motion = found.asked.motion
    limit = "its fastest" if motion.reached == motion.fastest else "by its acceleration (v² / r)"
    said = [
        f"A ring of {2.0 * MM * motion.radius:.0f} mm, {MM * found.stretches[-1].top:.0f} mm high, "
        f"{found.duration / 60.0:.0f} min; the machine reaches {MM * motion.reached:.0f} mm/s on it, {limit}."
    ]
    if found.left_out:
        left = f"{CUBIC_MM * found.left_out[0]:.2f} to {CUBIC_MM * found.left_out[-1]:.2f} mm³/s"
        said.append(f"Left out, as the machine does not reach the speed: {len(found.left_out)} steps, {left}.")
    if found.printed is None:
        said.append(
            "Then look along the wall, and measure its thickness: the first stretch that is thinner, rough or torn has failed. "
            "Read it back with --failed NUMBER, or --failed none."
        )
    return said


def _beside(found: Trial, printed: Printed) -> Grid:
    columns = words("ceiling", "[mm³/s]", "from [mm³/s]", "to [mm³/s]")
    value, spread = printed.value, printed.uncertainty
    middle = f"{value:.2f} ± {spread:.2f}" if value is not None and spread is not None else NONE
    rows = [
        ("printed", middle, number(printed.low, 2), number(printed.high, 2)),
        ("predicted", f"{found.result.flow_ceiling:.2f}", *_ends(found.result.band)),
        *(_of_bench(row) for row in found.asked.bench),
    ]
    return Grid("", columns, tuple(rows))


def _ends(band: Band | None) -> tuple[str, str]:
    return (NONE, NONE) if band is None else (f"{band.low:.1f}", f"{band.high:.1f}")


def _of_bench(row: CeilingRow) -> tuple[str, str, str, str]:
    ceiling, spread = CUBIC_MM * row.ceiling, CUBIC_MM * row.uncertainty
    return (
        f"bench: {row.name}",
        f"{ceiling:.2f} ± {spread:.2f}",
        f"{ceiling - 2 * spread:.2f}",
        f"{ceiling + 2 * spread:.2f}",
    )
