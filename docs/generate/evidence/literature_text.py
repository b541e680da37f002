"""Sections of the validation page on open literature: ABS until the feeder slips, PLA over four melt zones."""

from __future__ import annotations

from collections.abc import Sequence

from generate.evidence.figures import WORDS
from generate.evidence.literature_study import CRITERIA, Criterion, LengthRow, Slip
from meltzone.cases.outputs.grid import signed
from meltzone.cases.studies.validation.measurements import load_measured

SLIP_PICTURE = "validation-slip.png"


def slip_section(found: Sequence[Slip]) -> str:
    """The slip test: what was done, the table over lengths and criteria, what can be said."""
    flows = found[0].flows
    rows = load_measured("abs-slip-test").rows
    told = ", ".join(f"{flow:.0f}" for flow in flows)
    temperatures = ", ".join(row.name.removeprefix("slip at ") for row in rows)
    heads = [f"{flow:.0f} mm³/s [%]" for number, flow in enumerate(flows) if number != found[0].calibrates]
    return f"""## Open literature: ABS until the feeder slips

Read, Seppala, Tourlomousis, Warren, Bakker and Gershenfeld 2024, Integr. Mater. Manuf. Innov. 13:541-554,
doi 10.1007/s40192-024-00350-w, Table 3: ABS through a 0.8 mm orifice at a constant flow while the block cools, until the
feeder slips. Flows of {told} mm³/s slip at a block temperature of {temperatures}. **The paper gives
no melt-zone length.** So for each length assumed, the model is solved at the five pairs of flow and block temperature.
The criterion that is right must find its temperature the same at each; that of the middle flow is then the flow
temperature, by which the other four flows are predicted.

![Temperatures at slip](images/{SLIP_PICTURE})

| melt zone [mm] | criterion | flow temperature [degC] | spread [K] | {" | ".join(heads)} |
{"|---" * (len(heads) + 4)}|
{_slip_table(found)}

"none": at that block temperature nothing reaches the flow temperature asked for, at any flow.

{_slip_verdict(found)}
"""


def _slip_table(found: Sequence[Slip]) -> str:
    lines = []
    for slip in found:
        for name in CRITERIA:
            value = f"{slip.temperatures[name][slip.calibrates]:.0f}"
            mark = "" if slip.possible(name) else " (below softening)"
            errors = " | ".join("none" if error <= -99.9 else f"{error:+.0f}" for error in slip.errors(name))
            lines.append(f"| {slip.length:g} | {WORDS[name]} | {value}{mark} | {slip.spread(name):.1f} | {errors} |")
    return "\n".join(lines)


def _slip_verdict(found: Sequence[Slip]) -> str:
    best = {name: _least_spread(found, name) for name in CRITERIA}
    told = "; ".join(f"{WORDS[n]} at {slip.length:g} mm ({slip.spread(n):.1f} K)" for n, slip in best.items())
    asked = [slip.temperatures["inner"][slip.calibrates] for slip in found]
    low, high = f"{min(asked):.0f}", f"{max(asked):.0f}"
    return f"""Each criterion has a length at which its temperature is nearly constant: {told}.
**Without the length the data cannot tell the criteria apart**, and they leave the flow temperature of ABS anywhere from
{low} to {high} degC (inner share, {found[0].length:g} to {found[-1].length:g} mm). With the length known
the test would be sharp. Also not in the paper: the filament's diameter (1.75 mm taken), bore, block, and how far the
polymer lags behind a block that cools. The feeding force, which is what slips, is tried below.

`meltzone validate abs-slip-test` repeats the test for 20 mm; lengths are changed with
`--set block.height="..." --set nozzle.length="..."`."""


def _least_spread(found: Sequence[Slip], name: Criterion) -> Slip:
    return min(found, key=lambda slip: slip.spread(name))


def lengths_section(rows: Sequence[LengthRow]) -> str:
    """The second-hand table: both readings of its length, criteria side by side."""
    heads = " | ".join(f"{WORDS[name]}: melt zone / nozzle" for name in CRITERIA)
    return f"""## Second hand: PLA at 220 degC, four melt zones

A table of Wuest, Kattinger, Dahmen, Spiehl, Bonten and Blaeser 2026, J. Manuf. Mater. Process. 10(7):233,
doi 10.3390/jmmp10070233, as quoted in another text; **the paper was not read**. Its rows name different extruders and may
be a compilation. The length may be that of the melt zone or of the nozzle; the first is taken from the block's upper face
to the capillary, the second as a nozzle in the everyday block. Nothing is calibrated on these rows: default model with
its own `bore_melt`, criteria side by side. Error in %:

| row | measured [mm³/s] | {heads} |
{"|---" * (len(CRITERIA) + 2)}|
{_lengths_table(rows)}

{_lengths_verdict(rows[0], rows[2])}
"""


def _lengths_table(rows: Sequence[LengthRow]) -> str:
    lines = []
    for row in rows:
        pairs = [f"{_miss(row, name)} / {_miss(row, name, nozzle=True)}" for name in CRITERIA]
        lines.append(f"| {row.name} | {row.measured:.1f} | " + " | ".join(pairs) + " |")
    return "\n".join(lines)


def _miss(row: LengthRow, name: Criterion, nozzle: bool = False) -> str:
    found = row.as_nozzle if nozzle else row.as_melt_zone
    return signed(100.0 * (found[name] / row.measured - 1.0), 1)


def _lengths_verdict(narrow: LengthRow, wide: LengthRow) -> str:
    inner, mean = ([_miss(row, name) for row in (narrow, wide)] for name in ("inner", "mean"))
    return f"""No one temperature holds for both orifices. With the length as the melt zone's, the inner share gives
{inner[0]} % at 0.4 mm (a tenth of the flow) but {inner[1]} % at 1.2 mm (36 % of it, (orifice/bore)², since a core no
wider than the orifice passes), and the mean {mean[0]} % and {mean[1]} %. The rule for wide orifices was made with these
rows in view; with a tenth throughout, the wide ones were -51 and -40 % off. A wide orifice seems to let a core pass
that a narrow one stops, as it would if the core's deformation in the cone were the limit. **Do not rely on the default
criterion for orifices far from 0.4 mm**: free the flow temperature and calibrate on a measurement of your own. The last
row was 87.5 mm³/s with another extruder."""
