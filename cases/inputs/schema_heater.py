"""The schema of the heaters and of the sensor that holds them: their keys, with their defaults."""

from __future__ import annotations

from meltzone.cases.inputs.fields import HotTemperature, Length, Power, PowerShare, Resistance, Table, key
from meltzone.fem.inputs import Operation
from meltzone.geometry.block import Block, SecondHeater

BLOCK, OPERATION, SECOND = Block(), Operation(setpoint=483.15), SecondHeater()


class HeaterTable(Table):
    """The heater in the block and the sensor that holds the setpoint."""

    home = "operation"

    setpoint: HotTemperature = key(
        ..., "Temperature held at the sensor.", noun="setpoint", step="10 K", example='"210 degC"', plausible="3 K"
    )
    rating: Power = key(
        OPERATION.rating, "Power of the heater when fully on.", noun="heater rating", step="10 W", plausible="5 %"
    )
    ring_radius: Length = key(
        BLOCK.heater_radius,
        "Mean radius of the ring that stands for the cartridge.",
        noun="distance of the heater from the axis",
        step="1 mm",
        place="arrangement.block.heater_radius",
    )
    ring_width: Length = key(
        BLOCK.heater_width,
        "Radial thickness of that ring.",
        noun="thickness of the heater ring",
        step="1 mm",
        place="arrangement.block.heater_width",
    )
    ring_length: Length | None = key(
        None,
        "Length of the ring along the axis, of a heater that does not reach through the block.",
        "the block's height, of both blocks where there are two",
        noun="length of the heater ring",
        step="1 mm",
        place="arrangement.block.heater_length",
        example='"6 mm"',
    )
    ring_begin: Length | None = key(
        None,
        "Where a ring of a given length begins above the block's lower face.",
        "so that it sits in the middle",
        noun="height at which the heater ring begins",
        step="1 mm",
        place="arrangement.block.heater_begin",
        example='"2 mm"',
    )
    sensor_radius: Length = key(
        BLOCK.sensor_radius,
        "Distance of the sensor from the axis.",
        noun="distance of the sensor from the axis",
        step="1 mm",
        place="arrangement.block.sensor_radius",
    )
    sensor_height: Length | None = key(
        None,
        "Height of the sensor above the block's lower face.",
        "half the block's height",
        noun="height of the sensor in the block",
        step="1 mm",
        place="arrangement.block.sensor_height",
        implied="arrangement.block.sensor_level",
    )
    sensor_contact: Resistance | None = key(
        None,
        "Resistance between the metal and the sensor in its hole or on its screw; it then reads low by what its leads take.",
        "none: the sensor is as warm as the metal",
        noun="contact of the sensor",
        step="1 K/W",
        role="data",
        example='"5 K/W"',
        plausible="factor 2",
    )
    sensor_leads: Resistance = key(
        OPERATION.sensor_leads,
        "Resistance from the sensor along its leads to the air (common practice, no source).",
        noun="resistance of the sensor's leads",
        step="50 K/W",
        role="data",
        when=lambda system: system.problem.operation.sensor_contact is not None,
        plausible="factor 2",
    )


class SecondHeaterTable(Table):
    """A second cartridge in the block, another ring; heater.rating is that of both. Leave it out for none."""

    home = "arrangement.second_heater"

    ring_radius: Length = key(
        SECOND.ring_radius,
        "Mean radius of the ring that stands for it; two cartridges at one distance, beside the nozzle, are one ring.",
        noun="distance of the second heater from the axis",
        step="1 mm",
        follows="heater.ring_radius",
    )
    ring_width: Length = key(
        SECOND.ring_width,
        "Radial thickness of that ring.",
        noun="thickness of the second heater's ring",
        step="1 mm",
        follows="heater.ring_width",
    )
    ring_length: Length | None = key(
        None,
        "Length of the ring along the axis.",
        "the block's height",
        noun="length of the second heater's ring",
        step="1 mm",
        example='"4 mm"',
    )
    ring_begin: Length | None = key(
        None,
        "Where a ring of a given length begins above the block's lower face.",
        "so that it sits in the middle",
        noun="height at which the second heater's ring begins",
        step="1 mm",
        example='"6 mm"',
    )
    power_share: PowerShare = key(
        0.5,
        "Share of the heaters' power released in it.",
        noun="share of the power released in the second heater",
        step="0.1",
        place="operation.second_heater_share",
        when=lambda system: system.problem.arrangement.second_heater is not None,
        plausible="0.05",
    )
