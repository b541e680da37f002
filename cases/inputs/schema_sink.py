"""The schema of a heat sink that is a part: the keys of its fins and of what cools it, with their defaults."""

from __future__ import annotations

from meltzone.cases.inputs.fields import FinCount, Length, Name, Resistance, RoomTemperature, Speed, Table, key
from meltzone.fem.inputs import Surroundings
from meltzone.geometry.heat_sink import HeatSink

HEAT_SINK = HeatSink()


class HeatSinkTable(Table):
    """The heat sink as a part, with round fins and its own fan or a resistance; leave it out for one of a given temperature."""

    home = "arrangement.heat_sink"

    material: Name = key("aluminium", "Material of core and fins.")
    core_diameter: Length = key(
        HEAT_SINK.core_diameter, "Diameter of the core.", noun="core diameter of the heat sink", step="1 mm"
    )
    fin_diameter: Length = key(
        HEAT_SINK.fin_diameter, "Diameter over the fins.", noun="fin diameter of the heat sink", step="1 mm"
    )
    fin_thickness: Length = key(
        HEAT_SINK.fin_thickness, "Thickness of a fin.", noun="thickness of a fin", step="0.1 mm"
    )
    fins: FinCount = key(HEAT_SINK.fins, "Number of fins.")
    height: Length = key(HEAT_SINK.height, "Height over which they stand.", noun="height of the heat sink", step="1 mm")
    fan_speed: Speed = key(
        Surroundings.sink_speed,
        "Air speed between the fins (common practice, no source); counts without a resistance.",
        noun="air speed in the heat sink",
        step="0.5 m/s",
        place="surroundings.sink_speed",
        when=lambda system: system.problem.surroundings.sink_resistance is None,
        plausible="factor 1.6",
    )
    resistance: Resistance | None = key(
        None,
        "From the core to its coolant, in place of fins and fan.",
        "by fins and fan",
        noun="resistance of the heat sink",
        step="0.5 K/W",
        place="surroundings.sink_resistance",
        example='"1.5 K/W"',
        plausible="factor 1.5",
    )
    coolant_temperature: RoomTemperature | None = key(
        None,
        "Temperature of what cools it.",
        "that of the air",
        noun="coolant temperature of the heat sink",
        step="5 K",
        role="data",
        place="surroundings.sink_coolant",
        example='"30 degC"',
        plausible="5 K",
    )
