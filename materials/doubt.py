"""How far a card's number may be off: its own range, else one assumed by the kind of its source."""

from __future__ import annotations

import re
from types import MappingProxyType

from meltzone.materials.curves import Curve
from meltzone.materials.polymer import Polymer
from meltzone.materials.solid import Solid

# Nine times in ten, by what the source is; assumed, no source. Curves and amounts by factors, temperatures by kelvin.
KINDS = ("published", "from memory", "common practice")
ASSUMED = MappingProxyType(
    {
        "density": (1.01, 1.03, 1.05),
        "heat_capacity": (1.03, 1.06, 1.1),
        "conductivity": (1.05, 1.1, 1.15),
        "melting_enthalpy": (1.1, 1.2, 1.5),
        "plateau_modulus": (1.2, 1.5, 2.0),
        "viscosity": (1.5, 2.0, 3.0),
    }
)
OTHERS = (1.1, 1.2, 1.5)  # for properties without an entry
KELVIN = (3.0, 5.0, 10.0)
_WORDS = (
    ("from memory", re.compile("from memory|second hand")),
    ("common practice", re.compile("common practice|no source|assumed|estimate|invented|given in the case")),
)


def kind_of_source(text: str) -> str:
    """What a `text` of sources amounts to: the most doubtful of "published", "from memory", "common practice"."""
    found = [name for name, words in _WORDS if words.search(text)]
    return "published" if not found else found[-1] if len(found) == 1 else "common practice"


def doubt_of(material: Polymer | Solid, name: str) -> tuple[float, float, str]:
    """Both ends of what the property `name` may be, and how that is known: "range of the card" or "assumed, ...".

    Factors [-] of a curve or an amount, differences [K] of a temperature.
    """
    value = getattr(material, name)
    is_temperature = name.endswith(("temperature", "_peak"))
    known = material.ranges.get(name)
    if known is not None and name != "viscosity":
        middle = float(value.values[0]) if isinstance(value, Curve) else value
        if known[0] <= middle <= known[1]:
            ends = [end - middle if is_temperature else end / middle for end in known]
            return ends[0], ends[1], "range of the card"
    if known is not None and name == "viscosity":
        return known[0], known[1], "range of the card"
    kind = kind_of_source(material.sources.get(name, ""))
    said = f"assumed, the source being {kind}"
    if is_temperature:
        kelvin = KELVIN[KINDS.index(kind)]
        return -kelvin, kelvin, said
    factor = ASSUMED.get(name, OTHERS)[KINDS.index(kind)]
    return 1.0 / factor, factor, said
