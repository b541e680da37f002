"""What is shown and written of a comparison: one column a case, the numbers grouped, the limits part by part."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from meltzone.cases.outputs.compare_figure import compare_alt, compare_figure
from meltzone.cases.outputs.delimited import delimited
from meltzone.cases.outputs.files import Files, write_table
from meltzone.cases.outputs.grid import NONE, Cell, Column, Grid, Row, number, signed
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.page import Block, Cautions, Head, Page, Picture, Warnings, hottest
from meltzone.cases.outputs.printing import MARGIN
from meltzone.cases.outputs.quantities import (
    Quantity,
    as_json,
    by_quantity,
    chosen,
    flat,
    named,
    present,
    rounded,
    shown,
)
from meltzone.cases.outputs.record_head import in_words, of_result
from meltzone.cases.outputs.result import GAIN, evidence, gained, outside, remarks
from meltzone.cases.outputs.verdict import verdict
from meltzone.cases.studies.cautions import Margin
from meltzone.cases.studies.compare import Comparison, Variant
from meltzone.cases.studies.printing import lines_of_all
from meltzone.cases.studies.quantities import with_ends
from meltzone.cases.studies.result_quantities import COMPARED, DEGRADATION, OOZE, PRINTING, by_line, shown_in
from meltzone.cases.studies.versions import versions
from meltzone.fem.residence import Residence
from meltzone.materials.limits import DEFERENCE, Finding
from meltzone.materials.units import ZERO_CELSIUS

FORM = 1  # raised when a key changes its name, its unit or its meaning
RECORD, TABLE, PICTURE, REPORT = "compare.json", "compare.csv", "compare.png", "report.html"
OURS = (RECORD, TABLE, PICTURE, REPORT)
FLOW = "working_flow_mm3_per_s"


def _time(read: Callable[[Residence], float]) -> Callable[[Variant], float | None]:
    return lambda variant: None if variant.residence is None else read(variant.residence)


def _of_result(path: str, name: str = "") -> Quantity[Variant]:
    return of_result(path, lambda variant: variant.result, name or path.rpartition(".")[2])


# Those that stand in comparisons by their own declaration: the ceilings, and further ones
CEILINGS, FURTHER = (
    [_of_result(each.path) for each in shown_in(COMPARED) if each.path.startswith("ceilings.") is ceilings]
    for ceilings in (True, False)
)
KEYS: tuple[Quantity[Variant], ...] = (
    Quantity("case", "", "Name of the case.", lambda v: v.name),
    Quantity("title", "", "Its title.", lambda v: v.result.case.model.title),
    _of_result("ceilings.governs"),
    *with_ends(_of_result("ceilings.flow_mm3_per_s", "ceiling_mm3_per_s")),
    _of_result("ceilings.outside"),
    *with_ends(Quantity("gain_percent", "%", "Ceiling over that of the first case, less one; empty for the first. What both "
        "cases share cancels in its band.", lambda v: v.gain, GAIN, band=lambda v: v.interval)),
    Quantity("gain_judged", "", '"more", "less", "tie" where no difference could be measured, "open" where the band reaches '
        "far to both sides of zero.", lambda v: v.gained and v.gained.judged),
    *CEILINGS,
    *(_of_result(each.path) for each in PRINTING),
    Quantity("print_time_min", "min", "Time to extrude the volume asked for at the flow to use.",
        lambda v: v.time and v.time.minutes, "time at the flow to use", 0),
    Quantity("time_saved_min", "min", "The same of the first case, less it; empty for the first.",
        lambda v: v.time and v.time.saved, "time saved on the first", 0),
    _of_result("state.heater_power_W"),
    _of_result("state.heater_rating_W"),
    _of_result("setpoint_degC"),
    _of_result("melt_zone_mm"),
    Quantity("wall_hottest_degC", "degC", "Hottest point of the bore wall from the block's upper face to the capillary, at the "
        "ceiling.", lambda v: v.wall and v.wall[1], "bore wall, hottest"),
    Quantity("wall_coolest_degC", "degC", "Coolest point of it.", lambda v: v.wall and v.wall[0], "bore wall, coolest"),
    _of_result("state.temperature_tip_degC", "tip_degC"),
    *FURTHER,
    Quantity("fan", "", "Whether the case has the part-cooling jet on.", lambda v: v.fan),
    Quantity("other_fan_ceiling_mm3_per_s", "mm3/s", "Ceiling with the jet the other way round.", lambda v: v.other_fan),
    Quantity("fan_change_percent", "%", "Ceiling with the jet over the ceiling without, less one.", lambda v: v.fan_change,
        "fan, on against off"),
    Quantity("hot_volume_mm3", "mm3", "Polymer above its flow temperature, at the working flow.", lambda v: v.hot_volume,
        "polymer above flow temp."),
    Quantity("soft_volume_mm3", "mm3", "Polymer above its softening temperature, at the working flow.",
        lambda v: v.soft_volume, "polymer above softening"),
    Quantity("hot_time_s", "s", "Mean time above the flow temperature, at the working flow.", _time(lambda r: r.hot_time),
        "time above flow temp."),
    Quantity("zone_time_s", "s", "Mean time in the melt zone, at the working flow.", _time(lambda r: r.zone_time),
        "time in the melt zone"),
    Quantity("core_time_s", "s", "Time in the melt zone of the innermost twentieth of the flow.",
        _time(lambda r: r.core_time), "- innermost 5 % of the flow"),
    Quantity("wall_time_s", "s", "Time in the melt zone of the outermost twentieth of the flow.",
        _time(lambda r: r.wall_time), "- outermost 5 %"),
    *(each.lifted(lambda v: v.ooze, each.name) for each in OOZE),
    *(each.lifted(lambda v: v.degradation, each.name) for each in DEGRADATION),
    _of_result("safety.stuck_on_sensor_degC", "stuck_on_sensor_degC"),
    Quantity("beyond_limits_at_ceiling", "", "Parts that their material's card warns of or refuses at the ceiling.",
        lambda v: _beyond(v.margins)),
    Quantity("beyond_limits_stuck_on", "", "The same with the heater stuck on.", lambda v: _beyond(v.margins_stuck)),
)  # fmt: skip
AT_CEILING = (
    "governs", *(each.path for each in CEILINGS), "heater_power_W", "wall_hottest_degC", "wall_coolest_degC", "tip_degC",
    *(each.path for each in FURTHER),
)  # fmt: skip
AT_WORK = (
    "hot_volume_mm3", "soft_volume_mm3", "hot_time_s", "zone_time_s", "core_time_s", "wall_time_s",
    *(each.name for each in DEGRADATION), *(each.name for each in OOZE if each.heading),
)  # fmt: skip
STUCK = ("heater_rating_W", "stuck_on_sensor_degC")


def _beyond(margins: tuple[Margin, ...]) -> list[str]:
    return [margin.part for margin in margins if margin.severity is not None]


def record(comparison: Comparison) -> dict[str, Any]:
    """The whole comparison as plain types; every case with the keys above, its limits part by part, and its cautions."""
    return {
        "form": FORM,
        "versions": versions(),
        FLOW: rounded(comparison.flow),
        "working_flow_chosen": comparison.chosen,
        "cases": [_case(variant) for variant in comparison.variants],
        "deference": DEFERENCE,
    }


def _case(variant: Variant) -> dict[str, Any]:
    heed = [in_words(finding) for finding in variant.result.safety]
    return flat(KEYS, variant) | {"limits": rounded(limits_of(variant)), "cautions": rounded(heed)}


def limits_of(variant: Variant) -> dict[str, dict[str, Any]]:
    """Every part: its material, the material's limit, its hottest point at the ceiling and with the heater stuck on [degC]."""
    stuck = {margin.part: margin for margin in variant.margins_stuck}
    found = {}
    for margin in variant.margins:
        worst = stuck.get(margin.part)
        found[margin.part] = {
            "material": margin.material,
            "limit_degC": None if margin.limit is None else margin.limit - ZERO_CELSIUS,
            "hottest_at_ceiling_degC": margin.temperature - ZERO_CELSIUS,
            "severity_at_ceiling": margin.severity,
            "hottest_stuck_on_degC": None if worst is None else worst.temperature - ZERO_CELSIUS,
            "severity_stuck_on": None if worst is None else worst.severity,
        }
    return found


