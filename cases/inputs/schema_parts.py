"""The schema of a hot end's parts: the keys of block, nozzle, heat break and of all that may be added, with their defaults."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

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
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.liner import Liner
from meltzone.geometry.nozzle import Nozzle

BLOCK, NOZZLE, HEAT_BREAK = Block(), Nozzle(), HeatBreak()
# How far lengths are off as parts are made, and diameters as they are bored: common practice, no source. Lengths that move no
# shipped ceiling by a fifth of a per cent then have no range.
MADE, BORED = "0.1 mm", "0.05 mm"
LINER, SECOND_BLOCK, CHANNELS = Liner(), SecondBlock(), Channels()


def _in_passage(name: str) -> Callable[[Any], bool]:
    """A condition: the bore called `name` is part of the passage."""
    return lambda system: any(bore.key == name for bore in system.problem.arrangement.bores)


class BlockTable(Table):
    """The rectangular heater block; it is modelled as a disc of the same volume with the box's outer area."""

    home = "arrangement.block"

    material: Name = key("aluminium", "Material of the block.")
    width: Length = key(BLOCK.width, "Longer side in plan.", noun="block width", step="1 mm")
    depth: Length = key(
        BLOCK.depth,
        "Shorter side in plan.",
        noun="block depth",
        step="1 mm",
        when=lambda system: not system.problem.arrangement.block.round,
    )
    height: Length = key(BLOCK.height, "Height along the axis.", noun="block height", step="1 mm", plausible=MADE)
    round: StrictBool = key(BLOCK.round, "Round, width being its diameter; depth does not count then.")


class SecondBlockTable(Table):
    """A second block on the first, with the heat break's thread running through both. Leave it out for none."""

    home = "arrangement.second_block"

    material: Name = key("aluminium", "Material of the second block.")
    width: Length = key(SECOND_BLOCK.width, "Longer side in plan.", noun="width of the second block", step="1 mm")
    depth: Length = key(
        SECOND_BLOCK.depth,
        "Shorter side in plan.",
        noun="depth of the second block",
        step="1 mm",
        when=lambda system: not system.problem.arrangement.second_block.round,
    )
    height: Length = key(
        SECOND_BLOCK.height, "Height along the axis.", noun="height of the second block", step="1 mm", plausible=MADE
    )
    round: StrictBool = key(SECOND_BLOCK.round, "Round, width being its diameter; depth does not count then.")
    power_share: PowerShare = key(
        0.5,
        "Share of the heater's power released in it, in a ring like that of the first; 0 is a block without a heater.",
        noun="share of the power released in the second block",
        step="0.1",
        place="operation.second_share",
        when=lambda system: system.problem.arrangement.second_block is not None,
        plausible="0.05",
    )


class NozzleTable(Table):
    """The nozzle: from its face upwards land, inner cone and bore; outside tip cone, hexagon and thread."""

    home = "arrangement.nozzle"

    material: Name = key("brass", "Material of the nozzle.")
    length: Length = key(
        NOZZLE.length, "Length over all.", noun="nozzle length inside the block", step="1 mm", plausible=MADE
    )
    exposed: Length = key(
        NOZZLE.exposed,
        "What stands below the block: tip cone, hexagon and bare thread.",
        noun="nozzle length below the block, pulled out of it",
        step="1 mm",
        plausible=MADE,
    )
    bore: Length = key(
        NOZZLE.bore,
        "Diameter of the bore, where it has a lower part that of its upper part.",
        noun="bore diameter",
        step="0.05 mm",
        plausible=BORED,
    )
    lower_bore: Length | None = key(
        None,
        "Diameter of a narrower or wider lower part of the bore, down to the inner cone; it may be narrower than the filament.",
        "none: one bore throughout",
        noun="diameter of the lower bore",
        step="0.05 mm",
        example='"1.6 mm"',
        plausible=BORED,
    )
    lower_bore_length: Length | None = key(
        None,
        "Length of the lower part, above the inner cone.",
        "must be given with lower_bore",
        noun="length of the lower bore",
        step="1 mm",
        example='"5 mm"',
    )
    taper_length: Length | None = key(
        None,
        "Length over which the upper bore passes into the lower one.",
        "a step, with a shoulder of 45 deg",
        noun="length of the taper between the bores",
        step="1 mm",
        example='"2 mm"',
    )
    orifice: Length = key(NOZZLE.orifice, "Diameter of the orifice.", noun="orifice diameter", step="0.1 mm")
    land: Length = key(
        NOZZLE.land,
        "Length of the orifice's capillary.",
        noun="length of the capillary",
        step="0.1 mm",
        plausible="0.05 mm",
    )
    cone_angle: Angle = key(
        NOZZLE.cone_angle, "Full angle of the inner cone.", noun="full angle of the inner cone", step="10 deg"
    )
    thread_diameter: Length = key(
        NOZZLE.thread.diameter,
        "Nominal diameter of the metric thread, 6 mm for M6.",
        place="arrangement.nozzle.thread.diameter",
    )
    thread_pitch: Length = key(NOZZLE.thread.pitch, "Pitch of the thread.", place="arrangement.nozzle.thread.pitch")
    hexagon: Length = key(NOZZLE.hexagon, "Hexagon, across the flats.", noun="hexagon across the flats", step="1 mm")
    hexagon_height: Length = key(
        NOZZLE.hexagon_height, "Height of the hexagon.", noun="height of the hexagon", step="1 mm"
    )
    tip_diameter: Length = key(
        NOZZLE.tip_diameter,
        "Diameter of the flat face around the orifice.",
        noun="diameter of the nozzle's face",
        step="0.1 mm",
    )
    tip_cone_height: Length = key(
        NOZZLE.tip_cone_height,
        "Height of the outer cone between face and hexagon.",
        noun="height of the tip cone",
        step="0.1 mm",
    )
    exposed_thread: Literal["smooth", "rings"] = key(
        NOZZLE.exposed_thread,
        "How bare thread is modelled: its pitch cylinder with an area factor, or ridges resolved on the mesh.",
    )


