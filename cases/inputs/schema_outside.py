"""The schema of what lies between and around the parts: the keys of contacts and surroundings, with their defaults."""

from __future__ import annotations

from pydantic import StrictBool, StrictStr

from meltzone.cases.inputs.fields import (
    Conductance,
    Emissivity,
    Film,
    FilmFactor,
    RoomTemperature,
    Speed,
    Table,
    ThreadArea,
    joined,
    key,
)
from meltzone.fem.inputs import Contacts, Surroundings

# Plausible ranges of contacts, jet, air and radiation: common practice, no source; that of bore_melt: the page of validation
CONTACTS, SURROUNDINGS = Contacts(), Surroundings()
JET_SPEED = 5.0  # [m/s] common practice, no source: a small blower a few centimetres from the nozzle


class ContactsTable(Table):
    """Contact conductances; those of threads count per area of their flanks."""

    home = "contacts"

    bore_melt: Conductance = key(
        CONTACTS.bore_melt,
        "Softened filament to bore wall.",
        noun="contact of melt and bore",
        step="10 %",
        role="data",
        when=joined("bore"),
        plausible="factor 3",
    )
    thread: Conductance = key(
        CONTACTS.thread,
        "Threads of nozzle and heat break in the block.",
        noun="conductance of the threads in the block",
        step="10 %",
        role="data",
        when=joined("thread"),
        plausible="factor 2.5",
    )
    shoulder: Conductance = key(
        CONTACTS.shoulder,
        "Joint between nozzle and heat break.",
        noun="conductance of the joint of nozzle and heat break",
        step="10 %",
        role="data",
        when=joined("shoulder"),
        plausible="factor 2.5",
    )
    sleeve_thread: Conductance = key(
        CONTACTS.sleeve_thread,
        "Thread between sleeve and nozzle.",
        noun="conductance of the sleeve's thread",
        step="10 %",
        role="data",
        when=joined("sleeve thread"),
        plausible="factor 2.5",
    )
    sleeve_face: Conductance = key(
        CONTACTS.sleeve_face,
        "Sleeve against the block's lower face.",
        noun="conductance of flat metal faces",
        step="10 %",
        role="data",
        when=joined("sleeve face", "block face"),
        plausible="factor 2.5",
    )
    wrap: Conductance = key(
        CONTACTS.wrap,
        "Wrap, boot or nozzle's cover on metal.",
        noun="contact of the wrap",
        step="10 %",
        role="data",
        when=joined("wrap", "boot", "nozzle cover"),
        plausible="factor 3",
    )
    cold_joint: Conductance = key(
        CONTACTS.cold_joint,
        "Heat break to heat sink.",
        noun="conductance to the heat sink",
        step="10 %",
        role="data",
        plausible="factor 2",
    )
    block_face: Conductance = key(
        CONTACTS.block_face,
        "Second block on the first.",
        noun="conductance of the joint of the two blocks",
        step="10 %",
        role="data",
        when=joined("blocks"),
        plausible="factor 2.5",
    )
    liner: Conductance = key(
        CONTACTS.liner,
        "Liner on heat break and nozzle.",
        noun="contact of the liner",
        step="10 %",
        role="data",
        when=joined("liner"),
        plausible="factor 3",
    )


class SurroundingsTable(Table):
    """Air, heat sink and part-cooling jet."""

    home = "surroundings"

    air_temperature: RoomTemperature = key(
        SURROUNDINGS.air_temperature,
        "Temperature of the still air.",
        noun="air temperature",
        step="10 K",
        role="data",
        plausible="5 K",
    )
    cold_temperature: RoomTemperature = key(
        SURROUNDINGS.cold_temperature,
        "Temperature of the heat sink.",
        noun="heat sink temperature",
        step="10 K",
        role="data",
        plausible="10 K",
    )
    fan: StrictBool = key(False, "Whether the part-cooling jet blows.")
    jet_speed: Speed = key(
        JET_SPEED,
        "Air speed of the jet where it meets the faces; counts when fan is true.",
        noun="speed of the part-cooling jet",
        step="1 m/s",
        when=lambda system: system.problem.surroundings.jet_speed > 0.0,
        plausible="factor 1.6",
    )
    jet_reaches: tuple[StrictStr, ...] = key(
        SURROUNDINGS.jet_reaches, "Faces that the jet meets: face names, or their first words."
    )
    thread_area: ThreadArea | None = key(
        SURROUNDINGS.thread_area,
        "Area by which the nozzle's bare thread loses heat, over that of the cylinder through its crests: still air fills the "
        'grooves of a fine thread. "developed" is every flank, 1.5 for M6 x 1; "envelope" is 1.',
        '"developed"',
        noun="area of the bare thread",
        step="0.1",
        role="data",
        words='"developed", "envelope" or a number from 0.1 to 5',
        example='"envelope"',
    )
    film_factor: FilmFactor = key(
        SURROUNDINGS.film_factor,
        "Factor on the film coefficients of all correlations, to lay beside a measured loss.",
        noun="factor on the film coefficients",
        role="data",
        plausible="factor 1.25",  # what such correlations are said to be good for; from memory: Incropera
    )
    films: dict[str, Film] = key(
        {},
        "Film coefficients instead of the correlations, by face name or its first words.",
        noun="film on {}",
        step="10 %",
        role="data",
        example='{ "block top" = "15 W/m^2/K" }',
        plausible="factor 1.3",
    )
    emissivities: dict[str, Emissivity] = key(
        {},
        "Emissivities that replace those of the materials' cards, by part.",
        noun="emissivity of the {}",
        step="0.1",
        role="data",
        example="{ block = 0.1 }",
        implied="materials.{}.emissivity",
        plausible="factor 1.5",
    )
