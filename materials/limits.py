"""Service limits and the cautions that go with them: what a temperature means for the material that reaches it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from meltzone.materials.polymer import Polymer
from meltzone.materials.solid import Solid
from meltzone.materials.units import ZERO_CELSIUS

Severity = Literal["note", "warning", "refuse"]

DEFERENCE = "The maker's data sheet, local codes and qualified people come before this text."
# What a standing caution of a card is about, by a word of it
TOPICS = {
    "lead": "lead",
    "fibres": "fibres",
    "dust": "dust",
    "allergy": "allergy",
    "smokes": "fumes",
    "ventilate": "fumes",
}
_ORDER: dict[str, int] = {"refuse": 0, "warning": 1, "note": 2}


@dataclass(frozen=True)
class Finding:
    """One remark on one material at one temperature [K]; `limit` [K] is the temperature it is measured against.

    `brief` is the same in a line; of a note, which holds at any temperature, what it is about, as in "lead (brass)".
    """

    severity: Severity
    material: str
    temperature: float
    limit: float | None
    text: str
    brief: str = ""


def findings(material: Polymer | Solid, temperature: float) -> tuple[Finding, ...]:
    """Remarks on `material` whose hottest point is at `temperature` [K], the gravest first."""
    found = _of_polymer(material, temperature) if isinstance(material, Polymer) else _of_solid(material, temperature)
    return tuple(sorted(found, key=lambda finding: _ORDER[finding.severity]))


def service_limit(material: Polymer | Solid) -> float | None:
    """The temperature [K] that `material` is to stay below in service, None where its card states none.

    For a polymer that of degradation within minutes; for a solid its service limit, or else where it must not be used.
    """
    if isinstance(material, Polymer):
        return material.degradation_temperature
    return material.refusal_temperature if material.service_limit is None else material.service_limit


def gravest(found: Iterable[Finding]) -> Severity | None:
    """The gravest severity among the findings, None if there are none."""
    return min((finding.severity for finding in found), key=_ORDER.__getitem__, default=None)


def _of_polymer(polymer: Polymer, temperature: float) -> list[Finding]:
    if temperature <= polymer.softening_temperature:
        return []
    found = [_finding("note", polymer, temperature, None, f"Ventilate. {polymer.fumes}", f"fumes ({_short(polymer)})")]
    decomposition, degradation = polymer.decomposition_temperature, polymer.degradation_temperature
    if decomposition is not None and temperature >= decomposition:
        text = (
            f"it decomposes from {_celsius(decomposition)} on: fumes, charring, danger of fire. Do not run it so hot."
        )
        found.append(_finding("refuse", polymer, temperature, decomposition, text))
    elif temperature >= degradation:
        text = (
            f"it degrades within minutes from about {_celsius(degradation)} on. Lower the setpoint or keep it moving."
        )
        found.append(_finding("warning", polymer, temperature, degradation, text))
    return found


def _of_solid(solid: Solid, temperature: float) -> list[Finding]:
    found = [
        _finding("note", solid, temperature, None, caution, f"{_topic(caution)} ({_short(solid)})")
        for caution in solid.cautions
    ]
    refusal, limit, warning = solid.refusal_temperature, solid.service_limit, solid.warning_temperature
    if refusal is not None and temperature >= refusal:
        text = f"not to be used at or above {_celsius(refusal)}. {solid.limit_reason}"
        found.append(_finding("refuse", solid, temperature, refusal, text))
    elif limit is not None and temperature >= limit:
        text = f"its limit for continuous service is {_celsius(limit)}. {solid.limit_reason}"
        found.append(_finding("warning", solid, temperature, limit, text))
    elif warning is not None and temperature >= warning:
        text = f"caution from {_celsius(warning)} on. {solid.limit_reason}"
        found.append(_finding("warning", solid, temperature, warning, text))
    return found


def _finding(
    severity: Severity, material: Polymer | Solid, temperature: float, limit: float | None, text: str, topic: str = ""
) -> Finding:
    """A remark; that of a note does not hang on the temperature, and does not name it."""
    where = "" if severity == "note" else f" at {_celsius(temperature)}"
    said = f"{material.label}{where}: {text}"
    return Finding(severity, material.key, temperature, limit, f"{said} {DEFERENCE}", topic or said)


def _short(material: Polymer | Solid) -> str:
    return material.label.partition(" (")[0]


def _topic(caution: str) -> str:
    return next((topic for word, topic in TOPICS.items() if word in caution.lower()), "handling")


def _celsius(temperature: float) -> str:
    return f"{temperature - ZERO_CELSIUS:.0f} degC"