class HeatBreakTable(Table):
    """The heat break above the nozzle: threaded into the block, then a thin neck, then the cooled length."""

    home = "arrangement.heat_break"

    material: Name = key("stainless steel", "Material of the heat break.")
    bore: Length | None = key(
        None,
        "Diameter of its bore; where it is not the nozzle's the passage steps at the joint.",
        "the nozzle's bore",
        noun="bore diameter of the heat break",
        step="0.05 mm",
        follows="nozzle.bore",
        when=_in_passage("heat_break.bore"),
        plausible=BORED,
    )
    neck_diameter: Length = key(
        HEAT_BREAK.neck_diameter, "Outer diameter of the neck.", noun="neck diameter", step="0.1 mm"
    )
    neck_length: Length = key(
        HEAT_BREAK.neck_length, "Length of the neck above the block.", noun="neck length", step="1 mm"
    )
    cooled_length: Length = key(
        HEAT_BREAK.cooled_length,
        "Modelled length inside the heat sink, above the neck.",
        noun="cooled length of the heat break",
        step="1 mm",
    )
    soldered: StrictBool = key(
        HEAT_BREAK.soldered, "Without a joint to the nozzle; of one piece with it where both have the same material."
    )


class LinerTable(Table):
    """A tube in the heat break that guides the filament, in a counterbore from the top down. Leave it out for none."""

    home = "arrangement.liner"

    material: Name = key("ptfe", "Material of the liner.")
    inner_diameter: Length = key(
        LINER.inner_diameter,
        "Diameter of its bore.",
        noun="bore diameter of the liner",
        step="0.05 mm",
        follows="nozzle.bore",
        when=_in_passage("liner.inner_diameter"),
        plausible=BORED,
    )
    outer_diameter: Length = key(
        LINER.outer_diameter,
        "Outer diameter; the neck must leave a wall around it.",
        noun="outer diameter of the liner",
        step="0.1 mm",
    )
    end: Length | None = key(
        None,
        "Depth of its end below the block's upper face; below zero it ends above. From there on the heat break's bore follows.",
        "down to the nozzle's upper face",
        noun="depth of the liner's end below the block's upper face",
        step="1 mm",
        example='"2 mm"',
    )


class ChannelsTable(Table):
    """A divided length of the nozzle's bore: round holes on a ring, webs of its metal between them. Leave it out for none."""

    home = "arrangement.channels"

    number: ChannelCount = key(CHANNELS.number, "Number of holes.")
    hole_diameter: Length = key(
        CHANNELS.hole_diameter, "Diameter of a hole.", noun="diameter of the channels", step="0.1 mm", plausible=BORED
    )
    length: Length = key(
        CHANNELS.length,
        "Length over which the bore is divided.",
        noun="length that is divided",
        step="1 mm",
        plausible=MADE,
    )
    position: Length = key(
        CHANNELS.position,
        "Where it begins: depth below the nozzle's upper face.",
        noun="depth below the nozzle's upper face at which the bore divides",
        step="1 mm",
        plausible=MADE,
    )
    ring_diameter: Length | None = key(
        None,
        "Diameter of the circle of the holes' centres.",
        "the holes touch the bore's circle from inside",
        noun="diameter of the ring of the channels",
        step="0.1 mm",
        example='"1.3 mm"',
    )
