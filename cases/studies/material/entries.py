"""The entries of a card while it is made: measured ones with source and range, the others from what it is like."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from meltzone.cases.studies.material import typical
from meltzone.cases.studies.material.calorimetry import CALIBRATION, Calorimetry
from meltzone.cases.studies.material.moduli import Spectrum
from meltzone.materials.curves import Curve
from meltzone.materials.library import polymer
from meltzone.materials.polymer import Polymer
from meltzone.materials.properties import LAWS
from meltzone.materials.reading import SHARPEST
from meltzone.materials.units import ZERO_CELSIUS
from meltzone.materials.viscosity import Viscosity

ENDS = (0.0, 320.0)  # what a card's curves span, held flat beyond the data [degC]
UNITS = {"conductivity": "W/m/K", "heat_capacity": "J/kg/K", "density": "kg/m3"}
OFF = {
    "conductivity": 0.1,
    "heat_capacity": CALIBRATION,
    "density": 0.01,
}  # of instruments, relative: common practice, no source
FROZEN = 0.3  # of the melting: with more cold crystallisation the filament softens at its glass transition; assumed
BELOW_PEAK = 20.0  # where crystals hold it until it melts: its softening [K]; assumed
GLASS_OFF, PEAK_OFF = 3.0, 2.0  # of a transition read off a run [K]: common practice, no source


def in_degrees(kelvin: float) -> float:
    """[K] to [degC], to a tenth."""
    return round(kelvin - ZERO_CELSIUS, 1)


@dataclass
class Entries:
    """A card's `mapping` as it grows; `kind` is its class, `model` the shipped card it is like, if any.

    `missing` names what was not measured; it `softens` there, and curves of its class count from `reference` [K].
    """

    kind: str
    model: Polymer | None
    mapping: dict[str, Any] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)
    softens: float = 0.0
    reference: float = 0.0

    @classmethod
    def like(cls, name: str) -> Entries:
        """Empty entries for a polymer like `name`, a class or a shipped card."""
        if name in typical.CLASSES:
            return cls(name, None)
        model = polymer(name)
        return cls("semi-crystalline" if model.melting_enthalpy > 0.0 else "amorphous", model)

    @property
    def melts(self) -> bool:
        """Whether it has a melting peak."""
        return self.kind == "semi-crystalline"

    @property
    def like_words(self) -> str:
        """What it is like."""
        return f"{self.model.label} (shipped card)" if self.model else f"the shipped {self.kind} polymers"

    def number(self, name: str, value: str, low: str, high: str, source: str) -> None:
        """A number with its range."""
        self.mapping[name] = {"value": value, "range": [low, high], "source": source}

    def calorimetry(self, run: Calorimetry, source: str) -> list[str]:
        """What a heating run gives; notes on what it does not."""
        notes = []
        said = f"measured: {source}" if source else "measured"
        crystallises = run.melting is not None and run.melting.cold > FROZEN * run.melting.melted
        if self.melts and run.melting is not None and not crystallises:
            self.softens = run.melting.peak - BELOW_PEAK
            told = f"{BELOW_PEAK:g} K below the measured peak, as on the shipped cards; assumed"
            self._celsius("softening_temperature", self.softens, BELOW_PEAK / 2.0, told)
        elif run.step is not None:
            self.softens = run.step.middle
            self._celsius(
                "softening_temperature", run.step.middle, GLASS_OFF, f"{said}; glass transition at half height"
            )
        elif not self.melts:
            notes.append("no glass transition was found in the heating run")
        if run.melting is not None:
            peak = run.melting
            self.reference = peak.peak
            self._celsius("melting_peak", peak.peak, PEAK_OFF, f"{said}; top of the peak")
            low, value, high = (
                f"{each / 1e3:.3g} J/g" for each in (peak.low, peak.net, max(peak.high, peak.low + 10.0))
            )
            both = f"melting {peak.melted / 1e3:.1f} less cold crystallisation {peak.cold / 1e3:.1f} J/g"
            feet = f"straight baseline from {in_degrees(peak.left):g} to {in_degrees(peak.right):g} degC"
            self.number("melting_enthalpy", value, low, high, f"{said}; {both}, {feet}")
            width = f"{max(peak.width, 1.01 * peak.net / SHARPEST):.1f} K"
            self.mapping["melting_width"] = {
                "value": width,
                "source": f"{said}; the smooth step with the peak's variance",
            }
        self.curve("heat_capacity", run.table, f"{source or 'own measurement'}, peaks taken out")
        return notes

    def _celsius(self, name: str, kelvin: float, off: float, source: str) -> None:
        low, value, high = (f"{in_degrees(each):g} degC" for each in (kelvin - off, kelvin, kelvin + off))
        self.number(name, value, low, high, source)

    def complete_temperatures(self, flows: float | None, degrades: float | None) -> None:
        """The temperatures that were not measured, and those that a person gives."""
        given = {"flow_temperature": flows, "degradation_temperature": degrades}
        for name, kelvin in given.items():
            if kelvin is not None:
                self.mapping[name] = {"value": f"{in_degrees(kelvin):g} degC", "source": "given with the measurements"}
        if self.melts and "melting_peak" in self.mapping and flows is None:
            self.mapping["flow_temperature"] = {**self.mapping["melting_peak"], "source": "the melting peak, measured"}
        if self.model is None:
            self._from_class()
        wanted = ["softening_temperature", "flow_temperature", "degradation_temperature"]
        wanted += ["melting_enthalpy", "melting_peak"] if self.melts else []
        wanted += ["plateau_modulus"] if self.model is not None and self.model.plateau_modulus is not None else []
        self.missing += [name for name in wanted if self.model is not None and name not in self.mapping]
        self.softens = self.softens or self._kelvin("softening_temperature")
        self.reference = self.reference or (self._kelvin("melting_peak") if self.melts else self.softens)

    def _kelvin(self, name: str) -> float:
        if name in self.mapping:
            return float(str(self.mapping[name]["value"]).split()[0]) + ZERO_CELSIUS
        assert self.model is not None, "a class has been completed"
        return float(getattr(self.model, name))

    def _from_class(self) -> None:
        if self.melts:
            self._typical("melting_peak", lambda c: c.melting_peak)
            self._typical("melting_enthalpy", lambda c: c.melting_enthalpy, "J/kg")
            self._typical("softening_temperature", lambda c: c.softening_temperature)
            self._typical("flow_temperature", lambda c: c.flow_temperature)
        else:
            self.mapping["melting_enthalpy"] = {"value": "0 J/g", "source": "amorphous"}
            self._typical("softening_temperature", lambda c: c.softening_temperature)
            base = self._kelvin("softening_temperature")
            self._typical("flow_temperature", lambda c: base + c.flow_temperature - c.softening_temperature)
        self._typical("plateau_modulus", lambda c: c.plateau_modulus, "Pa")
        if "degradation_temperature" not in self.mapping:  # the safe end of the class
            coldest = min(card.degradation_temperature for card in typical.members(self.kind))
            self.missing.append("degradation_temperature")
            source = f"not measured, assumed: the lowest of the shipped {self.kind} polymers"
            self.mapping["degradation_temperature"] = {"value": f"{in_degrees(coldest):g} degC", "source": source}

    def _typical(self, name: str, read: Callable[[Polymer], float | None], unit: str = "degC") -> None:
        found = None if name in self.mapping else typical.number(self.kind, read)
        if found is None:
            return
        self.missing.append(name)
        ends = [found.low, found.middle, found.high]
        low, value, high = (f"{in_degrees(e) if unit == 'degC' else float(f'{e:.4g}'):.10g} {unit}" for e in ends)
        self.number(name, value, low, high, found.said)

    def curve(self, name: str, table: np.ndarray, source: str) -> None:
        """A measured property over temperature, `table` (2, n) [K], [SI]: held flat to the card's ends, which its rows say."""
        hot = [in_degrees(each) for each in table[0]]
        rows = list(
            zip(hot, [float(f"{each:.5g}") for each in table[1]], [f"measured: {source}"] * len(hot), strict=True)
        )
        if len(rows) == 1:
            self._through(name, *rows[0])
            return
        low, high = rows[0], rows[-1]
        if low[0] > ENDS[0]:
            rows.insert(0, (ENDS[0], low[1], "outside the data: held from the first value"))
        if high[0] < ENDS[1]:
            rows.append((ENDS[1], high[1], "outside the data: held from the last value"))
        first = rows[0][1]
        self.mapping[name] = {
            "unit": UNITS[name],
            "temperature": [row[0] for row in rows],
            "values": [row[1] for row in rows],
            "sources": [row[2] for row in rows],
            "range": [float(f"{first * factor:.5g}") for factor in (1.0 - OFF[name], 1.0 + OFF[name])],
            "measured_range": [hot[0], hot[-1]],
        }

    def _through(self, name: str, at: float, value: float, said: str) -> None:
        """A property measured at one temperature `at` [degC]: the curve of what it is like, times a factor."""
        if self.model is None:
            self.typical_curve(name)
            self.missing.remove(name)
            entry = self.mapping[name]
            kelvin, values = np.array(entry["temperature"]) + ZERO_CELSIUS, np.array(entry["values"])
        else:
            like: Curve = getattr(self.model, name)
            kelvin, values = like.temperatures, like.values
        factor = value / float(Curve(name, "", kelvin, values, "")(at + ZERO_CELSIUS))
        scaled = [float(f"{each:.5g}") for each in values * factor]
        table = (
            {"temperature": [in_degrees(t) for t in kelvin], "values": scaled}
            if len(scaled) > 1
            else {"value": scaled[0]}
        )
        self.mapping[name] = {
            "unit": UNITS[name],
            **table,
            "range": [float(f"{scaled[0] * each:.5g}") for each in (1.0 - OFF[name], 1.0 + OFF[name])],
            "source": f"{said} at {at:g} degC; over temperature as {self.like_words}",
            "measured_range": [at - 1.0, at + 1.0],
        }

    def typical_curve(self, name: str) -> None:
        """A property over temperature that was not measured."""
        self.missing.append(name)
        if self.model is not None or name in self.mapping:
            return
        hot, values, low, high, said = typical.curve(self.kind, name, self.reference)
        degrees = [
            ENDS[0],
            *(in_degrees(each) for each in hot if ENDS[0] + 5.0 < in_degrees(each) < ENDS[1] - 5.0),
            ENDS[1],
        ]
        held = np.interp(np.array(degrees) + ZERO_CELSIUS, hot, values)
        self.mapping[name] = {
            "unit": UNITS[name],
            "temperature": degrees,
            "values": [float(f"{each:.4g}") for each in held],
            "range": [float(f"{held[0] * factor:.4g}") for factor in (low, high)],
            "source": said,
        }

    def density_at(self, kelvin: float) -> float:
        """Density [kg/m3] at `kelvin` [K] as the card will have it."""
        entry = self.mapping.get("density")
        if entry is None:
            assert self.model is not None, "a class has been completed"
            return float(self.model.density(kelvin))
        hot = np.array(entry["temperature"]) + ZERO_CELSIUS
        return float(Curve("density", "kg/m3", hot, np.array(entry["values"]), "")(kelvin))

    def known_law(self) -> Viscosity | None:
        """The law of viscosity of what it is like."""
        if self.model is not None:
            return self.model.viscosity
        found = typical.viscosity(self.kind, self.softens)
        return found and found[0]

    def viscosity(self, law: Viscosity, factors: tuple[float, float], source: str) -> None:
        """A law of viscosity with its range as factors [-]."""
        name, declared = next((name, each) for name, (each, made) in LAWS.items() if type(law) is made)
        entry: dict[str, Any] = {"law": name}
        for each in declared:
            unit = "" if not each.kind.unit else {"kelvin": "K", "Pa*s": "Pa s"}.get(each.kind.unit, each.kind.unit)
            digits = f"{getattr(law, each.name):.6g}"
            entry[each.name] = f"{digits} {unit}".strip() if unit else float(digits)
        entry |= {"range": [float(f"{factor:.3g}") for factor in factors], "source": source}
        if law.temperatures and law.rates:
            entry["measured_temperatures"] = [in_degrees(each) for each in law.temperatures]
            entry["measured_rates"] = [float(f"{each:.4g}") for each in law.rates]
        self.mapping["viscosity"] = entry

    def typical_viscosity(self) -> None:
        """The law of what it is like, where none was measured."""
        self.missing.append("viscosity")
        found = None if self.model is not None else typical.viscosity(self.kind, self.softens)
        if found is not None:
            self.viscosity(*found)

    def plateau(self, spectrum: Spectrum, source: str) -> list[str]:
        """The plateau modulus where the data reach it; a note where they do not."""
        if spectrum.plateau is None:
            return [f"plateau modulus: not reached, at least {spectrum.at_least:.3g} Pa; taken from {self.like_words}"]
        low, value, high = (f"{factor * spectrum.plateau:.3g} Pa" for factor in (0.8, 1.0, 1.25))
        self.number("plateau_modulus", value, low, high, f"measured: {source}; G' at the least loss tangent")
        self.missing = [name for name in self.missing if name != "plateau_modulus"]
        return []

    def finished(self, label: str, fumes: str) -> dict[str, Any]:
        """The whole mapping, as a case file holds it under materials.NAME."""
        head: dict[str, Any] = {"like": self.model.key} if self.model is not None else {"kind": "polymer"}
        head["label"] = label
        if fumes or self.model is None:
            head["fumes"] = fumes or "Not described; overheated plastics give off irritant and toxic fumes."
        return {**head, **self.mapping}
