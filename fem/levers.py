"""Every input of a problem as a number that can be moved: its key, words, natural step, and the problem with another value."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Literal

from meltzone.fem.inputs import SOLID_PARTS
from meltzone.fem.problem import Problem
from meltzone.geometry.passage import EVEN
from meltzone.materials.curves import Curve

Kind = Literal["design", "data"]

RELATIVE_STEP = 1e-5  # of the value: small enough for a derivative, large enough for its digits

# field, words, natural step [SI]; lengths in metres
_BLOCK = (
    ("width", "block width", 1e-3),
    ("depth", "block depth", 1e-3),
    ("height", "block height", 1e-3),
    ("heater_radius", "distance of the heater from the axis", 1e-3),
    ("heater_width", "thickness of the heater ring", 1e-3),
    ("sensor_radius", "distance of the sensor from the axis", 1e-3),
    ("sensor_height", "height of the sensor in the block", 1e-3),
)
_SECOND_BLOCK = tuple((field, f"{field} of the second block", 1e-3) for field in ("width", "depth", "height"))
_NOZZLE = (
    ("length", "nozzle length inside the block", 1e-3),
    ("exposed", "nozzle length below the block, pulled out of it", 1e-3),
    ("orifice", "orifice diameter", 0.1e-3),
    ("land", "length of the capillary", 0.1e-3),
    ("cone_angle", "full angle of the inner cone", math.radians(10.0)),
    ("hexagon", "hexagon across the flats", 1e-3),
    ("hexagon_height", "height of the hexagon", 1e-3),
    ("tip_diameter", "diameter of the nozzle's face", 0.1e-3),
    ("tip_cone_height", "height of the tip cone", 0.1e-3),
    ("lower_bore", "diameter of the lower bore", 0.05e-3),
    ("lower_bore_length", "length of the lower bore", 1e-3),
    ("taper_length", "length of the taper between the bores", 1e-3),
)
_HEAT_BREAK = (
    ("neck_diameter", "neck diameter", 0.1e-3),
    ("neck_length", "neck length", 1e-3),
    ("cooled_length", "cooled length of the heat break", 1e-3),
)
_SLEEVE = (("height", "sleeve height", 1e-3), ("width", "sleeve width", 1e-3))
_WRAP = (("thickness", "wrap thickness", 0.5e-3),)
_LINER = (
    ("outer_diameter", "outer diameter of the liner", 0.1e-3),
    ("end", "depth of the liner's end below the block's upper face", 1e-3),
)
_CHANNELS = (
    ("length", "length that is divided", 1e-3),
    ("position", "depth below the nozzle's upper face at which the bore divides", 1e-3),
    ("hole_diameter", "diameter of the channels", 0.1e-3),
    ("ring_diameter", "diameter of the ring of the channels", 0.1e-3),
)
# field, words, names of the contacts in the section; none: a face that is always there
_CONTACTS = (
    ("bore_melt", "contact of melt and bore", ("bore",)),
    ("thread", "conductance of the threads in the block", ("thread",)),
    ("shoulder", "conductance of the joint of nozzle and heat break", ("shoulder",)),
    ("sleeve_thread", "conductance of the sleeve's thread", ("sleeve thread",)),
    ("sleeve_face", "conductance of flat metal faces", ("sleeve face", "block face")),
    ("wrap", "contact of the wrap", ("wrap",)),
    ("cold_joint", "conductance to the heat sink", ()),
    ("liner", "contact of the liner", ("liner",)),
    ("block_face", "conductance of the joint of the two blocks", ("blocks",)),
)
_POLYMER_NUMBERS = (
    ("flow_temperature", "flow temperature of the polymer", 5.0),
    ("softening_temperature", "softening temperature of the polymer", 5.0),
    ("melting_peak", "melting peak of the polymer", 5.0),
    ("melting_enthalpy", "melting enthalpy of the polymer", 5e3),
)


@dataclass(frozen=True, eq=False)
class Lever:
    """One input: its dotted `key` as in a case file, its `words`, `unit` of SI, `value`, and a natural `step` [unit].

    `kind` tells what one can build or set ("design") from what one must know ("data"); `at` gives the problem at another
    value. A lever whose unit is '-' and whose key ends in '*' scales a property, its value being 1.
    """

    key: str
    words: str
    unit: str
    value: float
    step: float
    kind: Kind
    at: Callable[[float], Problem]


def central_slope(lever: Lever, change: Callable[[Problem, Problem], float]) -> float:
    """Derivative by `lever` of what `change` gives between two problems close by, by a central difference."""
    step = RELATIVE_STEP * (abs(lever.value) or lever.step)
    return change(lever.at(lever.value - step), lever.at(lever.value + step)) / (2.0 * step)


def levers_of(problem: Problem) -> tuple[Lever, ...]:
    """All inputs of `problem` that are numbers and that it uses."""
    return (*_shape(problem), *_operation(problem), *_contacts(problem), *_surroundings(problem), *_materials(problem))


def _shape(problem: Problem) -> Iterator[Lever]:
    a = problem.arrangement
    tables: tuple[tuple[str, Any, tuple[tuple[str, str, float], ...]], ...] = (
        ("block", a.block, _BLOCK),
        ("nozzle", a.nozzle, _NOZZLE),
        ("heat_break", a.heat_break, _HEAT_BREAK),
        ("sleeve", a.sleeve, _SLEEVE),
        ("wrap", a.wrap, _WRAP),
        ("liner", a.liner, _LINER),
        ("channels", a.channels, _CHANNELS),
        ("second_block", a.second_block, _SECOND_BLOCK),
    )
    for name, part, fields in tables:
        for field, words, step in fields if part is not None else ():
            value = getattr(part, field)
            if value is None:
                continue
            unit = "rad" if field == "cone_angle" else "m"
            yield Lever(f"{name}.{field}", words, unit, value, step, "design", _part_at(problem, name, field))
    yield _longer_nozzle(problem)
    yield from _wider_bores(problem)
    yield Lever(
        "polymer.filament_diameter",
        "filament diameter",
        "m",
        a.filament.diameter,
        0.05e-3,
        "design",
        _part_at(problem, "filament", "diameter"),
    )


def _changed(holder: Any, field: str, value: Any) -> Any:
    """A copy of a dataclass with one field changed by name."""
    return replace(holder, **{field: value})


def _part_at(problem: Problem, name: str, field: str) -> Callable[[float], Problem]:
    def at(value: float) -> Problem:
        part = _changed(getattr(problem.arrangement, name), field, value)
        return replace(problem, arrangement=_changed(problem.arrangement, name, part))

    return at


def _longer_nozzle(problem: Problem) -> Lever:
    """The nozzle longer by what stands out of the block: a longer melt zone in the same block."""
    nozzle = problem.arrangement.nozzle

    def at(exposed: float) -> Problem:
        longer = replace(nozzle, exposed=exposed, length=nozzle.length + exposed - nozzle.exposed)
        return replace(problem, arrangement=replace(problem.arrangement, nozzle=longer))

    words = "melt zone, by a nozzle that is longer below the block"
    return Lever("nozzle.length and nozzle.exposed", words, "m", nozzle.exposed, 1e-3, "design", at)


def _wider_bores(problem: Problem) -> Iterator[Lever]:
    """The bores of nozzle, heat break and liner: those of the nozzle's diameter as one, each of another by itself."""
    a, step = problem.arrangement, 0.05e-3
    fields = {"heat_break": "bore", "liner": "inner_diameter"} if a.liner else {"heat_break": "bore"}
    own = {name: getattr(getattr(a, name), field) for name, field in fields.items()}
    one = [name for name, value in own.items() if abs(value - a.nozzle.bore) <= EVEN]
    seen = {bore.key for bore in a.bores}

    def at(bore: float) -> Problem:
        changes = {name: _changed(getattr(a, name), fields[name], bore) for name in one}
        return replace(problem, arrangement=replace(a, nozzle=replace(a.nozzle, bore=bore), **changes))

    yield Lever("nozzle.bore", "bore diameter", "m", a.nozzle.bore, step, "design", at)
    for name, value in own.items():
        key = f"{name}.{fields[name]}"
        if name not in one and key in seen:
            words = f"bore diameter of the {name.replace('_', ' ')}"
            yield Lever(key, words, "m", value, step, "design", _part_at(problem, name, fields[name]))


