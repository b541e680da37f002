"""A polymer's card made from measurements, with what was found on the way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.studies.material.calorimetry import Calorimetry, analysed
from meltzone.cases.studies.material.entries import Entries, in_degrees
from meltzone.cases.studies.material.flow_curve import FlowCurve, flow_curve
from meltzone.cases.studies.material.melt_flow_rate import STATED, FlowRate, die_flow, moved_to
from meltzone.cases.studies.material.moduli import Spectrum, spectrum_of
from meltzone.cases.studies.material.read import Measurements, load_measurements
from meltzone.materials.errors import CardError
from meltzone.materials.library import card_from_mapping
from meltzone.materials.polymer import Polymer
from meltzone.materials.viscosity import Viscosity


@dataclass(frozen=True, eq=False)
class MadeCard:
    """A card made from `measured`: its `mapping` as TOML holds it, the `card` read from it, and what was found.

    `flow_check` has each melt flow rate with the mass flow [kg/s] that the card's law gives. `missing` are properties that were
    not measured; `notes` what a user must know.
    """

    measured: Measurements
    mapping: Mapping[str, Any]
    card: Polymer
    calorimetry: Calorimetry | None
    flow_curve: FlowCurve | None
    spectrum: Spectrum | None
    flow_check: tuple[tuple[FlowRate, float], ...]
    missing: tuple[str, ...]
    notes: tuple[str, ...]


def material(measured: str | Path | Measurements) -> MadeCard:
    """The card of the polymer whose measurements stand in the file `measured`; raises CaseError."""
    read = measured if isinstance(measured, Measurements) else load_measurements(measured)
    notes = list(read.notes)
    entries = Entries.like(read.model.like)
    melts = entries.melts
    run = None
    if read.run is not None:
        feet = (read.model.dsc.peaks_from, read.model.dsc.peaks_to) if read.model.dsc else (None, None)
        run = analysed(read.run[0], read.run[1], melts, feet)
        notes += entries.calorimetry(run, read.sources.get("dsc", ""))
    entries.complete_temperatures(read.model.flow_temperature, read.model.degradation_temperature)
    _tables(entries, read)
    curve = _flow_curve(read, entries, notes)
    spectrum = None if read.moduli is None else spectrum_of(read.moduli)
    if spectrum is not None:
        notes += entries.plateau(spectrum, read.sources.get("moduli", ""))
    law = _law(read, entries, curve, notes)
    mapping = entries.finished(read.model.label or read.name, read.model.fumes)
    try:
        card = card_from_mapping(read.name, mapping, read.file)
    except CardError as error:
        raise CaseError(read.file, None, error.key, str(error.value), error.expected, error.hint) from error
    assert isinstance(card, Polymer)
    check = tuple(
        (rate, die_flow(law, rate) * float(card.density(rate.temperature)))
        for rate in (read.flow_rates if law else ())
        if law
    )
    return MadeCard(read, mapping, card, run, curve, spectrum, check, tuple(entries.missing), tuple(notes))


def _tables(entries: Entries, read: Measurements) -> None:
    for name, table in (("density", read.densities), ("conductivity", read.conductivities)):
        source = read.sources.get("pvt" if name == "density" else name, read.sources.get(name, "own measurement"))
        if table is not None:
            entries.curve(name, table, source)
        elif name not in entries.mapping:
            entries.typical_curve(name)
    if read.run is None:
        entries.typical_curve("heat_capacity")


def _flow_curve(read: Measurements, entries: Entries, notes: list[str]) -> FlowCurve | None:
    if read.points is None:
        return None
    try:
        found = flow_curve(read.points, entries.softens, entries.known_law())
    except ValueError as error:
        hint = "Measure at two temperatures at least, or name a shipped polymer as like."
        raise CaseError(read.file, None, "viscosity", None, str(error), hint) from error
    if read.points.by_frequency:
        notes.append("viscosity: measured over frequency and taken for that over the rate of shear (Cox and Merz 1958)")
    if found.moved_by is not None:
        notes.append(f"viscosity: too few points for a law; that of {entries.like_words} times {found.moved_by:.3g}")
    elif found.points.is_isothermal:
        notes.append(
            f"viscosity: measured at one temperature; how it changes with temperature is that of {entries.like_words}"
        )
    return found


def _law(read: Measurements, entries: Entries, curve: FlowCurve | None, notes: list[str]) -> Viscosity | None:
    """The law that goes on the card: fitted, else a known one moved to the melt flow rates, else as it is known."""
    if curve is not None:
        source = read.sources.get("viscosity") or read.sources.get("moduli", "")
        entries.viscosity(
            curve.law, curve.factors, f"measured: {source}, fitted to {curve.points.viscosity.size} points"
        )
        return curve.law
    known = entries.known_law()
    if known is None or not read.flow_rates:
        entries.typical_viscosity()
        return known
    densities = [entries.density_at(rate.temperature) for rate in read.flow_rates]
    law = moved_to(known, read.flow_rates, densities)
    loads = len({rate.load for rate in read.flow_rates})
    source = read.sources.get("melt_flow", "own measurement")
    said = f"measured: {source}, the law of {entries.like_words} moved to melt flow rates at {loads} load(s)"
    entries.viscosity(law, STATED, said)
    hot = ", ".join(f"{in_degrees(rate.temperature):g}" for rate in read.flow_rates)
    notes.append(f"viscosity: the shape is that of {entries.like_words}; its height from melt flow rates at {hot} degC")
    return law
