"""The schema of a hot end's parts: the keys of block, nozzle, heat break and of all that may be added, with their defaults."""

from __future__ import annotations

from typing import Literal

from pydantic import StrictBool

from meltzone.cases.inputs.fields import (
    Angle,
    ChannelCount,
    Length,
    Name,
    PowerShare,
    Table,
    key,
)
from meltzone.geometry.block import Block, SecondBlock
from meltzone.geometry.channels import Channels
from meltzone.geometry.covers import Sleeve, Wrap
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.liner import Liner
from meltzone.geometry.nozzle import Nozzle

BLOCK, NOZZLE, HEAT_BREAK, SLEEVE, WRAP = Block(), Nozzle(), HeatBreak(), Sleeve(), Wrap()
LINER, SECOND_BLOCK, CHANNELS = Liner(), SecondBlock(), Channels()


class BlockTable(Table):
    """The rectangular heater block; it is modelled as a disc of the same volume with the box's outer area."""

    material: Name = key("aluminium", "Material of the block.")
    width: Length = key(BLOCK.width, "Longer side in plan.")
    depth: Length = key(BLOCK.depth, "Shorter side in plan.")
    height: Length = key(BLOCK.height, "Height along the axis.")


class SecondBlockTable(Table):
    """A second block on the first, with the heat break's thread running through both. Leave it out for none."""

    material: Name = key("aluminium", "Material of the second block.")
    width: Length = key(SECOND_BLOCK.width, "Longer side in plan.")
    depth: Length = key(SECOND_BLOCK.depth, "Shorter side in plan.")
    height: Length = key(SECOND_BLOCK.height, "Height along the axis.")
    power_share: PowerShare = key(
        0.5,
        "Share of the heater's power released in it, in a ring like that of the first; 0 is a block without a heater.",
    )


class NozzleTable(Table):
    """The nozzle: from its face upwards land, inner cone and bore; outside tip cone, hexagon and thread."""

    material: Name = key("brass", "Material of the nozzle.")
    length: Length = key(NOZZLE.length, "Length over all.")
    exposed: Length = key(NOZZLE.exposed, "What stands below the block: tip cone, hexagon and bare thread.")
    bore: Length = key(NOZZLE.bore, "Diameter of the bore, where it has a lower part that of its upper part.")
    lower_bore: Length | None = key(
        None,
        "Diameter of a narrower or wider lower part of the bore, down to the inner cone; it may be narrower than the filament.",
        "none: one bore throughout",
    )
    lower_bore_length: Length | None = key(
        None, "Length of the lower part, above the inner cone.", "must be given with lower_bore"
    )
    taper_length: Length | None = key(
        None, "Length over which the upper bore passes into the lower one.", "a step, with a shoulder of 45 deg"
    )
    orifice: Length = key(NOZZLE.orifice, "Diameter of the orifice.")
    land: Length = key(NOZZLE.land, "Length of the orifice's capillary.")
    cone_angle: Angle = key(NOZZLE.cone_angle, "Full angle of the inner cone.")
    thread_diameter: Length = key(NOZZLE.thread.diameter, "Nominal diameter of the metric thread, 6 mm for M6.")
    thread_pitch: Length = key(NOZZLE.thread.pitch, "Pitch of the thread.")
    hexagon: Length = key(NOZZLE.hexagon, "Hexagon, across the flats.")
    hexagon_height: Length = key(NOZZLE.hexagon_height, "Height of the hexagon.")
    tip_diameter: Length = key(NOZZLE.tip_diameter, "Diameter of the flat face around the orifice.")
    tip_cone_height: Length = key(NOZZLE.tip_cone_height, "Height of the outer cone between face and hexagon.")
    exposed_thread: Literal["smooth", "rings"] = key(
        NOZZLE.exposed_thread,
        "How bare thread is modelled: its pitch cylinder with an area factor, or ridges resolved on the mesh.",
    )


class HeatBreakTable(Table):
    """The heat break above the nozzle: threaded into the block, then a thin neck, then the cooled length."""

    material: Name = key("stainless steel", "Material of the heat break.")
    bore: Length | None = key(
        None, "Diameter of its bore; where it is not the nozzle's the passage steps at the joint.", "the nozzle's bore"
    )
    neck_diameter: Length = key(HEAT_BREAK.neck_diameter, "Outer diameter of the neck.")
    neck_length: Length = key(HEAT_BREAK.neck_length, "Length of the neck above the block.")
    cooled_length: Length = key(HEAT_BREAK.cooled_length, "Modelled length inside the heat sink, above the neck.")


class SleeveTable(Table):
    """A threaded sleeve, or stacked nuts, on the bare thread between block and hexagon. Leave it out for none."""

    material: Name = key("brass", "Material of the sleeve.")
    height: Length = key(SLEEVE.height, "Height, measured down from the block's lower face.")
    width: Length = key(SLEEVE.width, "Across the flats, or the diameter where round is true.")
    round: StrictBool = key(SLEEVE.round, "Round instead of hexagonal.")


class WrapTable(Table):
    """Insulation of one thickness on block, exposed nozzle or both. Leave it out for none."""

    material: Name = key("silicone", "Material of the insulation.")
    thickness: Length = key(WRAP.thickness, "Thickness.")
    covers: tuple[Literal["block", "nozzle"], ...] = key(
        WRAP.covers,
        'What is covered: "block" (lower face and side, of a second block too), "nozzle" (all of its exposed length), or both.',
    )


class LinerTable(Table):
    """A tube in the heat break that guides the filament, in a counterbore from the top down. Leave it out for none."""

    material: Name = key("ptfe", "Material of the liner.")
    inner_diameter: Length = key(LINER.inner_diameter, "Diameter of its bore.")
    outer_diameter: Length = key(LINER.outer_diameter, "Outer diameter; the neck must leave a wall around it.")
    end: Length | None = key(
        None,
        "Depth of its end below the block's upper face; below zero it ends above. From there on the heat break's bore follows.",
        "down to the nozzle's upper face",
    )


class ChannelsTable(Table):
    """A divided length of the nozzle's bore: round holes on a ring, webs of its metal between them. Leave it out for none."""

    number: ChannelCount = key(CHANNELS.number, "Number of holes.")
    hole_diameter: Length = key(CHANNELS.hole_diameter, "Diameter of a hole.")
    length: Length = key(CHANNELS.length, "Length over which the bore is divided.")
    position: Length = key(CHANNELS.position, "Where it begins: depth below the nozzle's upper face.")
    ring_diameter: Length | None = key(
        None, "Diameter of the circle of the holes' centres.", "the holes touch the bore's circle from inside"
    )
