"""From a checked case to what the solver takes: parts, materials, contacts, surroundings, operation."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from meltzone.cases.inputs.deviations import property_deviations
from meltzone.cases.inputs.errors import CaseError, at_key
from meltzone.cases.inputs.layers import Layer
from meltzone.cases.inputs.parameters import keys_below
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.schema import CaseModel
from meltzone.cases.inputs.translate import from_card, from_geometry, from_unknown_material
from meltzone.fem.inputs import SOLID_PARTS, Contacts, MaterialSet, Operation, Surroundings
from meltzone.fem.problem import Problem
from meltzone.geometry.arrangement import ADDED, Arrangement
from meltzone.geometry.block import Block
from meltzone.geometry.errors import GeometryError
from meltzone.geometry.faces import FACES
from meltzone.geometry.filament import Filament
from meltzone.geometry.heat_break import HeatBreak
from meltzone.geometry.mesh import cells_of
from meltzone.geometry.nozzle import Nozzle
from meltzone.geometry.thread import MetricThread
from meltzone.materials.curves import Curve
from meltzone.materials.errors import CardError, UnknownMaterial, nearest
from meltzone.materials.library import air, card_from_mapping, polymer, solid
from meltzone.materials.polymer import Polymer
from meltzone.materials.solid import Solid
from meltzone.materials.units import TEMPERATURE, show

UNKNOWNS_PER_CELL = 4  # of the quadratic unknowns, but for those on the faces
MOST_UNKNOWNS = 400_000  # some 2 GB for the factors of the matrix, and twice that for the next finer mesh
SOLID_TABLES = tuple(part.replace(" ", "_") for part in SOLID_PARTS)
_SHIPPED: Mapping[type, Callable[[str], Polymer | Solid]] = {Polymer: polymer, Solid: solid}


def problem_of(case: Case) -> Problem:
    """All inputs of a solve; raises CaseError where the case cannot be built."""
    arrangement = arrangement_of(case)
    materials = materials_of(case)
    operation = operation_of(case)
    property_deviations(case)
    _check_temperatures(case, materials)
    _check_tables(case, materials)
    _check_mesh(case, arrangement)
    contacts = Contacts(**_below(case.model, "contacts"))
    return Problem(arrangement, materials, contacts, surroundings_of(case), operation, case.model.mesh.level)


def arrangement_of(case: Case) -> Arrangement:
    """The parts; raises CaseError where they cannot be made or do not fit."""
    model = case.model
    heat_break = _below(model, "arrangement.heat_break")
    if heat_break["bore"] is None:
        heat_break["bore"] = model.nozzle.bore
    try:
        thread = MetricThread(**_below(model, "arrangement.nozzle.thread"))
        added = {
            part: made(**_below(model, f"arrangement.{part}"))
            for part, made in ADDED.items()
            if getattr(model, part) is not None
        }
        return Arrangement(
            block=Block(**_below(model, "arrangement.block")),
            nozzle=Nozzle(thread=thread, **_below(model, "arrangement.nozzle")),
            heat_break=HeatBreak(**heat_break),
            filament=Filament(**_below(model, "arrangement.filament")),
            **added,
        )
    except GeometryError as error:
        raise from_geometry(error, case.layers) from error


def _below(model: CaseModel, place: str) -> dict[str, Any]:
    """The values of a case that the solver's inputs hold right below a dotted `place`, by their names there."""
    sections = ((name, getattr(model, table), key) for name, table, key in keys_below(place))
    return {name: getattr(section, key) for name, section, key in sections if section is not None}


def materials_of(case: Case) -> MaterialSet:
    """The materials of all parts, own cards before shipped ones; raises CaseError on unknown names and bad cards."""
    model = case.model
    own = _own_cards(case)
    melted = _looked_up(case, own, "polymer", model.polymer.material)
    assert isinstance(melted, Polymer)
    given = {
        name: value
        for name in ("flow_temperature", "softening_temperature")
        if (value := getattr(model.polymer, name)) is not None
    }
    solids: dict[str, Solid] = {}
    for part in SOLID_TABLES:
        table = getattr(model, part)
        if table is not None:
            found = _looked_up(case, own, part, table.material)
            assert isinstance(found, Solid)
            solids[part] = found
    judged = replace(melted, **given) if given else melted
    return MaterialSet(polymer=judged, air=air(), **solids)


