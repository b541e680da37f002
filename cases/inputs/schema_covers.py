"""The schema of what is put around nozzle and block: the keys of sleeve, wrap and the nozzle's cover, with their defaults."""

from __future__ import annotations

from typing import Literal

from pydantic import StrictBool

from meltzone.cases.inputs.fields import Length, Name, Table, key
from meltzone.geometry.covers import Sleeve, Wrap
from meltzone.geometry.nozzle_cover import NozzleCover

SLEEVE, WRAP, COVER = Sleeve(), Wrap(), NozzleCover()


class SleeveTable(Table):
    """A threaded sleeve, or stacked nuts, on the bare thread between block and hexagon. Leave it out for none."""

    home = "arrangement.sleeve"

    material: Name = key("brass", "Material of the sleeve.")
    height: Length = key(
        SLEEVE.height, "Height, measured down from the block's lower face.", noun="sleeve height", step="1 mm"
    )
    width: Length = key(
        SLEEVE.width, "Across the flats, or the diameter where round is true.", noun="sleeve width", step="1 mm"
    )
    round: StrictBool = key(SLEEVE.round, "Round instead of hexagonal.")


class WrapTable(Table):
    """Insulation of one thickness on block, exposed nozzle or both. Leave it out for none."""

    home = "arrangement.wrap"

    material: Name = key("silicone", "Material of the insulation.")
    thickness: Length = key(WRAP.thickness, "Thickness.", noun="wrap thickness", step="0.5 mm")
    gap: Length | None = key(
        None,
        "Gap of still air between block and boot.",
        "none: the boot lies on the block",
        noun="gap between block and boot",
        step="0.2 mm",
        example='"0.5 mm"',
    )
    covers: tuple[Literal["block", "nozzle"], ...] = key(
        WRAP.covers,
        'What is covered: "block" (lower face and side, of a second block too), "nozzle" (all of its exposed length), or both.',
    )


class NozzleCoverTable(Table):
    """A cap of insulation round cone and hexagon of the nozzle, open round its tip. Leave it out for none."""

    home = "arrangement.nozzle_cover"

    material: Name = key("silicone", "Material of the cap.")
    thickness: Length = key(
        COVER.thickness,
        "Thickness round the hexagon; round the cone it fills what is left.",
        noun="thickness of the nozzle's cover",
        step="0.5 mm",
    )
    clearance: Length = key(
        COVER.clearance,
        "How far the nozzle's tip stands out of it.",
        noun="length of the tip out of the nozzle's cover",
        step="0.2 mm",
    )
