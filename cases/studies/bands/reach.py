"""What of a case lies outside all that the model was ever compared with."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from meltzone.cases.studies.bands.compared import Compared, Conditions, evidence
from meltzone.fem.problem import Problem
from meltzone.materials.units import ZERO_CELSIUS

MM = 1e3
ALIKE = 1.25  # factor by which an orifice, a length or a flow may differ and still count as compared
NEAR_KELVIN = 5.0  # by so much a setpoint may lie outside
SAME_FILAMENT = 0.1  # [mm]
MISSED = 20.0  # [%] from here on a comparison is told as one that failed


def conditions_of(problem: Problem) -> Conditions:
    """The conditions by which a case is laid beside what was measured."""
    parts = problem.arrangement
    return Conditions(
        problem.materials.polymer.key,
        round(MM * parts.nozzle.orifice, 6),
        round(MM * parts.filament.diameter, 6),
        round(MM * (parts.block_top - parts.nozzle.land), 6),
        round(problem.operation.setpoint - ZERO_CELSIUS, 6),
        0 if parts.channels is None else parts.channels.number,
    )


def like_orifice(at: Conditions, rows: Sequence[Compared]) -> list[Compared]:
    """The rows measured through an orifice like that of the case."""
    return [row for row in rows if within(at.orifice, [row.at.orifice], ALIKE)]


def within(value: float, others: Iterable[float], factor: float) -> bool:
    """Whether `value` lies between the least and the greatest of `others`, or outside by no more than a `factor`."""
    others = list(others)
    return min(others) / factor <= value <= max(others) * factor


def reach(problem: Problem, flow: float | None = None) -> tuple[str, ...]:
    """What of a case lies outside the comparisons, each with the nearest evidence; `flow` is its ceiling [mm3/s].

    The orifice comes first: lengths, setpoints and flows are laid beside what was measured through a like one.
    """
    at, rows = conditions_of(problem), evidence().rows
    found = []
    polymers = sorted({row.at.polymer for row in rows})
    if at.polymer not in polymers:
        names = ", ".join(polymers).upper()
        found.append(f"{problem.materials.polymer.label}: ceilings were measured with {names} only")
    alike = like_orifice(at, rows)
    if not alike:
        found.append(f"orifice of {at.orifice:g} mm: {_measured_at(rows, 'orifice', at.orifice, 'mm')}")
        alike = list(rows)
    elif min(abs(row.error_percent) for row in alike) >= MISSED / 2 and max(_sizes(alike)) >= MISSED:
        found.append(f"orifice of {at.orifice:g} mm: {_failed(alike)}")
    if all(abs(at.filament - row.at.filament) > SAME_FILAMENT for row in rows):
        found.append(f"filament of {at.filament:g} mm: {_measured_at(rows, 'filament', at.filament, 'mm')}")
    if at.channels and not any(row.at.channels for row in rows):
        found.append("a divided bore: no ceiling of one was measured")
    setpoints = [row.at.setpoint for row in alike]
    if not min(setpoints) - NEAR_KELVIN <= at.setpoint <= max(setpoints) + NEAR_KELVIN:
        found.append(f"setpoint of {at.setpoint:g} degC: {_measured_at(alike, 'setpoint', at.setpoint, 'degC')}")
    if not within(at.length, [row.at.length for row in alike], ALIKE):
        found.append(f"melt zone of {at.length:.3g} mm: {_measured_at(alike, 'length', at.length, 'mm')}")
    flows = [row.measured for row in alike]
    if flow is not None and not within(flow, flows, ALIKE):
        found.append(f"flow of {flow:.3g} mm³/s: measured from {min(flows):.3g} to {max(flows):.3g} mm³/s")
    return tuple(found)


def _sizes(rows: Sequence[Compared]) -> list[float]:
    return [abs(row.error_percent) for row in rows]


def _failed(rows: Sequence[Compared]) -> str:
    low, high = min(_sizes(rows)), max(_sizes(rows))
    side = "too low" if all(row.error < 0.0 for row in rows) else "off"
    many = f"{len(rows)} ceilings" if len(rows) > 1 else "one ceiling"
    return f"{many} measured there, predicted {low:.0f} to {high:.0f} % {side}"


def _measured_at(rows: Sequence[Compared], name: str, value: float, unit: str) -> str:
    """Between which values of `name` there are measurements, and the nearest to `value`."""
    values = sorted({getattr(row.at, name) for row in rows})
    nearest = min(rows, key=lambda row: abs(getattr(row.at, name) - value))
    span = f"at {values[0]:.4g}" if len(values) == 1 else f"from {values[0]:.4g} to {values[-1]:.4g}"
    if len(values) == 2 and values[1] > 2.0 * values[0]:
        span = f"at {values[0]:.4g} and {values[1]:.4g}"
    return f"measured {span} {unit} only, the nearest is {nearest.row}"
