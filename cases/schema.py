"""The schema of a case file: every table and key with its meaning, unit and default."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, StrictBool, StrictStr, model_validator

from meltzone.cases.fields import (
    Angle,
    ChannelCount,
    Conductance,
    Emissivity,
    Exponent,
    Film,
    Force,
    HotTemperature,
    Length,
    Line,
    MeltTemperature,
    MeshLevel,
    Name,
    Power,
    PowerShare,
    Rise,
    RoomTemperature,
    Share,
    Speed,
    Table,
    key,
)
from meltzone.fem.inputs import Contacts, Operation, Surroundings
from meltzone.geometry.block import Block, SecondBlock
from meltzone.geometry.channels import Channels
from meltzone.geometry.covers import Sleeve, Wrap
from meltzone.geometry.filament import Filament
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.liner import Liner
from meltzone.geometry.nozzle import Nozzle

BLOCK, NOZZLE, HEAT_BREAK, SLEEVE, WRAP, FILAMENT = Block(), Nozzle(), HeatBreak(), Sleeve(), Wrap(), Filament()
LINER, SECOND_BLOCK, CHANNELS = Liner(), SecondBlock(), Channels()
CONTACTS, SURROUNDINGS, OPERATION = Contacts(), Surroundings(), Operation(setpoint=483.15)
JET_SPEED = 5.0  # [m/s] common practice, no source: a small blower a few centimetres from the nozzle


class PolymerTable(Table):
    """What is melted, and how the end of the melt zone is judged."""

    material: Name = key("pla", "The polymer: a shipped card, or one of your own in [materials.NAME].")
    filament_diameter: Length = key(FILAMENT.diameter, "Diameter of the solid filament.")
    inlet_temperature: RoomTemperature = key(
        OPERATION.inlet_temperature, "Temperature of the filament as it enters the heat break."
    )
    flow_temperature: MeltTemperature | None = key(
        None,
        "Temperature above which the polymer yields to the feeder; the melt ceiling is judged by it.",
        "the card's",
    )
    softening_temperature: MeltTemperature | None = key(
        None, "Temperature above which the filament's skin wets the bore.", "the card's"
    )
    criterion: Literal["core", "inner", "mean"] = key(
        OPERATION.criterion,
        "Which temperature at the end of the melt zone must reach the flow temperature: that of the axis (core), that at "
        "the edge of the innermost share of the flow (inner), or the mean weighted by flow (mean).",
    )
    inner_share: Share | None = key(
        None,
        'Share of the flow that the criterion "inner" calls the stiff core.',
        "a tenth, or (orifice/bore)^2 where that is more, of the bore above the cone: a core no wider than the orifice passes",
    )
    profile: Literal["plug", "power-law", "shaped", "solved"] = key(
        OPERATION.profile,
        "Velocity over the filled bore: the same everywhere, that of a power-law melt, shaped by the local viscosity of each "
        "section, or solved as slow flow together with the temperatures (the last two need a material with viscosity).",
    )
    power_law_exponent: Exponent = key(
        OPERATION.profile_exponent, "Exponent n of the power-law profile; 1 is Newtonian."
    )


class HeaterTable(Table):
    """The heater in the block and the sensor that holds the setpoint."""

    setpoint: HotTemperature = Field(description="Temperature held at the sensor.")
    rating: Power = key(OPERATION.rating, "Power of the heater when fully on.")
    ring_radius: Length = key(BLOCK.heater_radius, "Mean radius of the ring that stands for the cartridge.")
    ring_width: Length = key(BLOCK.heater_width, "Radial thickness of that ring.")
    sensor_radius: Length = key(BLOCK.sensor_radius, "Distance of the sensor from the axis.")
    sensor_height: Length | None = key(
        None, "Height of the sensor above the block's lower face.", "half the block's height"
    )


class FeederTable(Table):
    """The feeder that pushes the filament."""

    grip: Force | None = key(
        None,
        "Force at which it slips on the filament, as measured; with it the force ceiling is sought.",
        "not known: no force ceiling is sought",
    )
    slip_rise: Rise = key(
        OPERATION.slip_rise,
        "By what share more than its grip the feeder pulls when it spins in place; beyond the grip it slips so far that the "
        "force goes up with the slip (assumed, no source).",
    )


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


class ContactsTable(Table):
    """Contact conductances; those of threads count per area of their flanks."""

    bore_melt: Conductance = key(CONTACTS.bore_melt, "Softened filament to bore wall.")
    thread: Conductance = key(CONTACTS.thread, "Threads of nozzle and heat break in the block.")
    shoulder: Conductance = key(CONTACTS.shoulder, "Joint between nozzle and heat break.")
    sleeve_thread: Conductance = key(CONTACTS.sleeve_thread, "Thread between sleeve and nozzle.")
    sleeve_face: Conductance = key(CONTACTS.sleeve_face, "Sleeve against the block's lower face.")
    wrap: Conductance = key(CONTACTS.wrap, "Wrap or boot on metal.")
    cold_joint: Conductance = key(CONTACTS.cold_joint, "Heat break to heat sink.")
    block_face: Conductance = key(CONTACTS.block_face, "Second block on the first.")
    liner: Conductance = key(CONTACTS.liner, "Liner on heat break and nozzle.")


class SurroundingsTable(Table):
    """Air, heat sink and part-cooling jet."""

    air_temperature: RoomTemperature = key(SURROUNDINGS.air_temperature, "Temperature of the still air.")
    cold_temperature: RoomTemperature = key(SURROUNDINGS.cold_temperature, "Temperature of the heat sink.")
    fan: StrictBool = key(False, "Whether the part-cooling jet blows.")
    jet_speed: Speed = key(JET_SPEED, "Air speed of the jet where it meets the faces; counts when fan is true.")
    jet_reaches: tuple[StrictStr, ...] = key(
        SURROUNDINGS.jet_reaches, "Faces that the jet meets: face names, or their first words."
    )
    films: dict[str, Film] = key({}, "Film coefficients instead of the correlations, by face name or its first words.")
    emissivities: dict[str, Emissivity] = key({}, "Emissivities that replace those of the materials' cards, by part.")


class MeshTable(Table):
    """Fineness of the mesh."""

    level: MeshLevel = key(1.0, "1 is the everyday mesh; each level up has about twice the unknowns.")


def _left_out(value: object) -> object:
    """`sleeve = false` drops an inherited table."""
    return None if value is False else value


class CaseModel(Table):
    """A whole case; all values in SI."""

    title: Line = key("", "One line that says what the case is.")
    extends: StrictStr | tuple[StrictStr, ...] | None = key(
        None,
        "Another case file (relative to this one) or a shipped example, or a list of them, the nearest first; this file's "
        "keys go on top.",
        "none",
    )
    polymer: PolymerTable = key(PolymerTable(), PolymerTable.__doc__ or "")
    heater: HeaterTable = Field(description=HeaterTable.__doc__)
    feeder: FeederTable = key(FeederTable(), FeederTable.__doc__ or "")
    block: BlockTable = key(BlockTable(), BlockTable.__doc__ or "")
    second_block: Annotated[SecondBlockTable | None, BeforeValidator(_left_out)] = key(
        None, SecondBlockTable.__doc__ or "", "none"
    )
    nozzle: NozzleTable = key(NozzleTable(), NozzleTable.__doc__ or "")
    heat_break: HeatBreakTable = key(HeatBreakTable(), HeatBreakTable.__doc__ or "")
    sleeve: Annotated[SleeveTable | None, BeforeValidator(_left_out)] = key(None, SleeveTable.__doc__ or "", "none")
    wrap: Annotated[WrapTable | None, BeforeValidator(_left_out)] = key(None, WrapTable.__doc__ or "", "none")
    liner: Annotated[LinerTable | None, BeforeValidator(_left_out)] = key(None, LinerTable.__doc__ or "", "none")
    channels: Annotated[ChannelsTable | None, BeforeValidator(_left_out)] = key(
        None, ChannelsTable.__doc__ or "", "none"
    )
    contacts: ContactsTable = key(ContactsTable(), ContactsTable.__doc__ or "")
    surroundings: SurroundingsTable = key(SurroundingsTable(), SurroundingsTable.__doc__ or "")
    mesh: MeshTable = key(MeshTable(), MeshTable.__doc__ or "")
    materials: dict[str, dict[str, Any]] = key(
        {}, "Your own material cards, one table [materials.NAME] each, in the form of the shipped cards."
    )

    uncertainty: dict[str, dict[str, StrictStr]] = key(
        {}, 'Tolerances of material properties, one standard deviation each: polymer.conductivity = "10 %".'
    )

    @model_validator(mode="before")
    @classmethod
    def _setpoint_is_asked_for(cls, data: Any) -> Any:
        """Without [heater] the missing key is the setpoint, not the table."""
        return {"heater": {}, **data} if isinstance(data, dict) else data


# absent means none, `NAME = false` drops an inherited one
OPTIONAL_TABLES = tuple(name for name, field in CaseModel.model_fields.items() if field.metadata)
