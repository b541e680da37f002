"""The schema of a case file: its tables, with the keys of what is melted, of heater and feeder, of the mesh."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, StrictStr, model_validator

from meltzone.cases.inputs.fields import (
    Exponent,
    Force,
    Length,
    Line,
    MeltTemperature,
    MeshLevel,
    Name,
    Rise,
    RoomTemperature,
    Share,
    SmallSlip,
    Table,
    key,
)
from meltzone.cases.inputs.printed_line import LineSizes
from meltzone.cases.inputs.schema_covers import NozzleCoverTable, SleeveTable, WrapTable
from meltzone.cases.inputs.schema_heater import HeaterTable, SecondHeaterTable
from meltzone.cases.inputs.schema_outside import ContactsTable, SurroundingsTable
from meltzone.cases.inputs.schema_parts import (
    BlockTable,
    ChannelsTable,
    HeatBreakTable,
    LinerTable,
    NozzleTable,
    SecondBlockTable,
)
from meltzone.cases.inputs.schema_sink import HeatSinkTable
from meltzone.cases.inputs.schema_two_metals import BreakBodyTable, TipTable
from meltzone.fem.inputs import Criterion, Operation
from meltzone.geometry.filament import Filament

FILAMENT = Filament()
OPERATION = Operation(setpoint=483.15)


class PolymerTable(Table):
    """What is melted, and how the end of the melt zone is judged."""

    home = "operation"

    material: Name = key("pla", "The polymer: a shipped card, or one of your own in [materials.NAME].")
    filament_diameter: Length = key(
        FILAMENT.diameter,
        "Diameter of the solid filament.",
        noun="filament diameter",
        step="0.05 mm",
        place="arrangement.filament.diameter",
        plausible="0.05 mm",
    )
    inlet_temperature: RoomTemperature = key(
        OPERATION.inlet_temperature,
        "Temperature of the filament as it enters the heat break.",
        noun="temperature of the filament as fed",
        step="10 K",
        role="data",
        plausible="5 K",
    )
    flow_temperature: MeltTemperature | None = key(
        None,
        "Temperature above which the polymer yields to the feeder; the melt ceiling is judged by it.",
        "the card's",
        noun="flow temperature of the polymer",
        step="5 K",
        role="data",
        place="materials.polymer.flow_temperature",
        plausible="card",
    )
    softening_temperature: MeltTemperature | None = key(
        None,
        "Temperature above which the filament's skin wets the bore.",
        "the card's",
        noun="softening temperature of the polymer",
        step="5 K",
        role="data",
        place="materials.polymer.softening_temperature",
        plausible="card",
    )
    criterion: Criterion = key(
        OPERATION.criterion,
        "Which temperature at the end of the melt zone must reach the flow temperature: that of the axis (core), that at "
        "the edge of the innermost share of the flow (inner), or the mean weighted by flow (mean).",
    )
    inner_share: Share | None = key(
        None,
        'Share of the flow that the criterion "inner" calls the stiff core.',
        "a tenth, or (orifice/bore)^2 where that is more, of the bore above the cone: a core no wider than the orifice passes",
        noun="share of the flow called the stiff core",
        step="0.05",
        role="data",
        when=lambda system: system.problem.operation.criterion == "inner",
        plausible="factor 2",
    )
    profile: Literal["plug", "power-law", "shaped", "solved"] = key(
        OPERATION.profile,
        "Velocity over the filled bore: the same everywhere, that of a power-law melt, shaped by the local viscosity of each "
        "section, or solved as slow flow together with the temperatures (the last two need a material with viscosity).",
    )
    power_law_exponent: Exponent = key(
        OPERATION.profile_exponent,
        "Exponent n of the power-law profile; 1 is Newtonian.",
        noun="exponent of the power-law profile",
        step="0.1",
        role="data",
        place="operation.profile_exponent",
        when=lambda system: system.problem.operation.profile == "power-law",
        plausible="0.1",
    )


class FeederTable(Table):
    """The feeder that pushes the filament."""

    home = "operation"

    grip: Force | None = key(
        None,
        "Force at which it slips on the filament, as measured; with it the force ceiling is sought.",
        "not known: no force ceiling is sought",
        noun="grip of the feeder",
        step="10 N",
        example='"60 N"',
        plausible="20 %",
    )
    slip_rise: Rise = key(
        OPERATION.slip_rise,
        "By what share more than its grip the feeder pulls when it spins in place; beyond the grip it slips so far that the "
        "force goes up with the slip (assumed, no source).",
    )
    slip_at_grip: SmallSlip = key(
        OPERATION.slip_at_grip,
        "What share of the commanded flow is lost to slip where pushing takes the grip; before, slip grows with the force, so "
        "that the curve bends (assumed, no source). It moves no ceiling.",
    )


class LineTable(Table):
    """The printed lines that turn a flow into a print speed."""

    sizes: LineSizes = key(
        (),
        "Layer height x width of each line; its section is a rectangle with half circles at both sides (common practice, no "
        "source).",
        "none",
        example='["0.2 mm x 0.45 mm", "0.3 mm x 0.6 mm"]',
    )


class MeshTable(Table):
    """Fineness of the mesh."""

    level: MeshLevel = key(1.0, "1 is the everyday mesh; each level up has about twice the unknowns.", place="level")


def _left_out(value: object) -> object:
    """`sleeve = false` drops an inherited table."""
    return None if value is False else value


class CaseModel(Table):
    """A whole case; all values in SI."""

    title: Line = key("", "One line that says what the case is.", example='"Short block, setpoint raised"')
    extends: StrictStr | tuple[StrictStr, ...] | None = key(
        None,
        "Another case file (relative to this one) or a shipped example, or a list of them, the nearest first; this file's "
        "keys go on top.",
        "none",
        example='"short-block"',
    )
    polymer: PolymerTable = key(PolymerTable(), PolymerTable.__doc__ or "")
    heater: HeaterTable = key(..., HeaterTable.__doc__ or "")
    feeder: FeederTable = key(FeederTable(), FeederTable.__doc__ or "")
    block: BlockTable = key(BlockTable(), BlockTable.__doc__ or "")
    second_block: Annotated[SecondBlockTable | None, BeforeValidator(_left_out)] = key(
        None, SecondBlockTable.__doc__ or "", "none"
    )
    second_heater: Annotated[SecondHeaterTable | None, BeforeValidator(_left_out)] = key(
        None, SecondHeaterTable.__doc__ or "", "none"
    )
    nozzle: NozzleTable = key(NozzleTable(), NozzleTable.__doc__ or "")
    heat_break: HeatBreakTable = key(HeatBreakTable(), HeatBreakTable.__doc__ or "")
    sleeve: Annotated[SleeveTable | None, BeforeValidator(_left_out)] = key(None, SleeveTable.__doc__ or "", "none")
    wrap: Annotated[WrapTable | None, BeforeValidator(_left_out)] = key(None, WrapTable.__doc__ or "", "none")
    nozzle_cover: Annotated[NozzleCoverTable | None, BeforeValidator(_left_out)] = key(
        None, NozzleCoverTable.__doc__ or "", "none"
    )
    liner: Annotated[LinerTable | None, BeforeValidator(_left_out)] = key(None, LinerTable.__doc__ or "", "none")
    channels: Annotated[ChannelsTable | None, BeforeValidator(_left_out)] = key(
        None, ChannelsTable.__doc__ or "", "none"
    )
    heat_sink: Annotated[HeatSinkTable | None, BeforeValidator(_left_out)] = key(
        None, HeatSinkTable.__doc__ or "", "none: a heat sink of a given temperature"
    )
    tip: Annotated[TipTable | None, BeforeValidator(_left_out)] = key(None, TipTable.__doc__ or "", "none")
    break_body: Annotated[BreakBodyTable | None, BeforeValidator(_left_out)] = key(
        None, BreakBodyTable.__doc__ or "", "none"
    )
    contacts: ContactsTable = key(ContactsTable(), ContactsTable.__doc__ or "")
    surroundings: SurroundingsTable = key(SurroundingsTable(), SurroundingsTable.__doc__ or "")
    line: LineTable = key(LineTable(), LineTable.__doc__ or "")
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
