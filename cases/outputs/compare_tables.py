"""What the terminal shows of a comparison: one column a case, the numbers grouped, the limits part by part."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from rich.console import Group
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.tables import HEADING, NONE, QUIET, SEVERITY, cautions, hottest, number, spaced, warnings
from meltzone.cases.studies.cautions import Margin
from meltzone.cases.studies.compare import Comparison, Variant
from meltzone.cases.studies.results import ZERO_CELSIUS
from meltzone.fem.residence import Residence
from meltzone.materials.limits import Severity

NARROW = 12  # characters of a column: six of them and the words fit 110
Row = tuple[str, Callable[[Variant], str | Text]]


def comparison_tables(comparison: Comparison) -> Group:
    """Everything about a comparison."""
    variants = comparison.variants
    findings = hottest([found for variant in variants for found in variant.result.cautions])
    findings += _assembly(variants)
    notes = [f"{v.name}: {text}" for v in variants for text in _remarks(v)]
    blocks = [Group(_numbers(comparison), Text(_explained(comparison), QUIET)), _limits(comparison)]
    return spaced([*blocks, warnings(notes), cautions(findings)])


def _explained(comparison: Comparison) -> str:
    return (
        f"Working flow: {comparison.chosen}. Fan: the same case with the part-cooling jet on and off. Bore wall: from the "
        "block's upper face to the capillary. Times are means."
    )


def _table(variants: Sequence[Variant]) -> Table:
    table = Table(box=None, header_style=QUIET, pad_edge=False, padding=(0, 1, 0, 0))
    table.add_column("", no_wrap=True)
    for variant in variants:
        table.add_column(
            Text(_broken(variant.name), justify="right"), justify="right", vertical="bottom", overflow="fold"
        )
    return table


def _broken(name: str) -> str:
    """A name over lines of at most `NARROW` characters, broken after hyphens where there are any."""
    lines, line = [], ""
    for piece in name.replace("_", "-").replace("-", "- ").split():
        for k in range(0, len(piece), NARROW):
            part = piece[k : k + NARROW]
            if line and len(line) + len(part) > NARROW:
                lines.append(line)
                line = ""
            line += part
    return "\n".join([*lines, line])


def _numbers(comparison: Comparison) -> Table:
    variants = comparison.variants
    table, forced = _table(variants), any(v.result.force_ceiling is not None for v in variants)
    at_ceiling: list[Row] = [
        ("flow ceiling [mm³/s]", lambda v: Text(number(v.result.flow_ceiling, 2), "bold")),
        ("gain on the first [%]", _gain),
        ("governed by", lambda v: v.result.governs or NONE),
        ("melt ceiling [mm³/s]", lambda v: number(v.result.melt_ceiling, 2)),
        ("power ceiling [mm³/s]", lambda v: number(v.result.power_ceiling, 2)),
        *([("force ceiling [mm³/s]", lambda v: number(v.result.force_ceiling, 2))] if forced else []),
        ("heater at the ceiling [W]", lambda v: number(v.result.power, 1)),
        ("bore wall, hottest [degC]", lambda v: number(v.wall and v.wall[1], 1)),
        ("bore wall, coolest [degC]", lambda v: number(v.wall and v.wall[0], 1)),
        ("tip [degC]", lambda v: number(v.result.tip, 1)),
        ("fan, on against off [%]", lambda v: NONE if v.fan_change is None else f"{v.fan_change:+.1f}"),
    ]
    if len(variants) == 1:
        del at_ceiling[1]
    rate = "" if comparison.flow is None else f" {comparison.flow:.2f} mm³/s"
    at_flow: list[Row] = [
        ("polymer above flow temp. [mm³]", lambda v: number(v.hot_volume, 1)),
        ("polymer above softening [mm³]", lambda v: number(v.soft_volume, 1)),
        ("time above flow temp. [s]", lambda v: _time(v, lambda r: r.hot_time)),
        ("time in the melt zone [s]", lambda v: _time(v, lambda r: r.zone_time)),
        ("- innermost 5 % of the flow", lambda v: _time(v, lambda r: r.core_time)),
        ("- outermost 5 %", lambda v: _time(v, lambda r: r.wall_time)),
    ]
    for name, read in at_ceiling:
        table.add_row(name, *(read(variant) for variant in variants))
    table.add_row("")
    table.add_row(Text(f"Working flow{rate}", HEADING))
    for name, read in at_flow:
        table.add_row(name, *(read(variant) for variant in variants))
    return table


def _time(variant: Variant, read: Callable[[Residence], float]) -> str:
    return NONE if variant.residence is None else number(read(variant.residence), 1)


def _gain(variant: Variant) -> str:
    if variant.gain is None:
        return ""
    if variant.interval is None:
        return f"{variant.gain:+.1f}"
    low, high = variant.interval
    return f"{variant.gain:+.1f}\n({low:+.1f} to {high:+.1f})"


def _limits(comparison: Comparison) -> Group:
    """Every part against the limit of its material: at the ceiling, and with the heater stuck on."""
    variants = comparison.variants
    table = _table(variants)
    parts = dict.fromkeys(margin.part for variant in variants for margin in variant.margins)
    table.add_row(Text("at the ceiling", QUIET))
    for part in parts:
        table.add_row(part, *(_margin(v.margins, part) for v in variants))
    table.add_row(Text("heater stuck on", QUIET))
    table.add_row("rating [W]", *(number(v.result.problem.operation.rating, 0) for v in variants))
    table.add_row(
        "sensor", *(number(s.sensor - ZERO_CELSIUS if (s := v.result.stuck_on) else None, 0) for v in variants)
    )
    for part in parts:
        table.add_row(part, *(_margin(v.margins_stuck, part) for v in variants))
    title = Text("Hottest point / limit for service of the material [degC]", HEADING)
    said = "! warned of or refused by the material's card. Stuck on: full rating, nothing flowing, jet off, heat sink cold."
    return Group(title, table, Text(said, QUIET))


def _margin(margins: Sequence[Margin], part: str) -> Text:
    margin = next((margin for margin in margins if margin.part == part), None)
    if margin is None:
        return Text(NONE)
    limit = NONE if margin.limit is None else f"{margin.limit - ZERO_CELSIUS:.0f}"
    mark = " !" if margin.severity else ""
    return Text(f"{margin.temperature - ZERO_CELSIUS:.0f} / {limit}{mark}", _style(margin.severity))


def _style(severity: Severity | None) -> str:
    return "" if severity is None else SEVERITY[severity][1]


def _assembly(variants: Sequence[Variant]) -> list:
    """The cautions on heaters stuck on and on threads, each said once: of the hottest, and of a case with a sleeve if any."""
    stuck = [f for v in variants for f in v.result.safety if f.material == "heater"]
    threads = [f for v in variants for f in v.result.safety if f.material == "threads"]
    return [*([max(stuck, key=lambda f: f.temperature)] if stuck else []), max(threads, key=lambda f: len(f.text))]


def _remarks(variant: Variant) -> list[str]:
    """What must be said beside the numbers of one case."""
    said = list(variant.result.warnings)
    if variant.result.flow_ceiling is None:
        said.append(variant.result.statement)
    if variant.result.stuck_on is None:
        said.append("with the heater stuck on it gets hotter than the tables of the losses reach, 1227 degC")
    return said