def _own_cards(case: Case) -> dict[str, Polymer | Solid]:
    return cards_in(case.model.materials, case.file, case.layers)


def cards_in(tables: Mapping[str, Any], file: str, layers: Sequence[Layer]) -> dict[str, Polymer | Solid]:
    """The cards that stand in the materials' `tables` of a `file`, by their names as they are compared; raises CaseError."""
    cards = {}
    for name, mapping in tables.items():
        try:
            cards[_spaced(name)] = card_from_mapping(name, mapping, file)
        except CardError as error:
            raise from_card(error, name, layers) from error
    return cards


def _looked_up(case: Case, own: Mapping[str, Polymer | Solid], table: str, name: str) -> Polymer | Solid:
    """The card that `table` asks for, of the kind that the part needs."""
    path = [table, "material"]
    wanted: type = Polymer if table == "polymer" else Solid
    find, other = _SHIPPED[wanted], _SHIPPED[Solid if wanted is Polymer else Polymer]
    other_kind = f"the name of a {wanted.__name__.lower()}", "The card of that name is of the other kind."
    card = own.get(_spaced(name))
    if card is not None:
        if not isinstance(card, wanted):
            raise at_key(case.layers, path, *other_kind, name)
        return card
    try:
        return find(name)
    except UnknownMaterial as error:
        with suppress(UnknownMaterial):
            other(name)
            raise at_key(case.layers, path, *other_kind, name) from error
        raise from_unknown_material(error, path, case.layers, name) from error


def operation_of(case: Case) -> Operation:
    """Setpoint, heater and how the end of the melt zone is judged."""
    given = _below(case.model, "operation")
    if given["inner_share"] is None:
        given["inner_share"] = _inner_share(case)
    return Operation(**given)


def _inner_share(case: Case) -> float:
    """The stiff core: a tenth of the flow, or the core as wide as the orifice, whose share in a plug is (orifice/bore)^2.

    The bore is the one just above the inner cone.
    """
    nozzle = case.model.nozzle
    bore = nozzle.bore if nozzle.lower_bore is None else nozzle.lower_bore
    return min(max(Operation.inner_share, (nozzle.orifice / bore) ** 2), 0.9)


def surroundings_of(case: Case) -> Surroundings:
    """Air, heat sink and jet; raises CaseError on faces and parts that do not exist."""
    table = case.model.surroundings
    reached: list[str] = []
    for written in table.jet_reaches:
        faces = _faces_of(_spaced(written))
        if not faces:
            raise _unknown(case, ["surroundings", "jet_reaches"], written, "face", tuple(FACES))
        reached += faces
    return Surroundings(
        air_temperature=table.air_temperature,
        cold_temperature=table.cold_temperature,
        **_sink(case),
        jet_speed=table.jet_speed if table.fan else 0.0,
        jet_reaches=tuple(dict.fromkeys(reached)),
        thread_area=table.thread_area,
        film_factor=table.film_factor,
        films=MappingProxyType(_films(case)),
        emissivities=MappingProxyType(_emissivities(case)),
    )


def _sink(case: Case) -> dict[str, Any]:
    """What cools a heat sink that is a part."""
    table = case.model.heat_sink
    if table is None:
        return {}
    return {
        "sink_speed": table.fan_speed,
        "sink_resistance": table.resistance,
        "sink_coolant": table.coolant_temperature,
    }


def _films(case: Case) -> dict[str, float]:
    """Film coefficients by face; where two words match a face, the longer one counts."""
    films: dict[str, float] = {}
    for written, value in sorted(case.model.surroundings.films.items(), key=lambda item: len(item[0])):
        faces = _faces_of(_spaced(written))
        if not faces:
            raise _unknown(case, ["surroundings", "films", written], written, "face", tuple(FACES))
        films |= dict.fromkeys(faces, value)
    return films


def _emissivities(case: Case) -> dict[str, float]:
    emissivities = {}
    for written, value in case.model.surroundings.emissivities.items():
        part = _spaced(written)
        if part not in SOLID_PARTS:
            raise _unknown(case, ["surroundings", "emissivities", written], written, "part", SOLID_PARTS)
        emissivities[part] = value
    return emissivities


def _spaced(word: str) -> str:
    """`word` as faces, parts and materials are compared: blanks for underscores, lower case."""
    return " ".join(word.replace("_", " ").replace("-", " ").lower().split())


