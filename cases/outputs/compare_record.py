"""The record of a comparison, JSON and CSV, from one table of keys."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

from meltzone.cases.outputs.keyed import Key, rounded
from meltzone.cases.outputs.record import in_words, versions
from meltzone.cases.studies.cautions import Margin
from meltzone.cases.studies.compare import Comparison, Variant
from meltzone.cases.studies.results import ZERO_CELSIUS
from meltzone.fem.residence import Residence
from meltzone.materials.limits import DEFERENCE

FORM = 1  # raised when a key changes its name, its unit or its meaning


def _time(read: Callable[[Residence], float]) -> Callable[[Variant], float | None]:
    return lambda variant: None if variant.residence is None else read(variant.residence)


KEYS: tuple[Key[Variant], ...] = (
    Key("case", "", "Name of the case.", lambda v: v.name),
    Key("title", "", "Its title.", lambda v: v.result.case.model.title),
    Key("governs", "", '"melt", "power", "force", or "none" where nothing can flow.', lambda v: v.result.governs),
    Key("ceiling_mm3_per_s", "mm3/s", "The flow ceiling: the least of the ceilings.", lambda v: v.result.flow_ceiling),
    Key("gain_percent", "%", "Ceiling over that of the first case, less one; empty for the first.", lambda v: v.gain),
    Key("gain_low_percent", "%", "Lower end of its 95 % interval, where tolerances are given.",
        lambda v: v.interval and v.interval[0]),
    Key("gain_high_percent", "%", "Upper end of it.", lambda v: v.interval and v.interval[1]),
    Key("melt_mm3_per_s", "mm3/s", "Flow at which the polymer just melts through.", lambda v: v.result.melt_ceiling),
    Key("power_mm3_per_s", "mm3/s", "Flow at which the heater's rating is used up.", lambda v: v.result.power_ceiling),
    Key("force_mm3_per_s", "mm3/s", "Flow at which pushing takes the feeder's whole grip; null without a grip.",
        lambda v: v.result.force_ceiling),
    Key("heater_power_W", "W", "Heater power at the ceiling.", lambda v: v.result.power),
    Key("heater_rating_W", "W", "Power of the heater when fully on.", lambda v: v.result.problem.operation.rating),
    Key("setpoint_degC", "degC", "The setpoint.", lambda v: v.result.problem.operation.setpoint - ZERO_CELSIUS),
    Key("melt_zone_mm", "mm", "Length of the melt zone at the ceiling.", lambda v: v.zone_length),
    Key("wall_hottest_degC", "degC", "Hottest point of the bore wall from the block's upper face to the capillary, at the "
        "ceiling.", lambda v: v.wall and v.wall[1]),
    Key("wall_coolest_degC", "degC", "Coolest point of it.", lambda v: v.wall and v.wall[0]),
    Key("tip_degC", "degC", "Nozzle's face beside the orifice, at the ceiling.", lambda v: v.result.tip),
    Key("fan", "", "Whether the case has the part-cooling jet on.", lambda v: v.fan),
    Key("other_fan_ceiling_mm3_per_s", "mm3/s", "Ceiling with the jet the other way round.", lambda v: v.other_fan),
    Key("fan_change_percent", "%", "Ceiling with the jet over the ceiling without, less one.", lambda v: v.fan_change),
    Key("hot_volume_mm3", "mm3", "Polymer above its flow temperature, at the working flow.", lambda v: v.hot_volume),
    Key("soft_volume_mm3", "mm3", "Polymer above its softening temperature, at the working flow.", lambda v: v.soft_volume),
    Key("hot_time_s", "s", "Mean time above the flow temperature, at the working flow.", _time(lambda r: r.hot_time)),
    Key("zone_time_s", "s", "Mean time in the melt zone, at the working flow.", _time(lambda r: r.zone_time)),
    Key("core_time_s", "s", "Time in the melt zone of the innermost twentieth of the flow.", _time(lambda r: r.core_time)),
    Key("wall_time_s", "s", "Time in the melt zone of the outermost twentieth of the flow.", _time(lambda r: r.wall_time)),
    Key("stuck_on_sensor_degC", "degC", "Sensor with the heater at full rating, nothing flowing, the jet off; empty beyond the "
        "tables of the losses.", lambda v: v.result.stuck_on and v.result.stuck_on.sensor - ZERO_CELSIUS),
    Key("beyond_limits_at_ceiling", "", "Parts that their material's card warns of or refuses at the ceiling.",
        lambda v: _beyond(v.margins)),
    Key("beyond_limits_stuck_on", "", "The same with the heater stuck on.", lambda v: _beyond(v.margins_stuck)),
)  # fmt: skip


def _beyond(margins: tuple[Margin, ...]) -> list[str]:
    return [margin.part for margin in margins if margin.severity is not None]


def record_of(comparison: Comparison) -> dict[str, Any]:
    """The whole comparison as plain types; every case with the keys above, its limits part by part, and its cautions."""
    return {
        "form": FORM,
        "versions": versions(),
        "working_flow_mm3_per_s": rounded(comparison.flow),
        "working_flow_chosen": comparison.chosen,
        "cases": [_case(variant) for variant in comparison.variants],
        "deference": DEFERENCE,
    }


def _case(variant: Variant) -> dict[str, Any]:
    record = {key.path: rounded(key.read(variant)) for key in KEYS}
    record["limits"] = rounded(limits_of(variant))
    record["cautions"] = rounded([in_words(finding) for finding in variant.result.safety])
    return record


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
    """One row a case under a header of the keys, the working flow last; lists joined by semicolons, nothing for None."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*(key.path for key in KEYS), "working_flow_mm3_per_s"])
    for variant in comparison.variants:
        row = [rounded(key.read(variant)) for key in KEYS]
        writer.writerow([_cell(value) for value in (*row, rounded(comparison.flow))])
    return text.getvalue()


def _cell(value: Any) -> Any:
    if isinstance(value, list):
        return "; ".join(value)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@"):
        return f"'{value}"  # a title is no formula for the spreadsheet that opens the file
    return value
