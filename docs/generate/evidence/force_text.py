"""Section of the validation page on the feeding force: the measured rows, and ABS until the feeder slips."""

from __future__ import annotations

import math
from collections.abc import Sequence

from generate.evidence.force_study import Pushed, SlipForces
from meltzone.cases.studies.validation.measurements import load_measured


def force_section(rows: Sequence[Pushed], slips: Sequence[SlipForces]) -> str:
    """Whether the force is the same at every ceiling: tables and what follows."""
    return f"""## Does the feeding force explain it?

Were the feeder's grip the limit, the feeding force would be the same at every measured ceiling. It is worked out at the
measured flows from the slow flow of the melt ([force](force.md)); viscosity of PLA from memory, no source. Pressures in MPa:

| row | flow [mm³/s] | bore | cone | by shear alone | with stretching | capillary | force [N] |
|---|---|---|---|---|---|---|---|
{_rows(rows)}

{_verdict(rows)}

### ABS until the feeder slips, by force

The slip test of above, judged by force. The viscosity is one fit at 239 degC (second hand, Kazmer), carried down to the
block's 155 to 225 degC by the universal constants of Williams, Landel and Ferry (from memory): it may be off by a factor of
several. Forces at slip in N, their standard deviation over their mean, and the flows predicted with the middle row's
force as the grip, in % of the measured:

| melt zone [mm] | {_names()} | spread [%] | flows [%] |
{"|---" * (len(slips[0].forces) + 3)}|
{_slips(slips)}

{_slip_verdict(slips)}
"""


def _rows(rows: Sequence[Pushed]) -> str:
    return "\n".join(
        f"| {r.name} | {r.flow:.2f} | {r.bore:.2f} | {r.cone:.2f} | {r.shear:.2f} | {r.estimate:.2f} | {r.land:.2f} | "
        f"{r.force:.1f} |"
        for r in rows
    )


def _verdict(rows: Sequence[Pushed]) -> str:
    forces = {row.name: row.force for row in rows}
    low, high = min(forces, key=lambda name: forces[name]), max(forces, key=lambda name: forces[name])
    first, hot = rows[0], next(row for row in rows if "260" in row.name)
    added = [row.cone - row.shear for row in rows]
    apart = [100.0 * (row.estimated_force / row.force - 1.0) for row in rows]
    return f"""**It does not.** The force runs from {forces[low]:.0f} N ({low}) to {forces[high]:.0f} N
({high}), a factor of {forces[high] / forces[low]:.1f}. At 260 degC pushing takes {hot.force:.0f} N
against {first.force:.0f} N at 210 degC: a grip that sets the ceiling at 210 degC would be met at 260 degC only at a
flow still higher than the measured one. So the force does not explain that row. The convergence of the core adds
{min(added):.1f} to {max(added):.1f} MPa to the shear in the cone; the quick estimate by lubrication and
stretching ("with stretching") adds more, and comes out {min(apart):.0f} to {max(apart):.0f} % above the solved
force in all. Elastic stresses, which for PLA may be the larger part (Virtual Phys. Prototyp. 2024, e2300666, abstract),
are not in it, nor is the solid filament's friction: true forces are higher."""


def _names() -> str:
    return " | ".join(row.name.removeprefix("slip at ") for row in load_measured("abs-slip-test").rows)


def _slips(slips: Sequence[SlipForces]) -> str:
    lines = []
    for slip in slips:
        flows = ", ".join("none" if math.isnan(error) else f"{error:+.0f}" for error in slip.errors) or "not sought"
        forces = " | ".join(f"{force:.0f}" for force in slip.forces)
        lines.append(f"| {slip.length:g} | {forces} | {slip.spread:.0f} | {flows} |")
    return "\n".join(lines)


def _slip_verdict(slips: Sequence[SlipForces]) -> str:
    best = min(slips, key=lambda slip: slip.spread)
    mean = sum(best.forces) / len(best.forces)
    off = [abs(error) for slip in slips for error in slip.errors if not math.isnan(error)]
    return f""""not sought": there the core enters the cone close to its glass transition, where the law does not hold.

At no length is the force the same at every slip; it comes nearest at {best.length:g} mm, within {best.spread:.0f} % while
the flow rises fivefold, and the flows predicted by it are off by up to {max(off):.0f} %. Its level of
{mean:.0f} N is beyond everyday feeders: some 30 MPa, or 72 N on this filament, is the order of magnitude that a review gives
(Mackay 2018, doi 10.1122/1.5037687). The level hangs on the viscosity, the rest on the length. **So the force
neither beats the temperatures here nor is ruled out**: that takes the length, and a viscosity measured near 160 degC.

No published force could be laid beside a prediction: in what could be read, flows and orifices stand without heated
length, bore or the forces themselves."""
