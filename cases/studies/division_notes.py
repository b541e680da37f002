"""What a divided length costs and rests on, in sentences: push, a core still hard at the channels, the order of layers."""

from __future__ import annotations

from meltzone.fem.field import Field
from meltzone.materials.units import ZERO_CELSIUS

MEGA = 1e-6
LEAST = 0.005  # of the flow: a harder share than this is told


def division_notes(field: Field) -> tuple[str, ...]:
    """Notes on `field`, none where the bore is not divided."""
    if field.problem.arrangement.channels is None:
        return ()
    return (*_pushing(field), *_hard_core(field), _order(field))


def _pushing(field: Field) -> tuple[str, ...]:
    from meltzone.fem.slow_flow.feeding import feeding, missing_for_force  # only divided bores need it

    missing = missing_for_force(field.problem)
    if missing:
        return (f"the channels ask for more push, but {missing} to work it out from",)
    found = feeding(field)
    text = (
        f"the channels take about {MEGA * found.channels:.1f} MPa along their walls and {MEGA * found.dividing:.1f} MPa at "
        f"their entry, of {MEGA * found.pressure:.1f} MPa in all: {found.force:.0f} N on the filament"
    )
    if field.problem.operation.grip is None:
        text += "; with feeder.grip the force ceiling is sought as well"
    return (text,)


def _order(field: Field) -> str:
    from meltzone.fem.passage import worth_of_order  # only divided bores need sections across the flow

    less = worth_of_order(field.problem, field.flow)
    return (
        "layers are taken to keep their order where the stream divides and joins; slow flow in three dimensions nearly does, "
        f"which leaves 3 to 7 % less; sorted by temperature it would melt through at {100.0 * less:.0f} % less flow only"
    )


def _hard_core(field: Field) -> tuple[str, ...]:

    from meltzone.fem.slow_flow.feeding import hard_share  # see `_pushing`

    hard = hard_share(field)
    if hard < LEAST:
        return ()
    soft = field.problem.materials.polymer.softening_temperature - ZERO_CELSIUS
    return (
        f"the innermost {100.0 * hard:.0f} % of the flow comes to the channels below the softening temperature of {soft:.0f} "
        "degC: what it takes to cut a hard core apart is not modelled, so this ceiling is an upper bound; dividing it further "
        "down helps",
    )
