"""The schema of nozzles and heat breaks of two metals: the keys of a tip and of the thick ends, with their defaults."""

from __future__ import annotations

from typing import Literal

from pydantic import StrictBool

from meltzone.cases.inputs.fields import Conductance, Length, Name, Table, joined, key
from meltzone.fem.inputs import Contacts
from meltzone.geometry.two_metals import BreakBody, Tip

TIP, BODY = Tip(), BreakBody()


class TipTable(Table):
    """The nozzle's lower end in a metal of its own, such as hard steel in a body of copper alloy. Leave it out for none."""

    home = "arrangement.tip"

    material: Name = key("tool steel", "Material of the tip.")
    height: Length = key(
        TIP.height, "Height above the nozzle's face, within the tip cone.", noun="height of the tip", step="0.2 mm"
    )
    diameter: Length | None = key(
        None,
        "Diameter of an insert, narrower than the nozzle's face, from which the body goes on around it.",
        "the whole cone",
        noun="diameter of the tip's insert",
        step="0.1 mm",
        example='"1 mm"',
    )
    soldered: StrictBool = key(TIP.soldered, "Without a joint to the nozzle's body.")
    joint: Conductance = key(
        Contacts.tip_joint,
        "Contact conductance on the body; common practice for pressed metals, no source.",
        noun="conductance of the tip's joint",
        step="10 %",
        role="data",
        place="contacts.tip_joint",
        when=joined("tip joint"),
        plausible="factor 2.5",
    )


class BreakBodyTable(Table):
    """Thick ends of the heat break in a metal of their own round its tube, as wide as the neck. Leave it out for none."""

    home = "arrangement.break_body"

    material: Name = key("copper", "Material of the thick ends.")
    covers: tuple[Literal["cooled", "block"], ...] = key(
        BODY.covers, 'Which ends: "cooled", inside the heat sink, "block", the thread inside the block, or both.'
    )
    soldered: StrictBool = key(BODY.soldered, "Without a joint to the tube.")
    joint: Conductance = key(
        Contacts.body_joint,
        "Contact conductance on the tube; common practice for pressed metals, no source.",
        noun="conductance between tube and thick ends",
        step="10 %",
        role="data",
        place="contacts.body_joint",
        when=joined("body joint"),
        plausible="factor 2.5",
    )
