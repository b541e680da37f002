"""Materials by name: loads the shipped cards, suggests near names, and reads a user's own card by the same rules."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any, Literal

from meltzone.materials.air import Air
from meltzone.materials.errors import CardError, UnknownMaterial, nearest
from meltzone.materials.polymer import Polymer
from meltzone.materials.reading import read_card
from meltzone.materials.solid import Solid

__all__ = ["CardError", "UnknownMaterial", "air", "card_from_mapping", "card_key", "names", "polymer", "solid"]

CardKind = Literal["polymer", "solid"]

ALIASES = MappingProxyType(
    {
        "aluminum": "aluminium",
        "carbide": "tungsten_carbide",
        "ceramic_fiber": "ceramic_fibre",
        "hardened_steel": "tool_steel",
        "nylon": "pa6",
        "nylon_12": "pa12",
        "nylon_6": "pa6",
        "polycarbonate": "pc",
        "polyimide_film": "polyimide",
        "polyimide_tape": "polyimide",
        "polypropylene": "pp",
        "silicone": "silicone_rubber",
        "stainless": "stainless_steel",
        "steel": "carbon_steel",
        "titanium_alloy": "titanium",
    }
)


def names(kind: CardKind | None = None) -> list[str]:
    """Names of the shipped cards of one kind, or of polymers and solids together, sorted; air needs no choice."""
    return sorted(name for name in _card_files() if name != "air" and (kind is None or _mapping(name)["kind"] == kind))


@cache
def polymer(name: str) -> Polymer:
    """The polymer of that name in any case; raises UnknownMaterial."""
    found = _load(name, "polymer")
    assert isinstance(found, Polymer)
    return found


@cache
def solid(name: str) -> Solid:
    """The solid of that name in any case; raises UnknownMaterial."""
    found = _load(name, "solid")
    assert isinstance(found, Solid)
    return found


@cache
def air() -> Air:
    """Air at one atmosphere."""
    found = read_card("air", _mapping("air"), "card air")
    assert isinstance(found, Air)
    return found


def card_from_mapping(name: str, mapping: Mapping[str, Any], origin: str) -> Polymer | Solid:
    """A user's own material; `like = "pla"` takes from that shipped card all that `mapping` leaves out.

    A key that is given replaces the shipped card's whole entry. Raises CardError, whose message starts with `origin`.
    """
    like = mapping.get("like")
    if like is not None:
        mapping = _shipped_base(like, mapping, origin) | {"label": name} | dict(mapping)
    if mapping.get("kind") == "air":
        raise CardError("kind", "air", '"polymer" or "solid"', "Air comes with the program.", origin)
    found = read_card(name, mapping, origin)
    assert not isinstance(found, Air)
    return found


def _shipped_base(like: Any, mapping: Mapping[str, Any], origin: str) -> dict[str, Any]:
    known = names()
    base = _mapping(card_key(like)) if isinstance(like, str) and card_key(like) in known else None
    if base is None:
        near = _nearest(like, known)
        hint = f"Did you mean {' or '.join(near)}?" if near else "Leave it out and give every property."
        raise CardError("like", like, f"a shipped card: {', '.join(known)}", hint, origin)
    if mapping.get("kind", base["kind"]) != base["kind"]:
        hint = f"{like} is a {base['kind']}; leave kind out."
        raise CardError("kind", mapping["kind"], f'"{base["kind"]}"', hint, origin)
    return dict(base)


def _load(name: str, kind: CardKind) -> Polymer | Solid | Air:
    key = card_key(name)
    if key == "air" or key not in _card_files() or _mapping(key)["kind"] != kind:
        known = tuple(names(kind))
        raise UnknownMaterial(name, _nearest(name, list(known)), known, kind)
    return read_card(key, _mapping(key), f"card {key}")


def card_key(name: str) -> str:
    """The key of the shipped card that `name` means, as far as there is one."""
    plain = "_".join(name.strip().lower().replace("-", " ").replace("_", " ").split())
    return ALIASES.get(plain, plain)


def _nearest(name: Any, known: list[str]) -> tuple[str, ...]:
    plain = card_key(str(name))
    spellings = known + [alias for alias, key in ALIASES.items() if key in known]
    close = nearest(plain, spellings, 3, 0.5)
    return tuple(dict.fromkeys(ALIASES.get(word, word) for word in close))


@cache
def _card_files() -> dict[str, Any]:
    folder = resources.files("meltzone.materials.cards")
    return {file.name.removesuffix(".toml"): file for file in folder.iterdir() if file.name.endswith(".toml")}


@cache
def _mapping(key: str) -> dict[str, Any]:
    return tomllib.loads(_card_files()[key].read_text(encoding="utf-8"))