def _operation(problem: Problem) -> Iterator[Lever]:
    fields: list[tuple[str, str, str, str, float, Kind]] = [
        ("setpoint", "heater.setpoint", "setpoint", "K", 10.0, "design"),
        ("rating", "heater.rating", "heater rating", "W", 10.0, "design"),
        ("inlet_temperature", "polymer.inlet_temperature", "temperature of the filament as fed", "K", 10.0, "data"),
    ]
    if problem.operation.criterion == "inner":
        fields.append(
            ("inner_share", "polymer.inner_share", "share of the flow called the stiff core", "-", 0.05, "data")
        )
    if problem.arrangement.second_block is not None:
        words = "share of the power released in the second block"
        fields.append(("second_share", "second_block.power_share", words, "-", 0.1, "design"))
    if problem.operation.profile == "power-law":
        words = "exponent of the power-law profile"
        fields.append(("profile_exponent", "polymer.power_law_exponent", words, "-", 0.1, "data"))
    if problem.operation.grip is not None:
        fields.append(("grip", "feeder.grip", "grip of the feeder", "N", 10.0, "design"))
    for field, key, words, unit, step, kind in fields:

        def at(value: float, field: str = field) -> Problem:
            return replace(problem, operation=_changed(problem.operation, field, value))

        yield Lever(key, words, unit, getattr(problem.operation, field), step, kind, at)


