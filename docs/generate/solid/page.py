"""The page of what is not round, from the figures that `generate.solid.solve` left; needs no solver."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from meltzone.cases.outputs.grid import signed
from meltzone.cases.studies.bands.compared import evidence
from meltzone.cases.studies.bands.model_error import missed

PAGE = Path(__file__).resolve().parents[2] / "three-dimensions.md"
FIGURES = Path(__file__).with_name("figures.json")
FILAMENT = math.pi * 1.75**2 / 4.0  # section of the filament [mm2]
STRESS = 10.0  # flow stress for which the core's cutting is told [MPa]

INTRODUCTION = """# What is not round

The model is axisymmetric: the block is a disc, a divided bore an equivalent passage. Here both are solved in
three dimensions by independent code (ngsolve {ngsolve}, tetrahedra, `tests/independent/solid.py` and
`tests/independent/sector.py`). By hand, since it takes a quarter of an hour,
`PYTHONPATH=docs:tests/independent python -m generate.solid.solve` writes the numbers and this page.

## The block is a disc

Half of the hot end with the block's true rectangle, cut where cartridge and sensor lie across. The cartridge's
hole is 6 mm wide at the distance of the heater's ring, the sensor's 3 mm wide at that of the sensor on the
other side of the nozzle; both run through the depth, at half height, and the block's middle lies 2 mm from the
nozzle towards the cartridge (common practice, no source). Heat comes evenly from the wall of the cartridge's
hole, the sensor reads the mean of the wall of its own; what sits in the holes conducts nothing and loses at its
ends what the block's side does. The clamp's slot is left out; nozzle, heat break and filament are round.
Materials, contacts and losses are the model's. Every row is solved at its own melt ceiling, where the judged
temperature, the mean around the axis, is the flow temperature.

"""


def solid_page() -> str:
    """The whole page as Markdown."""
    figures = json.loads(FIGURES.read_text(encoding="utf-8"))
    return "".join(
        [
            INTRODUCTION.format(ngsolve=figures["ngsolve"]),
            *(_case(case, found["rows"]) for case, found in figures["blocks"].items()),
            _judgement(figures["blocks"]),
            _sector(figures["sector"]),
        ]
    )


def _percent(found: float, base: float) -> str:
    return signed(100.0 * (found / base - 1.0), 2)


def _table(head: list[str], rows: list[list[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "".join(f"| {' | '.join(cells)} |\n" for cells in lines) + "\n"


def _case(case: str, rows: list[dict[str, Any]]) -> str:
    model, disc, usual = rows[0], rows[1], rows[2]
    head = ["", "ceiling [mm³/s]", "against the model [%]", "heater [W]", "against the model [%]", "tip [degC]"]
    body = [["axisymmetric model", f"{model['ceiling']:.3f}", "", f"{model['power']:.3f}", "", f"{model['tip']:.2f}"]]
    for row in rows[1:]:
        parts = [_percent(row[key], model[key]) for key in ("ceiling", "power")]
        cells = [f"{row['ceiling']:.3f}", parts[0], f"{row['power']:.3f}", parts[1], f"{row['tip']:.2f}"]
        body.append([row["layout"], *cells])
    walls = ["above the orifice [mm]", "model [degC]", "disc [degC]", "rectangle [degC]", "around the bore [K]"]
    levels = [
        [
            f"{level:.1f}",
            f"{ours['mean']:.2f}",
            f"{same['mean']:.2f}",
            f"{true['mean']:.2f}",
            f"{signed(true['least'] - true['mean'], 2)} to {signed(true['most'] - true['mean'], 2)}",
        ]
        for level, ours, same, true in zip(model["levels"], model["walls"], disc["walls"], usual["walls"], strict=True)
    ]
    return (
        f"### `{case}`\n\n{_table(['layout', *head[1:]], body)}The wall of the bore, each at its own ceiling:\n\n"
        + (_table(walls, levels))
    )


def _judgement(blocks: dict[str, Any]) -> str:
    tables = {case: found["rows"] for case, found in blocks.items()}
    discs = [abs(row[1][key] / row[0][key] - 1.0) for row in tables.values() for key in ("ceiling", "power")]
    shifts = [row["ceiling"] / rows[0]["ceiling"] - 1.0 for rows in tables.values() for row in rows[2:]]
    powers = [row["power"] / rows[0]["power"] - 1.0 for rows in tables.values() for row in rows[2:]]
    short, long = tables.values()
    gains = [100.0 * (long[i]["ceiling"] / short[i]["ceiling"] - 1.0) for i in (0, 2)]
    model = 100.0 * math.expm1(missed(list(evidence().rows)))
    return f"""### What that says

- **The check**: with a disc the code in three dimensions and the model agree within {100.0 * max(discs):.2f} %
  in ceiling and power.
