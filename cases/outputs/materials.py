"""What is shown of the materials: the list of cards, and one card with the source of every number, its notes and limits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from meltzone.cases.inputs.build import cards_in
from meltzone.cases.inputs.errors import CaseError, at_key
from meltzone.cases.inputs.layers import merge
from meltzone.cases.inputs.reader import layers_of
from meltzone.cases.outputs.grid import Cell, Grid, Row, number, on_one_line, words
from meltzone.cases.outputs.material_rows import card_rows, doubts
from meltzone.cases.outputs.materials_figure import curves_figure
from meltzone.cases.outputs.page import Block, Head, Page, Picture, Section, Words
from meltzone.cases.outputs.quantities import by_source
from meltzone.cases.studies.quantities import Quantity
from meltzone.cases.studies.validation.compared import compared as compared_rows
from meltzone.materials.air import Air
from meltzone.materials.curves import REFERENCE_TEMPERATURE, Curve
from meltzone.materials.errors import UnknownMaterial
from meltzone.materials.library import names, polymer, solid
from meltzone.materials.limits import DEFERENCE
from meltzone.materials.polymer import Polymer
from meltzone.materials.solid import Solid
from meltzone.materials.units import ZERO_CELSIUS

Card = Polymer | Solid | Air
HOT = 473.15  # the second temperature of the list [K]
HINT = "meltzone materials NAME shows a card with its sources. Own cards stand in a case file under [materials.NAME]."
# What a source may say of itself, with the badge for it; the first that fits counts.
WEAK = (
    ("from memory", "from memory"),
    ("no source", "no source"),
    ("invented", "invented"),
    ("estimate", "estimate"),
    ("assumed", "estimate"),
    ("calculated", "estimate"),
)


def _at(kelvin: float) -> Callable[[Polymer | Solid], str]:
    def read(card: Polymer | Solid) -> str:
        curve: Curve = card.conductivity
        return f"{float(curve(kelvin)):.3g}"

    return read


def _celsius(name: str) -> Callable[[Polymer | Solid], float | None]:
    def read(card: Polymer | Solid) -> float | None:
        kelvin = getattr(card, name)
        return None if kelvin is None else kelvin - ZERO_CELSIUS

    return read


ANY: tuple[Quantity[Polymer | Solid], ...] = (
    Quantity("name", "", "Name in a case file.", lambda c: c.key, "name"),
    Quantity("label", "", "What it is.", lambda c: c.label, "what"),
    Quantity("conductivity_23", "W/m/K", "Conductivity at 23 degC.", _at(REFERENCE_TEMPERATURE), "k at 23"),
    Quantity("conductivity_200", "W/m/K", "Conductivity at 200 degC.", _at(HOT), "k at 200"),
)
POLYMERS: tuple[Quantity[Polymer | Solid], ...] = (
    *ANY,
    Quantity("softens", "degC", "Skin wets the bore.", _celsius("softening_temperature"), "softens", 0),
    Quantity("flows", "degC", "Yields to the feeder.", _celsius("flow_temperature"), "flows", 0),
    Quantity("degrades", "degC", "Degrades within minutes.", _celsius("degradation_temperature"), "degrades", 0),
)
SOLIDS: tuple[Quantity[Polymer | Solid], ...] = (
    *ANY,
    Quantity("service_limit", "degC", "Continuous service.", _celsius("service_limit"), "service limit", 0),
)


def card(name: str) -> Polymer | Solid:
    """The shipped card of that name, polymer or solid; raises UnknownMaterial with names of either kind."""
    try:
        return polymer(name)
    except UnknownMaterial as missed:
        try:
            return solid(name)
        except UnknownMaterial as error:
            near = tuple(dict.fromkeys((*error.nearest, *missed.nearest)))
            raise UnknownMaterial(name, near, tuple(names())) from None


def cards(written: str) -> list[Polymer | Solid]:
    """The card or cards that `written` names: a shipped card, a case file's own ones, or FILE:NAME for one of those.

    Raises UnknownMaterial, and CaseError for a file that cannot be used or has no such card.
    """
    file, _, name = written.partition(":") if ".toml:" in written else (written, "", "")
    if not file.endswith(".toml"):
        return [card(written)]
    label, layers = layers_of(file)
    tables = merge(layers).get("materials", {})
    if not isinstance(tables, Mapping) or not all(isinstance(each, Mapping) for each in tables.values()):
        raise at_key(layers, ["materials"], "tables, one a card", "A card begins with [materials.NAME].")
    own = cards_in(tables, label, layers)
    known = {each.key: each for each in own.values()}
    if not own or (name and name not in known):
        hint = (
            f"There are {', '.join(known)}."
            if known
            else 'A card begins with [materials.NAME]; "like" takes in another.'
        )
        raise CaseError(file, None, f"materials.{name}".rstrip("."), None, "a card of its own", hint)
    return [known[name]] if name else list(known.values())


def list_page() -> Page:
    """All shipped cards: what they are called in a case file, conductivity, and the temperatures that matter."""
    return list_of([card(name) for name in names()])


def list_of(found: Sequence[Polymer | Solid]) -> Page:
    """A list of cards: polymers, then solids."""
    kinds = (("Polymers", POLYMERS, Polymer), ("Solids", SOLIDS, Solid))
    lists = [(title, columns, [each for each in found if isinstance(each, kind)]) for title, columns, kind in kinds]
    grids = [by_source(title, columns, chosen) for title, columns, chosen in lists if chosen]
    return Page((*grids, Words(HINT, quiet=True)), "Materials")


def card_page(material: Polymer | Solid) -> Page:
    """One card: every number with its source, other notes, limits."""
    known = {row.key.partition(" at ")[0] for row in card_rows(material)}
    notes = [f"{key.replace('_', ' ')}: {note}" for key, note in material.notes.items() if key not in known]
    if isinstance(material, Polymer):
        limits = [f"Ventilate. {material.fumes}"]
    else:
        limits = [text for text in (material.limit_reason, *material.cautions) if text]
    blocks: list[Block] = [
        Head(material.label, notes=(f"name in a case file: {material.key}",)),
        Picture(
            lambda: curves_figure(material), "Properties over temperature", "The numbers stand in the table.", "svg"
        ),
        card_grid(material, "Numbers and their sources"),
        *([Words("\n".join(notes))] if notes else []),
        Grid("Ranges, nine times in ten", words("property", "range", "known"), tuple(doubts(material)), stacked=True),
        *_compared(material),
        Section("Cautions"),
        Words("\n".join(limits)),
        Words(DEFERENCE, quiet=True),
    ]
    return Page(tuple(blocks), "A material")


def _compared(material: Polymer | Solid) -> tuple[Grid | Words, ...]:
    """Where the card was compared with measurements."""
    rows = compared_rows(material.key)
    title = "Compared with measurements"
    if not rows:
        return (Words(f"{title}: nowhere among the shipped measurements.", quiet=True),)
    cells = [
        (row.row, row.part, number(row.ceiling, 1), row.measured, "calibrates" if row.calibrates else "predicted")
        for row in rows
    ]
    heads = words("row", "of it", "measured [mm³/s]", "file", "")
    note = "meltzone validate FILE lays them against predictions and tells how they agree."
    return (Grid(title, heads, tuple(cells), stacked=True, long=True, notes=(note,)),)


def card_grid(material: Card, caption: str, given: Mapping[str, str] | None = None) -> Grid:
    """Every number of a card with its source, a badge where that is weak, and the note on it at its first point.

    `given` maps keys to what gives them in place of the card.
    """
    noted: set[str] = set()
    rows: list[Row] = []
    for key, name, value in card_rows(material):
        value = on_one_line(value)  # noqa: PLW2901
        if given and key in given:
            rows.append((name, value, given[key]))
            continue
        source = " ".join(material.sources.get(key, "").split())
        curve = key.partition(" at ")[0]
        note = "" if curve in noted else " ".join(material.notes.get(curve, "").split())
        noted.add(curve)
        rows.append((name, value, Cell(source or "none given", note=note, badge=badge_of(source))))
    return Grid(caption, words("property", "value", "source"), tuple(rows), stacked=True, long=True)


def badge_of(source: str) -> str:
    """The badge for a source that is weak by its own words, '' for a publication or data sheet."""
    said = source.lower()
    return next((badge for word, badge in WEAK if word in said), "") if said else "no source"
