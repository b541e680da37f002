"""What the judgement at the end of the melt zone is worth with the orifice at hand: where its number is a guess."""

from __future__ import annotations

from meltzone.cases.studies.cautions import ZERO_CELSIUS
from meltzone.fem.field import Field

BACKED_SHARE = 0.25  # the widest default share of a stiff core that measurements speak for [-]
CLEARLY = 0.5  # by how much a mean must stay below the flow temperature to be told [K]


def core_notes(field: Field, share_given: bool) -> tuple[str, ...]:
    """Warnings on `field`: most of the flow has not melted; a default share for a stiff core beyond what was measured.

    `share_given` is whether the case gives polymer.inner_share.
    """
    return (*_unmelted(field), *(() if share_given else _unbacked(field)))


def _unmelted(field: Field) -> tuple[str, ...]:
    threshold = field.problem.materials.polymer.flow_temperature
    if field.mean >= threshold - CLEARLY:
        return ()
    return (
        f"at {1e9 * field.flow:.1f} mm³/s the melt leaves the melt zone at {field.mean - ZERO_CELSIUS:.0f} degC in the mean, "
        f"below the flow temperature of {threshold - ZERO_CELSIUS:.0f} degC: most of it is not molten, so do not count on "
        "this flow",
    )


def _unbacked(field: Field) -> tuple[str, ...]:
    operation = field.problem.operation
    if operation.criterion != "inner" or operation.inner_share <= BACKED_SHARE:
        return ()
    return (
        f"for want of polymer.inner_share the stiff core may be {100.0 * operation.inner_share:.0f} % of the flow, that is "
        "(orifice/bore)²: for so wide an orifice no measurement backs this rule (at 1.2 mm it was 14 to 30 % low against "
        "second-hand values), and the melt ceiling is a guess",
    )
