"""What the case is and what the words of the report mean, in sentences for people who did not write it."""

from __future__ import annotations

from meltzone.cases.studies.results import MM, Result
from meltzone.cases.studies.wording import judged_words
from meltzone.geometry.block import Box
from meltzone.materials.units import LENGTH, TEMPERATURE, ZERO_CELSIUS, show

PROFILES = {
    "plug": "all of the filled bore moves at one speed",
    "power-law": "a power-law melt's velocity over the filled bore",
    "shaped": "a velocity over the filled bore that is shaped by the local viscosity",
    "solved": "the velocity of the melt's slow flow, solved together with the temperatures",
}
ROUND = {"sleeve": "A sleeve of {material} sits on the bare thread."}


def job_sentences(result: Result) -> list[str]:
    """The hot end, what is around it, and what is asked."""
    return [_hot_end(result), _around(result), _question(result)]


def _measures(box: Box) -> list[str]:
    """Dimensions of a block [mm]."""
    plan = (box.width,) if box.round else (box.width, box.depth)
    return [f"{MM * size:g}" for size in (*plan, box.height)]


def _hot_end(result: Result) -> str:
    problem = result.problem
    a, used = problem.arrangement, problem.materials
    mm = _measures(a.block)
    text = (
        f"{used.polymer.label} filament of {show(a.filament.diameter, LENGTH)} is pushed through a heat break of "
        f"{used.heat_break.label} into a nozzle of {used.nozzle.label}, {show(a.nozzle.length, LENGTH)} long, "
        f"{show(a.nozzle.exposed, LENGTH)} of it below the block, with an orifice of {show(a.nozzle.orifice, LENGTH)}. "
        f"The block of {used.block.label} measures {' x '.join(mm)} mm. Its heater gives {problem.operation.rating:g} W "
        f"at most and holds the sensor at {show(problem.operation.setpoint, TEMPERATURE)}."
    )
    if a.second_block is not None and used.second_block is not None:
        above = a.second_block
        text += (
            f" A second block of {used.second_block.label}, {' x '.join(_measures(above))} mm, sits on it and takes "
            f"{100.0 * problem.operation.second_share:.0f} % of the power."
        )
    if a.second_heater is not None:
        text += f" A second cartridge in it takes {100.0 * problem.operation.second_heater_share:.0f} % of the power."
    for outer in a.outer:
        said = ROUND.get(outer.part, "A {part} of {material} is laid round it.")
        text += f" {said.format(part=outer.part, material=used.solid_of(outer.part).label)}"
    if a.liner is not None and used.liner is not None:
        text += f" A liner of {used.liner.label}, {show(a.liner.inner_diameter, LENGTH)} inside, guides the filament."
    if a.wrap is not None and used.wrap is not None:
        text += f" {used.wrap.label[:1].upper()}{used.wrap.label[1:]} covers {' and '.join(a.wrap.covers)}."
    if a.channels is not None:
        text += (
            f" Over {show(a.channels.length, LENGTH)} the nozzle's bore is divided into {a.channels.number} channels of "
            f"{show(a.channels.hole_diameter, LENGTH)}."
        )
    return text


def _around(result: Result) -> str:
    outside = result.problem.surroundings
    air = f"The air is at {show(outside.air_temperature, TEMPERATURE)}"
    jet = f"; a jet of {outside.jet_speed:g} m/s meets {_met(result)}" if outside.jet_speed > 0.0 else " and still"
    inlet = show(result.problem.operation.inlet_temperature, TEMPERATURE)
    sink = f"is at {show(outside.cold_temperature, TEMPERATURE)}"
    if result.problem.arrangement.heat_sink is not None:
        sink = "follows from its fins and what cools it"
    return f"{air}{jet}. The heat sink {sink}, the filament enters at {inlet}."


def _met(result: Result) -> str:
    """The faces of this case that the jet meets."""
    faces = [face.name for face in result.system.space.section.exposed]
    met = [face for face in faces if any(face.startswith(word) for word in result.problem.surroundings.jet_reaches)]
    return f"these faces: {', '.join(met)}" if met else "no face of it"


def _question(result: Result) -> str:
    operation, polymer = result.problem.operation, result.problem.materials.polymer
    grip = (
        ""
        if operation.grip is None
        else f" The force ceiling is where pushing takes the feeder's {operation.grip:g} N."
    )
    return (
        "Asked for is the flow ceiling, the most filament that it can melt, in cubic millimetres of solid filament a second. "
        f"The melt ceiling is reached where {judged_words(operation)} leaves the melt zone at "
        f"{polymer.flow_temperature - ZERO_CELSIUS:.0f} degC, the flow temperature below which {polymer.label} is too stiff to "
        f"feed; the power ceiling where the heater is fully on.{grip} The least of them governs. Assumed of the polymer's "
        f"motion: {PROFILES[operation.profile]}."
    )


def passage_alt(result: Result) -> str:
    """What the picture along the passage shows, for those who cannot see it."""
    field, polymer = result.field, result.problem.materials.polymer
    assert field is not None and result.melt_zone is not None
    lower, upper = result.melt_zone
    return (
        f"Curves of temperature over height. The bore wall rises to {result.wall:.0f} degC at the end of the melt zone; the "
        f"core of the filament follows from {field.axis.core[-1] - ZERO_CELSIUS:.0f} to {result.core:.0f} degC there. Flow "
        f"temperature {polymer.flow_temperature - ZERO_CELSIUS:.0f} degC; melt zone {upper - lower:.1f} mm long."
    )


def field_alt(result: Result) -> str:
    """What the picture of the field shows."""
    field = result.field
    assert field is not None
    block = field.part_extremes["block"]
    return (
        f"Section of the hot end coloured by temperature. The block is at {block[0] - ZERO_CELSIUS:.0f} to "
        f"{block[1] - ZERO_CELSIUS:.0f} degC, the nozzle's tip at {result.tip:.0f} degC; a cold core reaches down the "
        f"bore and is at {result.core:.0f} degC at the end of the melt zone."
    )


def section_alt(result: Result) -> str:
    """What the picture of the section shows."""
    section = result.system.space.section
    parts = ["filament" if part == "polymer" else part for part in section.parts if part != "gap"]
    return f"Section drawn to scale, the mesh of {section.mesh.nelements} cells on its left half. Parts: {', '.join(parts)}."
