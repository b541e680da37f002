"""Reads a material card, shipped or a user's own, from the nested mapping that TOML gives."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any

import numpy as np

from meltzone.materials import units
from meltzone.materials.air import Air
from meltzone.materials.curves import REFERENCE_TEMPERATURE, Curve
from meltzone.materials.errors import CardError, nearest
from meltzone.materials.polymer import Polymer
from meltzone.materials.properties import AIR, CARD_TEMPERATURE, LAWS, POLYMER, SOLID, Property
from meltzone.materials.solid import Solid
from meltzone.materials.units import ZERO_CELSIUS, Kind, UnitError, parse, parse_beside
from meltzone.materials.viscosity import Span, Viscosity

DEFAULT_SOURCE = "given in the case file"
DEFAULT_WIDTH = 20.0  # full width of a melting peak where the card gives none [K]
SHARPEST = 50e3  # enthalpy over width of a melting peak [J/kg/K]: of 500 random cards all below twice that were solved
TABLE_KEYS = (
    "value", "temperature", "temperatures", "values", "unit", "source", "sources", "note", "range", "valid_range",
    "measured_range",
)  # fmt: skip
NUMBER_KEYS = ("value", "source", "note", "range")
UNKNOWN_FUMES = "Its fumes are not described in the card."


def read_number(entry: Any, kind: Kind, key: str, unit: str | None = None) -> float:
    """One number in SI from `entry`: a string "0.2 W/m/K", or a plain number whose unit is `unit` (as in a table)."""
    if isinstance(entry, bool) or not isinstance(entry, int | float | str):
        raise CardError(key, entry, _expected(kind), "Check the spelling of the entry.")
    try:
        number = float(entry)
    except (ValueError, OverflowError):  # a text with its unit, or a whole number too large for a float
        number = None
    if number is not None and kind.unit and unit is None:
        raise CardError(key, entry, _expected(kind), "Write the unit inside the quotation marks.")
    try:
        return parse(entry, kind) if number is None else parse_beside(number, unit if kind.unit and unit else "", kind)
    except UnitError as error:
        named = error.expected != kind.phrase or kind.shown in error.hint
        hint = error.hint if named else f"{error.hint} Use {kind.shown}."
        raise CardError(key, entry, _expected(kind), hint) from error


def _expected(kind: Kind) -> str:
    return f'{kind.name} with its unit, {kind.limits}, such as "{kind.example}"' if kind.unit else kind.phrase


class _Card:
    """One card while it is read; gathers sources and notes on the way."""

    def __init__(self, name: str, mapping: Mapping[str, Any], origin: str, prefix: str = "") -> None:
        self.name, self.mapping, self.origin, self.prefix = name, mapping, origin, prefix
        self.sources: dict[str, str] = {}
        self.notes: dict[str, str] = {}
        self.ranges: dict[str, tuple[float, float]] = {}

    def properties(self, declared: Iterable[Property], words: Iterable[str]) -> dict[str, Any]:
        """Curves and numbers in SI by name, None for a number left out; no key but those declared and `words` may stand."""
        declared = tuple(declared)
        refuse_unknown_keys(self.mapping, (*words, *(each.name for each in declared)), self.prefix)
        return {each.name: self.curve(each) if each.is_curve else self.number(each) for each in declared}

    def curve(self, declared: Property) -> Curve:
        key = declared.name
        entry = self.required(declared)
        if not isinstance(entry, Mapping):
            entry = {"value": entry}
        refuse_unknown_keys(entry, TABLE_KEYS, f"{key}.")
        source = self._remember(key, entry)
        self.span(key, entry, declared.kind, entry.get("unit"))
        temperatures, values = self._points(key, entry, declared.kind)
        stated, measured = (
            _ends(key, entry, word, CARD_TEMPERATURE, "degC") for word in ("valid_range", "measured_range")
        )
        unit = declared.kind.unit.replace("**", "")
        return Curve(key, unit, temperatures, values, source, self.notes.get(key, ""), stated, measured)

    def number(self, declared: Property) -> float | None:
        """The number in SI, None where the card leaves it out; raises CardError where it is needed."""
        entry = self.required(declared) if declared.is_needed else self.mapping.get(declared.name)
        if entry is None:
            return None
        place = self.prefix + declared.name
        if not isinstance(entry, Mapping):
            entry = {"value": entry}
        refuse_unknown_keys(entry, NUMBER_KEYS, f"{place}.")
        if "value" not in entry:
            raise CardError(place, dict(entry), _expected(declared.kind), 'Give it as value = "...".')
        self._remember(place, entry)
        self.span(place, entry, declared.kind)
        return read_number(entry["value"], declared.kind, place)

    def text(self, key: str, default: str) -> str:
        entry = self.mapping.get(key, default)
        if not isinstance(entry, str):
            raise CardError(key, entry, "a text in quotation marks", "Put it in quotation marks.")
        return entry

    def span(self, place: str, entry: Mapping[str, Any], kind: Kind, unit: str | None = None) -> None:
        """Remember both ends of what `entry` says the number at `place` may be, where it says so."""
        if "range" not in entry:
            return
        ends = [read_number(end, kind, f"{place}.range", unit) for end in _row(entry["range"], f"{place}.range")]
        if len(ends) != 2 or ends[0] >= ends[1]:
            raise CardError(
                f"{place}.range", entry["range"], "two numbers, the lower first", "Leave it out if not known."
            )
        self.ranges[place] = (ends[0], ends[1])

    def required(self, declared: Property) -> Any:
        """The entry of a property; raises CardError where there is none."""
        key = declared.name
        if self.mapping.get(key) is None:
            hint = f'Add {key}, or start from a shipped card by like = "name".'
            raise CardError(self.prefix + key, None, _expected(declared.kind), hint)
        return self.mapping[key]

    def _points(self, key: str, entry: Mapping[str, Any], kind: Kind) -> tuple[np.ndarray, np.ndarray]:
        unit = entry.get("unit")
        if unit is not None and not isinstance(unit, str):
            raise CardError(f"{key}.unit", unit, f'a unit such as "{kind.shown}"', "Put it in quotation marks.")
        if "value" in entry:
            if "values" in entry or "temperature" in entry or "temperatures" in entry:
                hint = "Keep one of the two."
                raise CardError(f"{key}.value", entry["value"], "either one value or a table", hint)
            value = read_number(entry["value"], kind, key, unit)
            return np.array([REFERENCE_TEMPERATURE]), np.array([value])
        hot = _row(entry.get("temperature", entry.get("temperatures")), f"{key}.temperature")
        given = _row(entry.get("values"), f"{key}.values")
        if len(hot) != len(given):
            raise CardError(f"{key}.values", given, f"{len(hot)} values, one a temperature", "Count both lists.")
        temperatures = [read_number(t, CARD_TEMPERATURE, f"{key}.temperature", "degC") for t in hot]
        if any(later <= earlier for earlier, later in itertools.pairwise(temperatures)):
            raise CardError(f"{key}.temperature", hot, "temperatures that rise strictly", "Sort the table.")
        values = [read_number(value, kind, f"{key}.values", unit) for value in given]
        self._remember_rows(key, entry, temperatures)
        return np.array(temperatures), np.array(values)

    def _remember(self, place: str, entry: Mapping[str, Any]) -> str:
        rows = entry.get("sources", ())
        if not isinstance(rows, list | tuple) or not all(isinstance(row, str) for row in rows):
            raise CardError(f"{place}.sources", rows, "a list of texts, one a row of the table", "See source for one.")
        source = entry.get("source", "; ".join(dict.fromkeys(rows)) or DEFAULT_SOURCE)
        note = entry.get("note", "")
        for word, text in (("source", source), ("note", note)):
            if not isinstance(text, str):
                raise CardError(f"{place}.{word}", text, "a text in quotation marks", "Put it in quotation marks.")
        self.sources[place] = source
        if note:
            self.notes[place] = note
        return source

    def _remember_rows(self, key: str, entry: Mapping[str, Any], temperatures: list[float]) -> None:
        rows = entry.get("sources")
        if rows is None:
            return
        if len(rows) != len(temperatures):
            hint = "Count both lists, or give one source for all."
            raise CardError(f"{key}.sources", rows, f"{len(temperatures)} sources, one a temperature", hint)
        for temperature, row in zip(temperatures, rows, strict=True):
            self.sources[f"{key} at {temperature - ZERO_CELSIUS:g} degC"] = row


def read_card(name: str, mapping: Mapping[str, Any], origin: str) -> Polymer | Solid | Air:
    """The material that `mapping` describes; raises CardError with `origin` in its message."""
    builders: dict[str, Callable[[_Card], Polymer | Solid | Air]] = {"polymer": _polymer, "solid": _solid, "air": _air}
    kind = mapping.get("kind")
    try:
        if not isinstance(kind, str) or kind not in builders:
            raise CardError("kind", kind, '"polymer" or "solid"', "It says which properties the material has.")
        return builders[kind](_Card(name, mapping, origin))
    except CardError as error:
        raise CardError(error.key, error.value, error.expected, error.hint, origin) from None


def refuse_unknown_keys(entry: Mapping[str, Any], known: tuple[str, ...], prefix: str = "") -> None:
    """Raise CardError on the first key of `entry` that is not `known`, with the nearest known one as a hint."""
    for key in entry:
        if key not in known:
            near = nearest(str(key), known)
            hint = f"Did you mean {near[0]}?" if near else "Leave it out."
            raise CardError(f"{prefix}{key}", entry[key], f"one of the keys {', '.join(known)}", hint)


def _polymer(card: _Card) -> Polymer:
    numbers = card.properties(POLYMER, ("kind", "label", "like", "fumes", "viscosity"))
    if numbers["softening_temperature"] > numbers["flow_temperature"]:
        written, hint = card.mapping["softening_temperature"], "A polymer softens before it flows."
        raise CardError("softening_temperature", written, "at most flow_temperature", hint)
    numbers["melting_enthalpy"] = numbers["melting_enthalpy"] or 0.0
    if not numbers["melting_enthalpy"]:
        numbers["melting_peak"] = numbers["flow_temperature"]
    elif numbers["melting_peak"] is None:
        card.required(next(each for each in POLYMER if each.name == "melting_peak"))
    if numbers["melting_width"] is None:
        numbers["melting_width"] = DEFAULT_WIDTH
        if numbers["melting_enthalpy"]:
            card.sources["melting_width"] = "assumed, no source: 20 K where the card gives none"
    for one, other in itertools.permutations(each for each in POLYMER if each.name.startswith("induction")):
        if numbers[one.name] is not None:
            card.required(other)
    _refuse_too_sharp(card, numbers["melting_enthalpy"], numbers["melting_width"])
    return Polymer(
        key=card.name,
        label=card.text("label", card.name),
        **numbers,
        fumes=card.text("fumes", UNKNOWN_FUMES),
        viscosity=_viscosity(card),
        ranges=MappingProxyType(card.ranges),
        sources=MappingProxyType(card.sources),
        notes=MappingProxyType(card.notes),
    )


def _refuse_too_sharp(card: _Card, enthalpy: float, width: float) -> None:
    if enthalpy > SHARPEST * width * (1.0 + 1e-9):
        least = f"at least {enthalpy / SHARPEST:.3g} K for a melting enthalpy of {enthalpy / 1e3:.4g} kJ/kg"
        hint = "It is the full width, foot to foot; for a front that is sharp, the least one is as good."
        raise CardError("melting_width", card.mapping.get("melting_width"), least, hint)


def _viscosity(card: _Card) -> Viscosity | None:
    entry = card.mapping.get("viscosity")
    if entry is None:
        return None
    declared, law = _law(entry)
    inner = _Card(card.name, entry, card.origin, "viscosity.")
    numbers = inner.properties(declared, ("law", "source", "note", "range", "measured_temperatures", "measured_rates"))
    card.sources["viscosity"] = inner.text("source", DEFAULT_SOURCE)
    if "note" in entry:
        card.notes["viscosity"] = inner.text("note", "")
    card.span("viscosity", entry, units.PLAIN.within(1e-6, 1e6))
    temperatures = _ends("viscosity", entry, "measured_temperatures", CARD_TEMPERATURE, "degC")
    rates = _ends("viscosity", entry, "measured_rates", units.RATE, "1/s")
    return law(**numbers, temperatures=temperatures, rates=rates)


def _law(entry: Any) -> tuple[tuple[Property, ...], type[Viscosity]]:
    """What a table of viscosity holds and what is made of it; raises CardError for a law that is not known."""
    first = next(iter(LAWS))
    if not isinstance(entry, Mapping):
        expected = f"a table with {', '.join(each.name for each in LAWS[first][0])} and source"
        raise CardError("viscosity", entry, expected, "See the manual.")
    named = entry.get("law", first)
    if named not in LAWS:
        expected = " or ".join(f'"{name}"' for name in LAWS)
        raise CardError("viscosity.law", named, expected, f"Leave it out for {first}.")
    return LAWS[named]


def _solid(card: _Card) -> Solid:
    numbers = card.properties(SOLID, ("kind", "label", "like", "cautions", "limit_reason"))
    cautions = card.mapping.get("cautions", [])
    if not isinstance(cautions, list | tuple) or not all(isinstance(caution, str) for caution in cautions):
        raise CardError("cautions", cautions, "a list of texts", 'Write cautions = ["..."].')
    return Solid(
        key=card.name,
        label=card.text("label", card.name),
        **numbers,
        limit_reason=card.text("limit_reason", ""),
        cautions=tuple(cautions),
        sources=MappingProxyType(card.sources),
        notes=MappingProxyType(card.notes),
        ranges=MappingProxyType(card.ranges),
    )


def _air(card: _Card) -> Air:
    numbers = card.properties(AIR, ("kind", "label"))
    return Air(**numbers, sources=MappingProxyType(card.sources), notes=MappingProxyType(card.notes))


def _row(entry: Any, key: str) -> list[Any]:
    if not isinstance(entry, list | tuple) or len(entry) < 2:
        hint = 'A property is value = "...", or temperature = [...] (degC) with values = [...] and unit.'
        raise CardError(key, entry, "a list of two numbers or more", hint)
    return list(entry)


def _ends(key: str, entry: Mapping[str, Any], word: str, kind: Kind, unit: str) -> Span | None:
    """Both ends [SI] of what stands under `word` in the `entry` of a property, None where nothing does."""
    if word not in entry:
        return None
    place = f"{key}.{word}"
    ends = _row(entry[word], place)
    low, high = (read_number(end, kind, place, unit) for end in (ends[0], ends[-1]))
    if len(ends) != 2 or low >= high:
        example = 'Such as ["0 degC", "250 degC"].' if kind.is_temperature else "Such as [0.1, 100]."
        raise CardError(
            place, ends, f"two {'temperatures' if kind.is_temperature else 'numbers'}, the lower first", example
        )
    return (low, high)
