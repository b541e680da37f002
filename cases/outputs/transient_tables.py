"""What the terminal shows of a transient: the answer, its times, where the heat went, what to heed."""

from __future__ import annotations

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.tables import HEADING, QUIET, cautions, number, plain_table, spaced
from meltzone.cases.studies.results import CUBIC_MM, ZERO_CELSIUS
from meltzone.cases.studies.transient import Timed, filament_length
from meltzone.fem.in_time.unsteady import QUANTITIES, Burst, Response, WarmUp

SHOWN = 7  # times of a history in the terminal
WORDS = {"sensor": "sensor", "tip": "tip", "mean": "mean", "inner": "innermost flow", "core": "core"}


def summary(timed: Timed) -> Group:
    """Everything about one transient."""
    head = Text.assemble((timed.title, HEADING), "\n", (timed.case.file, QUIET))
    blocks: list[RenderableType | None] = [head, Text(f"{timed.statement}.", "bold")]
    if isinstance(timed.found, WarmUp):
        blocks.append(_warm_up(timed.found))
    elif isinstance(timed.found, Response):
        blocks.append(_response(timed.found))
    else:
        blocks.append(_burst(timed.found))
    blocks += [_history(timed), _heats(timed), cautions(timed.cautions)]
    return spaced(blocks)


def _warm_up(found: WarmUp) -> Table:
    table = plain_table("warm-up from cold", "after [s]")
    table.add_row("polymer at the end of the melt zone at its flow temperature", number(found.melted, 1))
    table.add_row("sensor within 1 K of the setpoint", number(found.reached, 1))
    return table


def _response(found: Response) -> Table:
    table = plain_table("at the end of the melt zone, and", "before", "long after", "63 % after [s]", "95 % after [s]")
    for column in table.columns:
        column.justify = "left" if column is table.columns[0] else "right"
    for name in QUANTITIES:
        shift, unit = (0.0, "heater [W]") if name == "power" else (ZERO_CELSIUS, f"{WORDS[name]} [degC]")
        last = None if found.after is None else getattr(found.after, name) - shift
        times = (number(found.settling(name, share), 1) for share in (0.632, 0.95))
        table.add_row(unit, number(getattr(found.before, name) - shift, 1), number(last, 1), *times)
    return table


def _burst(found: Burst) -> Table:
    table = plain_table("burst", "[mm³/s]", "lasts [s]", "volume [mm³]", "filament [mm]")
    volume = None if found.volume is None else CUBIC_MM * found.volume
    flow = CUBIC_MM * found.flow
    table.add_row("", f"{flow:g}", number(found.lasts, 2), number(volume, 1), number(filament_length(found), 1))
    return table


def _history(timed: Timed) -> Table:
    names = ("time", "flow", "heater", "sensor", "tip", "mean", "innermost flow", "core")
    units = ("s", "mm³/s", "W", *["degC"] * 5)
    table = plain_table(*(f"{name}\n[{unit}]" for name, unit in zip(names, units, strict=True)))
    history = timed.history
    times = history.of("time")
    for time in np.linspace(times[0], times[-1], SHOWN):
        step = min(max(int(np.searchsorted(times, time)), 1), times.size - 1)  # the one that leads to this time
        warmth = (np.interp(time, times, history.of(name)) - ZERO_CELSIUS for name in WORDS)
        row = (number(time, 1), number(CUBIC_MM * history.of("flow")[step], 1), number(history.of("power")[step], 1))
        table.add_row(*row, *(number(value, 1) for value in warmth))
    return table


def _heats(timed: Timed) -> Text:
    heats = timed.history.heats
    parts = {"stored": heats.stored, "melt": heats.melt, "losses": heats.losses, "heat sink": heats.cold_end}
    listed = ", ".join(f"{name} {joule:.0f}" for name, joule in parts.items())
    share = abs(heats.imbalance) / max(abs(heats.heater), 1e-12)
    closed = "below a millionth" if share < 1e-6 else f"{100.0 * share:.4f} %"
    return Text(f"Heat from the heater {heats.heater:.0f} J: {listed} J; not accounted for {closed}.", QUIET)