def _contacts(problem: Problem) -> Iterator[Lever]:
    present = {contact.name for contact in problem.system.space.section.contacts}
    for field, words, names in _CONTACTS:
        if names and not present.intersection(names):
            continue
        value = getattr(problem.contacts, field)

        def at(changed: float, field: str = field) -> Problem:
            return replace(problem, contacts=_changed(problem.contacts, field, changed))

        yield Lever(f"contacts.{field}", words, "W/m2/K", value, 0.1 * value, "data", at)


def _surroundings(problem: Problem) -> Iterator[Lever]:
    outside = problem.surroundings
    fields = [
        ("air_temperature", "air temperature", "K", 10.0),
        ("cold_temperature", "heat sink temperature", "K", 10.0),
    ]
    if outside.jet_speed > 0.0:
        fields.append(("jet_speed", "speed of the part-cooling jet", "m/s", 1.0))
    for field, words, unit, step in fields:

        def at(value: float, field: str = field) -> Problem:
            return replace(problem, surroundings=_changed(outside, field, value))

        kind: Kind = "design" if field == "jet_speed" else "data"
        yield Lever(f"surroundings.{field}", words, unit, getattr(outside, field), step, kind, at)
    for face, film in outside.films.items():

        def film_at(value: float, face: str = face) -> Problem:
            return replace(problem, surroundings=replace(outside, films={**outside.films, face: value}))

        yield Lever(f"surroundings.films.{face}", f"film on {face}", "W/m2/K", film, 0.1 * film, "data", film_at)
    yield from _emissivities(problem)


def _emissivities(problem: Problem) -> Iterator[Lever]:
    outside = problem.surroundings
    for part in dict.fromkeys(face.part for face in problem.system.space.section.exposed):
        value = outside.emissivities.get(part, problem.materials.solid_of(part).emissivity)

        def at(changed: float, part: str = part) -> Problem:
            return replace(problem, surroundings=replace(outside, emissivities={**outside.emissivities, part: changed}))

        yield Lever(f"surroundings.emissivities.{part}", f"emissivity of the {part}", "-", value, 0.1, "data", at)


def _materials(problem: Problem) -> Iterator[Lever]:
    polymer = problem.materials.polymer
    for field, words, step in _POLYMER_NUMBERS:
        value = getattr(polymer, field)
        if field.startswith("melting") and polymer.melting_enthalpy == 0.0:
            continue

        def at(changed: float, field: str = field) -> Problem:
            return _with_polymer(problem, **{field: changed})

        unit = "J/kg" if field == "melting_enthalpy" else "K"
        yield Lever(f"polymer.{field}", words, unit, value, step, "data", at)
    for field, words in (("conductivity", "conductivity"), ("heat_capacity", "heat capacity"), ("density", "density")):

        def scaled_at(factor: float, field: str = field) -> Problem:
            return _with_polymer(problem, **{field: scaled(getattr(polymer, field), factor)})

        yield Lever(f"polymer.{field}*", f"{words} of the polymer", "-", 1.0, 0.1, "data", scaled_at)
    if problem.operation.grip is not None:
        yield from _force_numbers(problem)
    for part in SOLID_PARTS:
        if part in problem.system.space.section.parts:
            yield _solid_conductivity(problem, part)


def _force_numbers(problem: Problem) -> Iterator[Lever]:
    """What only the feeding force feels: the melt's viscosity and its plateau modulus."""
    law, modulus = problem.materials.polymer.viscosity, problem.materials.polymer.plateau_modulus
    if law is not None and not problem.operation.follows_viscosity:

        def thicker_at(factor: float) -> Problem:
            return _with_polymer(problem, viscosity=replace(law, D1=factor * law.D1))

        yield Lever("polymer.viscosity*", "viscosity at rest of the polymer", "-", 1.0, 0.1, "data", thicker_at)
    if modulus is not None:

        def stiffer_at(factor: float) -> Problem:
            return _with_polymer(problem, plateau_modulus=factor * modulus)

        yield Lever("polymer.plateau_modulus*", "plateau modulus of the polymer", "-", 1.0, 0.1, "data", stiffer_at)


def _solid_conductivity(problem: Problem, part: str) -> Lever:
    solid = problem.materials.solid_of(part)
    field = part.replace(" ", "_")

    def at(factor: float) -> Problem:
        other = replace(solid, conductivity=scaled(solid.conductivity, factor))
        return replace(problem, materials=_changed(problem.materials, field, other))

    return Lever(f"{field}.conductivity*", f"conductivity of the {part}", "-", 1.0, 0.1, "data", at)


def _with_polymer(problem: Problem, **changes: Any) -> Problem:
    polymer = replace(problem.materials.polymer, **changes)
    return replace(problem, materials=replace(problem.materials, polymer=polymer))


def scaled(curve: Curve, factor: float) -> Curve:
    """The curve with all its values times `factor`."""
    return replace(curve, values=curve.values * factor)