def as_csv(comparison: Comparison) -> str:
    """One row a case under a header of the keys, the working flow last."""
    rows = [[*flat(KEYS, variant).values(), comparison.flow] for variant in comparison.variants]
    return delimited([*(key.name for key in KEYS), FLOW], rows)


def files(comparison: Comparison, folder: Path) -> Files:
    """The files of a comparison by their names, for `folder`."""
    return {
        RECORD: as_json(record(comparison)),
        TABLE: as_csv(comparison),
        PICTURE: compare_figure(comparison),
        REPORT: page_html(page(comparison)),
    }


def write_csv(comparison: Comparison, path: Path, reads: Iterable[Path] = ()) -> None:
    """Write the table of `comparison` to `path`; raises CaseError where that cannot be done."""
    write_table(path, as_csv(comparison), reads)


def page(comparison: Comparison) -> Page:
    """Everything about a comparison."""
    variants = comparison.variants
    findings = hottest(found for variant in variants for found in variant.result.cautions)
    notes = tuple(f"{v.name}: {text}" for v in variants for text in _remarks(v))
    picture = Picture(
        lambda: compare_figure(comparison),
        "Ceilings, polymer held hot, and the heater stuck on",
        compare_alt(comparison),
    )
    blocks: list[Block] = [
        Head("Variants side by side"),
        outside([variant.result for variant in variants]),
        verdict(comparison),
        _numbers(comparison),
        picture,
        _limits(variants),
        evidence([variant.result for variant in variants]),
        Warnings(notes),
    ]
    return Page((*blocks, Cautions((*findings, *_assembly(variants)))), "comparison")


