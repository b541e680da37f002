"""The schema of a case file: every table and key with its meaning, unit and default."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, StrictBool, StrictStr, model_validator

from meltzone.cases.inputs.fields import (
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
    Rise,
    RoomTemperature,
    Share,
    Speed,
    Table,
    key,
)
from meltzone.cases.inputs.schema_parts import (
    BlockTable,
    ChannelsTable,
    HeatBreakTable,
    LinerTable,
    NozzleTable,
    SecondBlockTable,
    SleeveTable,
    WrapTable,
)
from meltzone.fem.inputs import Contacts, Operation, Surroundings
from meltzone.geometry.block import Block
from meltzone.geometry.filament import Filament

BLOCK, FILAMENT = Block(), Filament()
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
