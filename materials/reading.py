"""Reads a material card, shipped or a user's own, from the nested mapping that TOML gives."""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

import numpy as np

from meltzone.materials import quantities as q
from meltzone.materials.air import Air
from meltzone.materials.curves import Curve
from meltzone.materials.errors import CardError
from meltzone.materials.polymer import CrossWLF, Polymer
from meltzone.materials.solid import Solid

DEFAULT_SOURCE = "given in the case file"
DEFAULT_WIDTH = 20.0  # full width of a melting peak where the card gives none [K]
TABLE_KEYS = (
    "value",
    "temperature",
    "temperatures",
    "values",
    "unit",
    "source",
    "sources",
    "note",
    "range",
    "valid_range",
)
NUMBER_KEYS = ("value", "source", "note", "range")
CURVES = MappingProxyType({"conductivity": q.CONDUCTIVITY, "heat_capacity": q.HEAT_CAPACITY, "density": q.DENSITY})
POLYMER_NUMBERS = MappingProxyType(
    {
        "melting_enthalpy": q.ENTHALPY,
        "melting_peak": q.TEMPERATURE,
        "melting_width": q.WIDTH,
        "softening_temperature": q.TEMPERATURE,
        "flow_temperature": q.TEMPERATURE,
        "degradation_temperature": q.TEMPERATURE,
        "decomposition_temperature": q.TEMPERATURE,
        "plateau_modulus": q.STRESS,
    }
)
SOLID_NUMBERS = MappingProxyType(
    {
        "emissivity": q.FRACTION,
        "service_limit": q.TEMPERATURE,
        "warning_temperature": q.TEMPERATURE,
        "refusal_temperature": q.TEMPERATURE,
    }
)
AIR_CURVES = MappingProxyType(
    {"conductivity": q.CONDUCTIVITY, "kinematic_viscosity": q.KINEMATIC_VISCOSITY, "prandtl": q.NUMBER}
)
VISCOSITY_NUMBERS = MappingProxyType(
    {
        "n": q.FRACTION,
        "tau_star": q.STRESS,
        "D1": q.VISCOSITY,
        "D2": q.TEMPERATURE,
        "A1": q.NUMBER,
        "A2": q.WIDTH,
    }
)
POLYMER_KEYS = ("kind", "label", "like", "fumes", "viscosity", *CURVES, *POLYMER_NUMBERS)
SOLID_KEYS = ("kind", "label", "like", "cautions", "limit_reason", *CURVES, *SOLID_NUMBERS)
AIR_KEYS = ("kind", "label", *AIR_CURVES)
UNKNOWN_FUMES = "Its fumes are not described in the card."