- A rectangle moves the ceiling by {_span(shifts)} %, the heater's power there by {_span(powers)} %.
- The gain of the long block on the short one is {signed(gains[0], 1)} % by the model and {signed(gains[1], 1)} %
  with rectangles.
- The model's own error in a band is +/- {model:.0f} % over all comparisons. It is what predictions missed of measured hot ends,
  whose blocks are rectangles: this part of it is in there already and does not widen the band a second time.

"""


def _span(values: list[float]) -> str:
    return f"{signed(100.0 * min(values), 2)} to {signed(100.0 * max(values), 2)}"


def _sector(found: dict[str, Any]) -> str:
    heats, core = found["heats"], found["core"]
    return "".join(
        [
            """## The divided bore

One sector of a bore of 2 mm with three holes of 0.8 mm, half of it between its planes of symmetry, the holes'
ring drawn in by 0.02 mm so that they do not touch the bore's circle. Two flows bound the melt's: one that slips
at its walls (the gradient of a potential: a plug in bore and holes, as [divided bores](division.md) assumes),
and slow flow of constant viscosity that sticks to them.

### Where layers go

Paths are traced from half a hole back to the bore above and on to the bore behind. The first two columns rank
the layer that a point came from against its distance from the nozzle's axis (layers in order) and from the
hole's middle (sorted); the next two are by how much of the flow it lies elsewhere, root mean square; the last by how
much of the flow it comes out elsewhere than it came in.

""",
            _table(
                ["flow", "rank, in order", "rank, sorted", "off, in order", "off, sorted", "in against out"],
                list(_layer_rows(found)),
            ),
            """Behind the holes every layer is back at its own radius: slow flow runs the same way in both directions. In the
hole layers lie in order of the distance from the nozzle's axis, but not on arcs around it.

### What heat does there

PLA at constant properties, metal at 210 degC throughout, contact 12,000 W/m²/K, 6 mm of heated bore above the
holes, in the flow that slips; entered as the bore leaves it. With heat the flow that sticks is not solved.
Ceilings by the sections of [divided bores](division.md), in order and sorted, and in three dimensions:

""",
            _table(
                [
                    *("divided [mm]", "behind [mm]", "in order [mm³/s]", "solved [mm³/s]", "sorted [mm³/s]"),
                    *("solved against in order [%]", "sorted against in order [%]"),
                ],
                [_heat_row(row) for row in heats],
            ),
            _decision(heats),
            _core(core),
        ]
    )


def _layer_rows(found: dict[str, Any]) -> Iterator[list[str]]:
    for key, name in (("slips", "slips"), ("sticks", "sticks")):
        row = found[key]
        numbers = [f"{row['order']:.3f}", f"{row['sorted']:.3f}"]
        shares = [f"{100.0 * row[part]:.1f} %" for part in ("off_order", "off_sorted", "back")]
        yield [name, *numbers, *shares]


def _heat_row(row: dict[str, float]) -> list[str]:
    lengths = [f"{row[key]:g}" for key in ("divided", "after")]
    flows = [f"{row[key]:.2f}" for key in ("order", "solid", "sorted")]
    return [*lengths, *flows, *(_percent(row[key], row["order"]) for key in ("solid", "sorted"))]


def _decision(heats: list[dict[str, float]]) -> str:
    solved = [row["solid"] / row["order"] - 1.0 for row in heats]
    by_distribution = [row["sorted"] / row["order"] - 1.0 for row in heats]
    return f"""**Layers keep their order.** Solved, the ceiling is {_span(solved)} % off that of layers in order on arcs,
where sorting them would take {_span(by_distribution)} %. The numbers of `meltzone run` are those in order on arcs. The nearer
the end lies behind the holes, the less the two assumptions differ, and the more of what is off is something else: what
is solved holds the web's faces, conduction along the flow, and layers that bend on their way into the holes.

"""


def _core(core: dict[str, float]) -> str:
    pressure = core["share"] * core["strain"] * STRESS
    share, on_web = 100.0 * core["share"], 100.0 * core["on_web"]
    strains = (
        f"{core['strain']:.1f} on the mean of its flow (equivalent strain, {core['least']:.1f} to {core['most']:.1f}"
    )
    return f"""### Cutting a hard core

A core that holds {share:.0f} % of a plug is {2.0 * core["radius"]:.2f} mm thick; {on_web:.0f} % of it meets the web.
On its way into the holes it is strained by {strains};
it grows without bound at the sharp edges). By the upper-bound theorem of plasticity a core that yields at {STRESS:.0f} MPa,
and that slips along its walls, takes at most {pressure:.1f} MPa for that, {pressure * FILAMENT:.0f} N on a filament of 1.75 mm;
at another yield stress in proportion. Whether it breaks before, or jams, is not answered here.
"""
