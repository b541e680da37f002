"""Service limits: severities at their thresholds, cautions, deference."""

from __future__ import annotations

import pytest

from meltzone.materials import library
from meltzone.materials.limits import DEFERENCE, findings, gravest

ZERO = 273.15
# Thresholds [degC] published for insulators: PTFE warn from 240, refuse from 260; silicone rubber embrittles above 200,
# 230 is the highest for continuous service; silicone adhesive of polyimide tape fails above 260, the film at 400.
CASES = [
    ("ptfe", 200, "note"),
    ("ptfe", 239, "note"),
    ("ptfe", 240, "warning"),
    ("ptfe", 259, "warning"),
    ("ptfe", 260, "refuse"),
    ("ptfe", 500, "refuse"),
    ("silicone_rubber", 190, None),
    ("silicone_rubber", 210, "warning"),
    ("silicone_rubber", 240, "warning"),
    ("silicone_rubber", 310, "refuse"),
    ("polyimide", 220, "note"),
    ("polyimide", 265, "warning"),
    ("polyimide", 400, "refuse"),
    ("ceramic_fibre", 300, "note"),
    ("brass", 500, "note"),
    ("aluminium", 260, None),
    ("aluminium", 320, "warning"),
    ("aluminium", 560, "refuse"),
    ("stainless_steel", 600, None),
]


@pytest.mark.parametrize(("name", "celsius", "severity"), CASES)
def test_severity_at_the_thresholds(name: str, celsius: float, severity: str | None) -> None:
    assert gravest(findings(library.solid(name), celsius + ZERO)) == severity


@pytest.mark.parametrize("name", library.names("polymer"))
def test_polymers_note_fumes_warn_and_refuse(name: str) -> None:
    polymer = library.polymer(name)
    assert findings(polymer, 25.0 + ZERO) == ()
    working = findings(polymer, polymer.flow_temperature + 5.0)
    assert [finding.severity for finding in working] == ["note"]
    assert "Ventilate" in working[0].text
    assert polymer.fumes in working[0].text
    assert gravest(findings(polymer, polymer.degradation_temperature)) == "warning"
    assert polymer.decomposition_temperature is not None
    hottest = findings(polymer, polymer.decomposition_temperature)
    assert hottest[0].severity == "refuse"
    assert len(hottest) == 2


@pytest.mark.parametrize("name", library.names())
def test_every_finding_defers_to_those_who_know_and_names_the_material(name: str) -> None:
    found = library.polymer(name) if name in library.names("polymer") else library.solid(name)
    for celsius in (150, 240, 270, 420, 1100):
        for finding in findings(found, celsius + ZERO):
            assert finding.text.endswith(DEFERENCE)
            assert finding.text.startswith(found.label)
            assert finding.material == name
            assert finding.temperature == celsius + ZERO
            if finding.severity != "note":
                assert finding.limit is not None
                assert finding.limit <= finding.temperature


def test_hazards_are_named() -> None:
    texts = {
        name: " ".join(f.text for f in findings(library.solid(name), 270 + ZERO)) for name in library.names("solid")
    }
    assert "birds" in texts["ptfe"]
    assert "fluorinated" in texts["ptfe"]
    assert "lead" in texts["brass"]
    assert "respirable" in texts["ceramic_fibre"]
    assert "acrylic adhesive" in texts["polyimide"]
    assert "isocyanates" in library.polymer("tpu").fumes
    assert "hydrogen cyanide" in library.polymer("abs").fumes


def test_the_gravest_comes_first() -> None:
    severities = [finding.severity for finding in findings(library.solid("ptfe"), 300 + ZERO)]
    assert severities == ["refuse", "note"]