class _Card:
    """One card while it is read; gathers sources and notes on the way."""

    def __init__(self, name: str, mapping: Mapping[str, Any], origin: str) -> None:
        self.name, self.mapping, self.origin = name, mapping, origin
        self.sources: dict[str, str] = {}
        self.notes: dict[str, str] = {}
        self.ranges: dict[str, tuple[float, float]] = {}

    def curve(self, key: str, quantity: q.Quantity) -> Curve:
        entry = self._required(key, quantity)
        if not isinstance(entry, Mapping):
            entry = {"value": entry}
        refuse_unknown_keys(entry, TABLE_KEYS, f"{key}.")
        source = self._remember(key, entry)
        self.span(key, entry, quantity, entry.get("unit"))
        temperatures, values = self._points(key, entry, quantity)
        limits = _stated_range(key, entry)
        return Curve(key, quantity.unit, temperatures, values, source, self.notes.get(key, ""), limits)

    def number(self, key: str, quantity: q.Quantity, prefix: str = "") -> float | None:
        """The number under `key` in SI, None where the card leaves it out."""
        entry = self.mapping.get(key)
        if entry is None:
            return None
        place = prefix + key
        if not isinstance(entry, Mapping):
            entry = {"value": entry}
        refuse_unknown_keys(entry, NUMBER_KEYS, f"{place}.")
        if "value" not in entry:
            raise CardError(place, dict(entry), quantity.expected, 'Give it as value = "...".')
        self._remember(place, entry)
        self.span(place, entry, quantity)
        return q.read_number(entry["value"], quantity, place)

    def needed(self, key: str, quantity: q.Quantity, prefix: str = "") -> float:
        self._required(key, quantity, prefix)
        value = self.number(key, quantity, prefix)
        assert value is not None
        return value

    def text(self, key: str, default: str) -> str:
        entry = self.mapping.get(key, default)
        if not isinstance(entry, str):
            raise CardError(key, entry, "a text in quotation marks", "Put it in quotation marks.")
        return entry

    def span(self, place: str, entry: Mapping[str, Any], quantity: q.Quantity, unit: str | None = None) -> None:
        """Remember both ends of what `entry` says the number at `place` may be, where it says so."""
        if "range" not in entry:
            return
        ends = [q.read_number(end, quantity, f"{place}.range", unit) for end in _row(entry["range"], f"{place}.range")]
        if len(ends) != 2 or ends[0] >= ends[1]:
            hint = f'Such as two values of "{quantity.unit}".'
            raise CardError(f"{place}.range", entry["range"], "two numbers, the lower first", hint)
        self.ranges[place] = (ends[0], ends[1])

    def _required(self, key: str, quantity: q.Quantity, prefix: str = "") -> Any:
        if self.mapping.get(key) is None:
            hint = f'Add {key}, or start from a shipped card by like = "name".'
            raise CardError(prefix + key, None, quantity.expected, hint)
        return self.mapping[key]

    def _points(self, key: str, entry: Mapping[str, Any], quantity: q.Quantity) -> tuple[np.ndarray, np.ndarray]:
        unit = entry.get("unit")
        if unit is not None and not isinstance(unit, str):
            raise CardError(f"{key}.unit", unit, f'a unit such as "{quantity.unit}"', "Put it in quotation marks.")
        if "value" in entry:
            if "values" in entry or "temperature" in entry or "temperatures" in entry:
                hint = "Keep one of the two."
                raise CardError(f"{key}.value", entry["value"], "either one value or a table", hint)
            value = q.read_number(entry["value"], quantity, key, unit)
            return np.array([q.CELSIUS_ZERO + 23.0]), np.array([value])
        hot = _row(entry.get("temperature", entry.get("temperatures")), f"{key}.temperature")
        given = _row(entry.get("values"), f"{key}.values")
        if len(hot) != len(given):
            raise CardError(f"{key}.values", given, f"{len(hot)} values, one a temperature", "Count both lists.")
        temperatures = [q.read_number(t, q.TEMPERATURE, f"{key}.temperature", "degC") for t in hot]
        if any(later <= earlier for earlier, later in itertools.pairwise(temperatures)):
            raise CardError(f"{key}.temperature", hot, "temperatures that rise strictly", "Sort the table.")
        values = [q.read_number(value, quantity, f"{key}.values", unit) for value in given]
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
            self.sources[f"{key} at {temperature - q.CELSIUS_ZERO:g} degC"] = row


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
            near = difflib.get_close_matches(str(key), known, n=1)
            hint = f"Did you mean {near[0]}?" if near else "Leave it out."
            raise CardError(f"{prefix}{key}", entry[key], f"one of the keys {', '.join(known)}", hint)


