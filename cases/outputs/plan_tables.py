"""What the terminal shows of a plan: the flows, the samples they need, how long it takes, what to heed."""

from __future__ import annotations

from rich.console import Group
from rich.table import Table
from rich.text import Text

from meltzone.cases.outputs.plan_files import AT_THE_BENCH
from meltzone.cases.outputs.tables import HEADING, QUIET, cautions, plain_table, spaced
from meltzone.cases.studies.bench.plan import WARM_UP, Plan


def summary(plan: Plan) -> Group:
    """The whole plan, one line a flow; the sheet has the samples in their order."""
    result, wanted = plan.result, plan.wanted
    head = Text.assemble((result.title, HEADING), "\n", (result.case.file, QUIET))
    head.append(f"\nPredicted ceiling {result.flow_ceiling:.2f} mm³/s, {result.governs} governs")
    rest = Text(
        f"{len(plan.samples)} samples: {wanted.repeats} rounds of {len(plan.samples) // wanted.repeats} flows, each round in "
        f"an order of its own (seed {wanted.seed}).\nMasses known to {100 * wanted.uncertainty:g} % with a balance of "
        f"{1e3 * wanted.balance.resolution:g} g. Filament {plan.fed:.1f} m, {1e3 * _fed_mass(plan):.0f} g. Time "
        f"{_duration(plan.duration)}, of which {WARM_UP / 60:.0f} min warming up and {wanted.handling:.0f} s handling a sample."
    )
    heed = Table.grid(padding=(0, 2))
    for line in AT_THE_BENCH:
        heed.add_row(Text("bench", "yellow"), line)
    return spaced([head, _flows(plan), rest, heed, cautions(result.cautions)])


def _flows(plan: Plan) -> Table:
    table = plain_table(
        "of the ceiling\n[%]", "commanded\n[mm³/s]", "feeder\n[mm/min]", "purge\n[mm]", "length\n[mm]", "time\n[s]",
        "expected\n[g]", "for",
    )  # fmt: skip
    for sample in sorted(plan.samples[: len(plan.samples) // plan.wanted.repeats], key=lambda each: each.flow):
        purpose = "reference" if sample.share < 0.7 else "onset" if sample.share < 1.1 else "plateau"
        table.add_row(
            f"{100 * sample.share:.0f}", f"{1e9 * sample.flow:.2f}", f"{6e4 * sample.speed:.1f}",
            f"{1e3 * sample.purge:.0f}", f"{1e3 * sample.length:.0f}", f"{sample.time:.0f}", f"{1e3 * sample.mass:.2f}",
            purpose,
        )  # fmt: skip
    return table


def _fed_mass(plan: Plan) -> float:
    return plan.fed * plan.filament.area * plan.filament.density.value


def _duration(seconds: float) -> str:
    hours, minutes = divmod(round(seconds / 60.0), 60)
    return f"{hours} h {minutes} min" if hours else f"{minutes} min"
