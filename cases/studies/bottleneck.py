"""What limits a case, in one sentence: the largest share of the budget and what it means for whoever wants more."""

from __future__ import annotations

from meltzone.fem.explain import Explanation

# The way of the heat, for the order in which people read a budget.
PATH = (
    "heater rating",
    "block",
    "second block",
    "joint of the two blocks",
    "threads in the block",
    "flat joints",
    "sleeve thread",
    "sleeve",
    "joint of nozzle and heat break",
    "nozzle wall",
    "heat break",
    "liner",
    "webs between the channels",
    "gas gap around the filament",
    "bore contact",
    "filament itself",
    "viscous heat",
    "flow resistance of the melt",
    "wrap",
    "losses to the air",
    "loss to the heat sink",
)
MEANS = {
    "filament itself": "the heat must get through the filament, which conducts badly. Only a longer melt zone, a hotter "
    "setpoint, or dividing the core into several thinner streams helps much",
    "bore contact": "the heat is held up between bore wall and melt. What brings the melt closer to the wall, or makes the "
    "zone longer, helps",
    "gas gap around the filament": "the filament stays cold in its gas gap. A closer bore, or a longer zone, helps",
    "threads in the block": "the heat is held up in the threads between block and nozzle. More engaged or better-seated "
    "thread helps",
    "nozzle wall": "the heat is held up on its way down the nozzle. A better conductor, more wall, or a sleeve helps",
    "heat break": "the heat is held up in the heat break inside the block. More nozzle and less heat break there helps",
    "liner": "the heat is held up in the liner, which conducts badly. A liner that ends higher up helps",
    "block": "the heat is held up in the block. A better conductor, or a heater closer to the axis, helps",
    "wrap": "what the insulation keeps in counts most. More of it helps",
    "viscous heat": "the feeder's work heats the melt more than the wall does. A finer velocity model than this is advisable",
}
OTHER = "the heat is held up there. Improving it helps"


def bottleneck_sentence(explained: Explanation) -> str:
    """Names the largest share of the budget, what helps against it, and what all the rest of the way is worth."""
    budget, name = explained.budget, explained.bottleneck
    if name == "heater rating":
        return _rating_sentence(explained)
    own = round(100.0 * budget[name])
    rest = round(100.0 * sum(budget.values())) - own  # losses count against it, as in the table
    head = name[:1].upper() + name[1:]
    verb = "governs" if budget[name] >= 0.5 else "counts most with"
    return (
        f"{head} {verb} {own} %: {MEANS.get(name, OTHER)}; everything else together, less what losses "
        f"take, is worth {rest} %."
    )


def bottleneck_brief(explained: Explanation) -> str:
    """The same in a clause, for whoever reads no further: the largest share of the budget."""
    name = explained.bottleneck
    return f"Limit: {name}, {100.0 * explained.budget[name]:.0f} %."


def _rating_sentence(explained: Explanation) -> str:
    field = explained.adjoint.field
    lost = 1.0 - field.balance.melt / field.power
    return (
        f"Heater rating governs: the heater is used up before the filament fails to melt, and {100.0 * lost:.0f} % of its heat "
        f"is lost. 1 % more power is worth {explained.budget['heater rating']:.1f} % more flow; more power, or less lost on "
        "the way, helps, a longer melt zone does not."
    )


def ordered(budget: dict[str, float]) -> dict[str, float]:
    """The budget along the way of the heat; what has no place on it stands among what is laid round."""
    known = {name: number for number, name in enumerate(PATH)}
    return {name: budget[name] for name in sorted(budget, key=lambda name: known.get(name, known["wrap"]))}