def _polymer(card: _Card) -> Polymer:
    refuse_unknown_keys(card.mapping, POLYMER_KEYS)
    curves = {key: card.curve(key, quantity) for key, quantity in CURVES.items()}
    flow = card.needed("flow_temperature", q.TEMPERATURE)
    softening = card.needed("softening_temperature", q.TEMPERATURE)
    degradation = card.needed("degradation_temperature", q.TEMPERATURE)
    if softening > flow:
        hint = "A polymer softens before it flows."
        raise CardError(
            "softening_temperature", card.mapping["softening_temperature"], "at most flow_temperature", hint
        )
    enthalpy = card.number("melting_enthalpy", q.ENTHALPY) or 0.0
    peak = card.needed("melting_peak", q.TEMPERATURE) if enthalpy else flow
    width = card.number("melting_width", q.WIDTH)
    if width is None:
        width = DEFAULT_WIDTH
        if enthalpy:
            card.sources["melting_width"] = "assumed, no source: 20 K where the card gives none"
    return Polymer(
        key=card.name,
        label=card.text("label", card.name),
        **curves,
        melting_enthalpy=enthalpy,
        melting_peak=peak,
        melting_width=width,
        softening_temperature=softening,
        flow_temperature=flow,
        degradation_temperature=degradation,
        decomposition_temperature=card.number("decomposition_temperature", q.TEMPERATURE),
        fumes=card.text("fumes", UNKNOWN_FUMES),
        viscosity=_viscosity(card),
        plateau_modulus=card.number("plateau_modulus", q.STRESS),
        ranges=MappingProxyType(card.ranges),
        sources=MappingProxyType(card.sources),
        notes=MappingProxyType(card.notes),
    )


def _viscosity(card: _Card) -> CrossWLF | None:
    entry = card.mapping.get("viscosity")
    if entry is None:
        return None
    if not isinstance(entry, Mapping):
        raise CardError(
            "viscosity", entry, f"a table with {', '.join(VISCOSITY_NUMBERS)} and source", "See the manual."
        )
    refuse_unknown_keys(entry, (*VISCOSITY_NUMBERS, "source", "note", "range"), "viscosity.")
    inner = _Card(card.name, entry, card.origin)
    numbers = {key: inner.needed(key, quantity, "viscosity.") for key, quantity in VISCOSITY_NUMBERS.items()}
    card.sources["viscosity"] = inner.text("source", DEFAULT_SOURCE)
    if "note" in entry:
        card.notes["viscosity"] = inner.text("note", "")
    card.span("viscosity", entry, q.NUMBER)
    return CrossWLF(**numbers)


def _solid(card: _Card) -> Solid:
    refuse_unknown_keys(card.mapping, SOLID_KEYS)
    curves = {key: card.curve(key, quantity) for key, quantity in CURVES.items()}
    cautions = card.mapping.get("cautions", [])
    if not isinstance(cautions, list | tuple) or not all(isinstance(caution, str) for caution in cautions):
        raise CardError("cautions", cautions, "a list of texts", 'Write cautions = ["..."].')
    return Solid(
        key=card.name,
        label=card.text("label", card.name),
        **curves,
        emissivity=card.needed("emissivity", q.FRACTION),
        service_limit=card.number("service_limit", q.TEMPERATURE),
        limit_reason=card.text("limit_reason", ""),
        cautions=tuple(cautions),
        warning_temperature=card.number("warning_temperature", q.TEMPERATURE),
        refusal_temperature=card.number("refusal_temperature", q.TEMPERATURE),
        sources=MappingProxyType(card.sources),
        notes=MappingProxyType(card.notes),
    )


def _air(card: _Card) -> Air:
    refuse_unknown_keys(card.mapping, AIR_KEYS)
    curves = {key: card.curve(key, quantity) for key, quantity in AIR_CURVES.items()}
    return Air(**curves, sources=MappingProxyType(card.sources), notes=MappingProxyType(card.notes))


def _row(entry: Any, key: str) -> list[Any]:
    if not isinstance(entry, list | tuple) or len(entry) < 2:
        hint = 'A property is value = "...", or temperature = [...] (degC) with values = [...] and unit.'
        raise CardError(key, entry, "a list of two numbers or more", hint)
    return list(entry)


def _stated_range(key: str, entry: Mapping[str, Any]) -> tuple[float, float] | None:
    if "valid_range" not in entry:
        return None
    place = f"{key}.valid_range"
    ends = _row(entry["valid_range"], place)
    low, high = (q.read_number(end, q.TEMPERATURE, place, "degC") for end in (ends[0], ends[-1]))
    if len(ends) != 2 or low >= high:
        raise CardError(place, ends, "two temperatures, the lower first", 'Such as ["0 degC", "250 degC"].')
    return (low, high)