def _faces_of(words: str) -> tuple[str, ...]:
    """Faces whose name starts with `words`, or that belong to the part of that name."""
    starts = (name for name in FACES if name == words or name.startswith(f"{words} "))
    return tuple(starts) or tuple(name for name, face in FACES.items() if face.part == words)


def _unknown(case: Case, path: Sequence[str], written: str, what: str, known: Sequence[str]) -> CaseError:
    close = nearest(_spaced(written), known)
    hint = f'Did you mean "{close[0]}"?' if close else "Blanks may be written as underscores."
    return at_key(case.layers, path, f"a {what} of the hot end: {', '.join(known)}", hint)


def _check_temperatures(case: Case, materials: MaterialSet) -> None:
    """A polymer softens before it flows, enters colder than that, and the heat sink is colder than the setpoint.

    A setpoint below the flow temperature is no fault of the file: the result states that there is no ceiling.
    """
    model, melt = case.model, materials.polymer
    flows = show(melt.flow_temperature, TEMPERATURE)
    if melt.softening_temperature > melt.flow_temperature:
        given = "flow" if model.polymer.softening_temperature is None else "softening"
        other = f"at most the flow temperature of {melt.label}, {flows}"
        if given == "flow":
            other = (
                f"at least the softening temperature of {melt.label}, {show(melt.softening_temperature, TEMPERATURE)}"
            )
        raise at_key(case.layers, ["polymer", f"{given}_temperature"], other, "A polymer softens before it flows.")
    if model.polymer.profile in ("shaped", "solved") and melt.viscosity is None:
        expected = f'"plug" or "power-law": the card of {melt.label} holds no viscosity'
        hint = "Give the material a viscosity table under [materials] to work out the velocity by it."
        raise at_key(case.layers, ["polymer", "profile"], expected, hint)
    if model.polymer.profile == "solved" and model.channels is not None:
        expected = '"plug", "power-law" or "shaped" with [channels], whose streams the slow flow is not solved in'
        raise at_key(
            case.layers, ["polymer", "profile"], expected, 'Take "shaped": that is the velocity in each channel.'
        )
    if model.polymer.inlet_temperature >= melt.softening_temperature:
        softens = show(melt.softening_temperature, TEMPERATURE)
        expected = f"below the softening temperature of {melt.label}, {softens}"
        hint = "Filament enters about as warm as the room."
        default = model.polymer.inlet_temperature
        raise at_key(case.layers, ["polymer", "inlet_temperature"], expected, hint, default)
    if model.surroundings.cold_temperature >= model.heater.setpoint:
        expected = f"below the setpoint, {show(model.heater.setpoint, TEMPERATURE)}"
        raise at_key(case.layers, ["surroundings", "cold_temperature"], expected, "It is the heat sink's temperature.")


def _check_tables(case: Case, materials: MaterialSet) -> None:
    """The setpoint lies within every table of the hot materials' properties."""
    setpoint = case.model.heater.setpoint
    liner = case.model.liner
    cold = ("liner",) if liner is not None and liner.end is not None and liner.end < 0.0 else ()
    for part in ("polymer", *SOLID_TABLES):
        material = getattr(materials, part)
        if material is None or part in cold:
            continue
        for name in ("conductivity", "heat_capacity", "density"):
            curve: Curve = getattr(material, name)
            low, high = curve.valid_range
            if not low <= setpoint <= high:
                words = name.replace("_", " ")
                span = f"{show(low, TEMPERATURE)} to {show(high, TEMPERATURE)}"
                expected = f"within the table of {material.label}'s {words}, {span}"
                own = f"Lower it, or give {material.label} a wider table of your own in [materials.NAME]."
                raise at_key(case.layers, ["heater", "setpoint"], expected, own)


def _check_mesh(case: Case, arrangement: Arrangement) -> None:
    """The mesh stays of a size that a computer's memory holds, told before it is built."""
    level = case.model.mesh.level
    unknowns = UNKNOWNS_PER_CELL * cells_of(arrangement, level)
    if unknowns > MOST_UNKNOWNS:
        expected = f"a mesh of at most {MOST_UNKNOWNS:,} unknowns: this one would have about {unknowns:,}"
        hint = "Lower it; each level has about half of the next. Or a dimension has a slip of its unit."
        raise at_key(case.layers, ["mesh", "level"], expected, hint, level)
