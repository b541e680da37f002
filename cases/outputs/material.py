"""What is shown and written of a card made from measurements: what was found, how well, what is missing, the card itself."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from textwrap import fill
from typing import Any

import tomli_w

from meltzone.cases.outputs.calibrated_text import taken_in
from meltzone.cases.outputs.files import Files
from meltzone.cases.outputs.grid import Grid, Row, number, words
from meltzone.cases.outputs.html import page_html
from meltzone.cases.outputs.material_fit_figure import fit_figure
from meltzone.cases.outputs.materials import card_grid
from meltzone.cases.outputs.materials_figure import curves_figure
from meltzone.cases.outputs.page import Answer, Block, Head, Page, Picture, Section, Warnings, Words
from meltzone.cases.outputs.quantities import as_json, nested
from meltzone.cases.outputs.record_head import head
from meltzone.cases.studies.material.make import MadeCard
from meltzone.cases.studies.material.melt_flow_rate import FlowRate
from meltzone.cases.studies.quantities import Quantity
from meltzone.materials.limits import DEFERENCE
from meltzone.materials.units import ZERO_CELSIUS

RECORD, CARD, FITS, CURVES, REPORT = "material.json", "card.toml", "fits.png", "curves.png", "report.html"
OURS = (RECORD, CARD, FITS, CURVES, REPORT)
FORM = 1  # raised when a key changes its name, its unit or its meaning
_NUMBERS = re.compile(r"\[\n[^\[\]\"]*\]")  # a list of numbers over several lines
PER_TEN_MINUTES = 6e5  # [kg/s] to [g/10min]

KEYS: tuple[Quantity[MadeCard], ...] = (
    *head(FORM),
    Quantity("name", "", "Name of the card in a case file.", lambda m: m.card.key),
    Quantity("file", "", "The file of measurements.", lambda m: m.measured.file),
    Quantity("card", "as written", "The card as a case file holds it.", lambda m: dict(m.mapping)),
    Quantity("dsc.glass_transition_degC", "degC", "At half the step's height; null where none was found.",
             lambda m: m.calorimetry and m.calorimetry.step and m.calorimetry.step.middle - ZERO_CELSIUS),
    Quantity("dsc.melting_peak_degC", "degC", "Top of the melting peak, or null.",
             lambda m: m.calorimetry and m.calorimetry.melting and m.calorimetry.melting.peak - ZERO_CELSIUS),
    Quantity("dsc.net_J_per_g", "J/g", "Melting less cold crystallisation, or null.",
             lambda m: m.calorimetry and m.calorimetry.melting and m.calorimetry.melting.net / 1e3),
    Quantity("dsc.net_range_J_per_g", "J/g", "Both ends of its 95 % range, or null.",
             lambda m: m.calorimetry and m.calorimetry.melting
             and [m.calorimetry.melting.low / 1e3, m.calorimetry.melting.high / 1e3]),
    Quantity("viscosity.criteria", "-", "AICc of every law that was tried; the lowest is taken.",
             lambda m: m.flow_curve and dict(m.flow_curve.criteria)),
    Quantity("viscosity.intervals", "SI", "95 % intervals of the law's numbers; eta0 at the mean temperature of the points.",
             lambda m: m.flow_curve and {name: list(ends) for name, ends in m.flow_curve.intervals.items()}),
    Quantity("viscosity.by_frequency", "", "Whether Cox and Merz's rule was used.",
             lambda m: m.flow_curve and m.flow_curve.points.by_frequency),
    Quantity("moduli.times_s", "s", "Times of the modes of relaxation, or null.",
             lambda m: m.spectrum and list(map(float, m.spectrum.times))),
    Quantity("moduli.strengths_Pa", "Pa", "Their strengths, or null.",
             lambda m: m.spectrum and list(map(float, m.spectrum.strengths))),
    Quantity("moduli.plateau_Pa", "Pa", "Plateau modulus, null where the data do not reach it.",
             lambda m: m.spectrum and m.spectrum.plateau),
    Quantity("melt_flow", "", "Every melt flow rate: keys below.", lambda m: [nested(FLOW, each) for each in m.flow_check]),
    Quantity("missing", "", "Properties that were not measured.", lambda m: list(m.missing)),
    Quantity("notes", "", "What a reader must know.", lambda m: list(m.notes)),
)  # fmt: skip
FLOW: tuple[Quantity[tuple[FlowRate, float]], ...] = (
    Quantity("temperature_degC", "degC", "Temperature.", lambda c: c[0].temperature - ZERO_CELSIUS),
    Quantity("load_kg", "kg", "Load.", lambda c: c[0].load),
    Quantity("measured_g_per_10min", "g/10min", "Measured.", lambda c: PER_TEN_MINUTES * c[0].mass_flow),
    Quantity("card_g_per_10min", "g/10min", "With the card's law.", lambda c: PER_TEN_MINUTES * c[1]),
)


def record(made: MadeCard) -> dict[str, Any]:
    """The whole record; what does not exist is None."""
    return nested(KEYS, made)


def files(made: MadeCard, folder: Path) -> Files:
    """What goes into `folder`."""
    return {
        CARD: card_text(made),
        FITS: fit_figure(made),
        CURVES: curves_figure(made.card),
        REPORT: page_html(page(made)),
        RECORD: as_json(record(made)),
    }


def card_text(made: MadeCard) -> str:
    """The card as the part of a case, which other cases take in by extends."""
    name = made.card.key
    missing = ", ".join(each.replace("_", " ") for each in made.missing) or "nothing"
    comments = [
        f"{made.card.label}: made from the measurements in {made.measured.name}.",
        f"Not measured, and taken from {made.measured.model.like}: {missing}.",
        *made.notes,
        taken_in(CARD),
    ]
    data = {"polymer": {"material": name}, "materials": {name: dict(made.mapping)}}
    lines = (fill(line, 118, initial_indent="# ", subsequent_indent="#   ") for line in comments)
    return "\n".join([*lines, "", _NUMBERS.sub(_on_a_line, tomli_w.dumps(data))])


def _on_a_line(row: re.Match[str]) -> str:
    return "[" + ", ".join(row[0].strip("[],\n ").split(",\n")).replace("    ", "") + "]"


def page(made: MadeCard) -> Page:
    """Everything about one card."""
    missing = ", ".join(each.replace("_", " ") for each in made.missing)
    like = made.measured.model.like
    answer = f"Taken from {like}, not measured: {missing}." if missing else "All properties were measured."
    blocks: list[Block] = [
        Head(made.card.label, made.measured.file),
        Answer(answer),
        *_calorimetry(made),
        *_viscosity(made),
        *_flow_check(made),
        Picture(lambda: fit_figure(made), "Measured and fitted", "The numbers stand in the tables.", "svg"),
        Section("The card"),
        card_grid(made.card, "Numbers and their sources"),
        Warnings(made.notes, "note"),
        Words(f"Ventilate. {made.card.fumes}"),
        Words(DEFERENCE, quiet=True),
    ]
    return Page(tuple(blocks), "A material made from measurements")


def _calorimetry(made: MadeCard) -> Iterator[Grid]:
    run = made.calorimetry
    if run is None:
        return
    rows: list[Row] = []
    if run.step is not None:
        rows.append(("glass transition", f"{run.step.middle - ZERO_CELSIUS:.1f} degC"))
    if run.melting is not None:
        peak = run.melting
        rows += [
            ("melting peak", f"{peak.peak - ZERO_CELSIUS:.1f} degC"),
            ("melting", f"{peak.melted / 1e3:.1f} J/g"),
            ("cold crystallisation", f"{peak.cold / 1e3:.1f} J/g"),
            ("net", f"{peak.net / 1e3:.1f} J/g, {peak.low / 1e3:.1f} to {peak.high / 1e3:.1f}"),
        ]
    yield Grid("Heating run", words("", "found"), tuple(rows))


def _viscosity(made: MadeCard) -> Iterator[Grid]:
    curve = made.flow_curve
    if curve is None or not curve.criteria:
        return
    rows: list[Row] = [(name, f"{low:.4g} to {high:.4g}") for name, (low, high) in curve.intervals.items()]
    tried = ", ".join(f"{name} {value:.1f}" for name, value in curve.criteria.items())
    yield Grid(
        "Viscosity", words("", "95 % interval [SI]"), tuple(rows), notes=(f"AICc, the lower the better: {tried}",)
    )


def _flow_check(made: MadeCard) -> Iterator[Grid]:
    rows = tuple(
        (
            f"{each.temperature - ZERO_CELSIUS:g} degC, {each.load:g} kg",
            *(number(PER_TEN_MINUTES * q, 2) for q in (each.mass_flow, card)),
        )
        for each, card in made.flow_check
    )
    if rows:
        yield Grid("Melt flow rate", words("", "measured [g/10min]", "card [g/10min]"), rows)
