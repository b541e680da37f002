"""The numbers of a material's card as rows of words, each with its key: what pages and reports are written from."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from meltzone.materials.air import Air
from meltzone.materials.curves import Curve
from meltzone.materials.doubt import ASSUMED, doubt_of
from meltzone.materials.polymer import Polymer
from meltzone.materials.properties import LAWS, OF_KIND
from meltzone.materials.solid import Solid
from meltzone.materials.units import ZERO_CELSIUS, Kind, in_shown, show, spelled
from meltzone.materials.viscosity import Viscosity

MADE_OF: dict[str, type] = {"polymer": Polymer, "solid": Solid, "air": Air}
SYMBOLS = {"tau_star": "tau*", "rest": "eta0"}  # as people write them
PEAK = ("melting_peak", "melting_width")  # nothing without a melting enthalpy


class CardRow(NamedTuple):
    """One number: its `key`, under which the card has its source, what it is called, its value with its unit."""

    key: str
    name: str
    value: str


def card_rows(material: Polymer | Solid | Air) -> list[CardRow]:
    """Every number that the card states."""
    kind = next(name for name, made in MADE_OF.items() if isinstance(material, made))
    rows: list[CardRow] = []
    for each in OF_KIND[kind]:
        found = getattr(material, each.name)
        if isinstance(found, Curve):
            rows += _curve_rows(found, material)
        elif found is not None and not (
            each.name in PEAK and isinstance(material, Polymer) and not material.melting_enthalpy
        ):
            shown = _shown(found, each.kind) + _spanned(material, each.name, each.kind)
            rows.append(CardRow(each.name, each.heading or each.words, shown))
    if isinstance(material, Polymer) and material.viscosity is not None:
        rows.append(CardRow("viscosity", "viscosity", _viscosity(material.viscosity) + _spanned(material, "viscosity")))
    return rows


def doubts(material: Polymer | Solid) -> list[tuple[str, str, str]]:
    """Every number that a band takes for uncertain: what it is called, its range in words, how that is known."""
    kind = next(name for name, made in MADE_OF.items() if isinstance(material, made))
    found = []
    for each in OF_KIND[kind]:
        if (
            each.name not in PEAK
            and getattr(material, each.name)
            and (each.name in ASSUMED or each.tolerance == "kelvin")
        ):
            found.append((each.name, each.heading or each.words))
    if isinstance(material, Polymer) and material.viscosity is not None:
        found.append(("viscosity", "viscosity"))
    rows = []
    for name, words in found:
        low, high, known = doubt_of(material, name)
        kelvin = name.endswith("temperature")
        rows.append((words, f"{low:+.0f} to {high:+.0f} K" if kelvin else f"times {low:.2f} to {high:.2f}", known))
    return rows


def _curve_rows(curve: Curve, material: Polymer | Solid | Air) -> Iterator[CardRow]:
    """One row for each point that has a source of its own, else one for the whole curve."""
    name, unit = curve.name.replace("_", " "), spelled(curve.unit) or "-"
    if curve.is_constant:
        yield CardRow(curve.name, name, f"{curve.values[0]:g} {unit}")
        return
    points = [
        (f"{t - ZERO_CELSIUS:g} degC", f"{value:g}") for t, value in zip(curve.temperatures, curve.values, strict=True)
    ]
    if all(f"{curve.name} at {at}" in material.sources for at, _ in points):
        yield from (CardRow(f"{curve.name} at {at}", f"{name} at {at}", f"{value} {unit}") for at, value in points)
        return
    yield CardRow(curve.name, f"{name} [{unit}]", "; ".join(f"{value} at {at}" for at, value in points))


def _spanned(material: Polymer | Solid | Air, key: str, kind: Kind | None = None) -> str:
    """How far the number may be off, where the card says so; without a `kind` as factors."""
    if isinstance(material, Air) or key not in material.ranges:
        return ""
    ends = material.ranges[key]
    low, high = (f"{end:g}" if kind is None else _shown(end, kind) for end in ends)
    return f", times {low} to {high}" if kind is None else f", {low} to {high}"


def _viscosity(law: Viscosity) -> str:
    """The law with its numbers [SI], and what they were measured over."""
    name, declared = next((name, each) for name, (each, made) in LAWS.items() if type(law) is made)
    numbers = [
        f"{SYMBOLS.get(each.name, each.name)} {getattr(law, each.name):g} {_unit(each.kind)}" for each in declared
    ]
    text = f"{name}: {', '.join(number.rstrip() for number in numbers)}"
    if law.temperatures:
        low, high = (f"{end - ZERO_CELSIUS:g}" for end in law.temperatures)
        text += f"; measured at {low} to {high} degC"
    if law.rates:
        text += f", {law.rates[0]:g} to {law.rates[1]:g} 1/s"
    return text


def _unit(kind: Kind) -> str:
    """The SI unit as people write it; nothing for a plain number."""
    return "" if not kind.unit else kind.symbol.replace("*", " ")


def _shown(value: float, kind: Kind) -> str:
    """The value with its unit, temperatures to a degree."""
    return f"{in_shown(value, kind):.0f} degC" if kind.is_temperature else spelled(show(value, kind))