def _numbers(comparison: Comparison) -> Grid:
    variants = [(variant.name, variant) for variant in comparison.variants]
    at_ceiling = by_quantity("", present(chosen(KEYS, *AT_CEILING), comparison.variants), variants)
    ceiling, gain, fan = chosen(KEYS, "ceiling_mm3_per_s", "gain_percent", "fan_change_percent")
    first: list[Row] = [(named(ceiling), *(Cell(shown(ceiling, v), style="strong") for v in comparison.variants))]
    if len(variants) > 1:
        first.append((named(gain), *map(_gain, comparison.variants)))
    first += _printing(comparison)
    blown = (named(fan), *(signed(v.fan_change, 1) for v in comparison.variants))
    rate = "" if comparison.flow is None else f" {comparison.flow:.2f} mm³/s"
    head = (Cell(f"Working flow{rate}", style="strong"),)
    at_work = by_quantity("", present(chosen(KEYS, *AT_WORK), comparison.variants), variants)
    rows = (*first, *at_ceiling.rows, blown, (), head, *at_work.rows)
    return Grid("", at_ceiling.columns, rows, notes=(_explained(comparison),))


def _printing(comparison: Comparison) -> list[Row]:
    """Flow to use and print speeds where lines are given, time where a volume is."""
    lines = lines_of_all(v.result for v in comparison.variants)
    quantities: list[Quantity[Variant]] = [
        each.lifted(lambda variant: variant.result) for line in lines for each in by_line(line)
    ]
    if comparison.volume is not None:
        quantities += chosen(KEYS, "flow_to_use_mm3_per_s", "print_time_min", "time_saved_min")
    variants = [(variant.name, variant) for variant in comparison.variants]
    return list(by_quantity("", quantities, variants).rows)


def _explained(comparison: Comparison) -> str:
    asked = comparison.volume is not None
    volume = f"Time: {comparison.volume / 1e3:g} cm³, extruding alone. " if comparison.volume is not None else ""
    margin = f"{MARGIN} " if asked or lines_of_all(v.result for v in comparison.variants) else ""
    return (
        volume
        + margin
        + (
            f"Working flow: {comparison.chosen}. Fan: the same case with the part-cooling jet on and off. "
            "Bore wall: from the block's upper face to the capillary. Times are means."
        )
    )


def _gain(variant: Variant) -> str:
    return "" if variant.gain is None else gained(variant.gain, variant.gained).replace(" (", "\n(")


def _limits(variants: Sequence[Variant]) -> Grid:
    """Every part against the limit of its material: at the ceiling, and with the heater stuck on."""
    parts = dict.fromkeys(margin.part for variant in variants for margin in variant.margins)
    stuck = by_quantity("", chosen(KEYS, *STUCK), [(variant.name, variant) for variant in variants])
    rows: list[Row] = [
        (Cell("at the ceiling", style="quiet"),),
        *((part, *(_margin(v.margins, part) for v in variants)) for part in parts),
        (Cell("heater stuck on", style="quiet"),),
        *stuck.rows,
        *((part, *(_margin(v.margins_stuck, part) for v in variants)) for part in parts),
    ]
    title = "Hottest point / limit for service of the material [degC]"
    said = "! warned of or refused by the material's card. Stuck on: full rating, nothing flowing, jet off, heat sink cold."
    return Grid(
        title, (Column(""), *(Column(variant.name, side="number") for variant in variants)), tuple(rows), notes=(said,)
    )


def _margin(margins: Sequence[Margin], part: str) -> str | Cell:
    margin = next((margin for margin in margins if margin.part == part), None)
    if margin is None:
        return NONE
    limit = number(margin.limit and margin.limit - ZERO_CELSIUS, 0)
    mark = " !" if margin.severity else ""
    grave = {"refuse": "bad", "warning": "warn"}.get(margin.severity or "", "")
    return Cell(f"{margin.temperature - ZERO_CELSIUS:.0f} / {limit}{mark}", style=grave)  # type: ignore[arg-type]


def _assembly(variants: Sequence[Variant]) -> list[Finding]:
    """The cautions on heaters stuck on and on threads, each said once: of the hottest, and of a case with a sleeve if any."""
    stuck = [f for v in variants for f in v.result.safety if f.material == "heater"]
    threads = [f for v in variants for f in v.result.safety if f.material == "threads"]
    return [*([max(stuck, key=lambda f: f.temperature)] if stuck else []), max(threads, key=lambda f: len(f.text))]


def _remarks(variant: Variant) -> list[str]:
    """What must be said beside the numbers of one case."""
    said = remarks(variant.result)
    if variant.result.stuck_on is None:
        said.append("with the heater stuck on it gets hotter than the tables of the losses reach, 1227 degC")
    return said
