"""How columns are headed: in tables for machines, in sheets that people fill in, and in any usual wording of their own.

The one rule: a table that a program writes for programs is headed by keys with the unit in them, as records are, such as
ceiling_mm3_per_s; a sheet that a person fills in by words with the unit in brackets, such as commanded [mm^3/s]; a dotted key
of a case by itself, with a unit in brackets or none. Every reader takes each of them.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

# Wordings by meaning: common practice, no source. Letters without accents, one blank between words.
WORDINGS: dict[str, tuple[str, ...]] = {
    "commanded": (
        "flow", "flow rate", "flowrate", "commanded flow", "target flow", "set flow", "nominal flow", "requested flow",
        "volumetric flow", "volumetric flow rate", "volume flow", "volumetric rate", "extrusion rate", "q", "flow commanded",
        "fluss", "durchfluss", "volumenstrom", "debit", "debit volumique", "caudal", "flujo",
    ),
    "feeder_speed": (
        "speed", "feed", "feed rate", "feedrate", "feed speed", "extruder speed", "extrusion speed", "filament speed",
        "e speed", "feeder", "geschwindigkeit", "vorschub", "vitesse", "velocidad",
    ),
    "length": (
        "extruded", "extruded length", "extrusion length", "filament length", "length fed", "fed", "fed length", "blob length",
        "commanded length", "filament", "lange", "longueur", "longitud", "e length", "amount",
    ),
    "time": ("duration", "seconds", "extrusion time", "time taken", "t", "zeit", "dauer", "temps", "duree", "tiempo"),
    "mass": (
        "weight", "net mass", "net weight", "weighed", "measured mass", "measured weight", "balance", "scale", "grams",
        "masse", "gewicht", "poids", "masa", "peso", "blob", "blob mass", "blob weight", "sample mass", "sample weight", "m",
    ),
    "gross_mass": (
        "gross", "gross weight", "total mass", "total weight", "mass with tray", "weight with tray", "with tray", "with cup",
        "mass with cup", "weight with cup", "brutto", "brut", "bruto",
    ),
    "tray_mass": (
        "tray", "tare", "tray weight", "tare mass", "tare weight", "cup", "cup mass", "cup weight", "empty", "empty mass",
        "empty weight", "empty tray", "container", "dish", "tara", "schale", "empty cup",
    ),
    "mass_rate": ("mass flow", "mass flow rate", "mass rate", "delivered mass flow", "massenstrom", "debit massique"),
    "density": ("filament density", "dichte", "densite", "densidad", "rho"),
    "diameter": ("filament diameter", "durchmesser", "diametre", "diametro", "d"),
    "balance_resolution": ("resolution", "last digit"),
    "expected_mass": ("expected", "expected weight", "target mass", "nominal mass"),
    "series": ("hot end", "hotend", "setup", "variant", "configuration", "reihe", "serie"),
    "case": ("case file",),
    "note": ("notes", "comment", "comments", "remark", "remarks", "bemerkung", "remarque", "nota"),
    "use": ("used", "valid", "ok"),
    "order": ("sample", "samples", "no", "nr", "number", "run", "test", "probe", "essai", "id"),
    "round": ("repeat", "repetition", "pass", "runde"),
}  # fmt: skip
KEY_UNITS = {  # as they end a key, and as they are written
    "mm3_per_s": "mm^3/s", "mm3_per_min": "mm^3/min", "mm_per_s": "mm/s", "mm_per_min": "mm/min", "g_per_s": "g/s",
    "g_per_min": "g/min", "g_per_cm3": "g/cm^3", "kg_per_m3": "kg/m^3", "mm": "mm", "m": "m", "s": "s", "g": "g", "kg": "kg",
    "percent": "%",
}  # fmt: skip
MANY = 12  # masses that may stand in one row
_BRACKETS = re.compile(r"(.*?)\s*[\[(]\s*([^\[\]]*?)\s*[\])]\s*(.*)")
_LOOSE = re.compile(
    r"(.*?)(?:\s+in\s+|\s*[,/:]\s*|\s+)"
    r"((?:mm|cm)(?:\^?3|³)\s*(?:/\s*|\s+per\s+)(?:s|sec|second|min|minute)|(?:mm|m|g|mg)\s*(?:/\s*|\s+per\s+)(?:s|sec|second|min|minute)"
    r"|g/cm(?:\^?3|³)|mg|kg|gr|g|gram|grams|mm|cm|m|s|sec|seconds|min|minutes|ms|um)"
)
_SPELLED = (
    (r"\s+per\s+", "/"), (r"\bsec(?:s|onds?)?\b", "s"), (r"\bmin(?:s|utes?)\b", "min"), (r"\bgr(?:ams?)?\b", "g"),
    (r"\bcc\b", "cm^3"), (r"\bseconds\b", "s"),
)  # fmt: skip
_BY_WORDING = {wording: key for key, wordings in WORDINGS.items() for wording in (key.replace("_", " "), *wordings)}


def in_brackets(heading: str, known: Sequence[str]) -> str:
    """The heading with its unit in brackets where it is one of the `known` keys with a unit at its end, else as it is."""
    for key in sorted(known, key=len, reverse=True):
        unit = KEY_UNITS.get(heading.strip().removeprefix(f"{key}_"))
        if unit is not None:
            return f"{key.replace('_', ' ')} [{unit}]"
    return heading


def plain(heading: str) -> str:
    """A heading in small letters without accents, signs and numbers."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", heading.lower()) if not unicodedata.combining(c))
    return " ".join(re.sub(r"[^a-z]+", " ", bare).split())


def meaning(heading: str) -> tuple[str, str]:
    """The key that `heading` means, '' where no wording is known, and its unit, '' where none is told."""
    found = _BRACKETS.fullmatch(heading.strip())
    name, unit = (f"{found.group(1)} {found.group(3)}", found.group(2)) if found else (heading, "")
    if not found and (loose := _LOOSE.fullmatch(heading.strip())):
        name, unit = loose.groups()
    key = _BY_WORDING.get(plain(name), "")
    return (key, spelled(unit)) if key else ("", "")


def spelled(unit: str) -> str:
    """A unit as people write it in the spelling of this program; "gr" is no grain here."""
    for pattern, short in _SPELLED:
        unit = re.sub(pattern, short, unit)
    return unit


def understood(header: Sequence[str], known: Sequence[str]) -> list[str]:
    """The headings with those in other words put as this program heads them; those not understood as they are.

    Those of `known` keys, a unit at their end or not, stay as they are. Several columns of masses are numbered.
    """
    found, masses = [], 0
    for heading in header:
        own = re.sub(r"[\s_-]+", "_", re.sub(r"\s*\[[^\]]*\]\s*$", "", heading.strip()).lower())
        key, unit = meaning(heading)
        if "." in own or (own in known and own != "mass") or not key or in_brackets(heading, known) != heading:
            found.append(heading)
            continue
        if key == "mass":
            masses += 1
            key = key if masses == 1 else f"mass_{masses}"
        words = key.replace("_", " ")
        found.append(f"{words} [{unit}]" if unit else words)
    return found
