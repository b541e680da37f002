"""result.json: documented keys, units, the numbers of the solver, inputs that give the same case again."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from outputs import COARSE, at_flow, solved

from meltzone.cases.inputs.reader import example_names, load_case
from meltzone.cases.outputs.quantities import as_json
from meltzone.cases.outputs.record import KEYS
from meltzone.cases.outputs.record import record as record_of
from meltzone.cases.outputs.record_head import inputs_of
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.run import ceiling

UNIT_ENDINGS = {"_mm3_per_s": "mm3/s", "_W": "W", "_degC": "degC", "_mm": "mm", "_percent": "%", "_kg_per_m3": "kg/m3"}


def _at(record: dict[str, Any], path: str) -> Any:
    for name in path.split("."):
        record = record[name]
    return record


def _paths(record: dict[str, Any], above: str = "") -> list[str]:
    """Dotted keys down to the documented ones."""
    documented = {key.path for key in KEYS}
    found = []
    for name, value in record.items():
        path = f"{above}{name}"
        found += [path] if path in documented or not isinstance(value, dict) else _paths(value, f"{path}.")
    return found


def _flat(table: dict[str, Any]) -> dict[str, Any]:
    flat = {}
    for name, value in table.items():
        inside = isinstance(value, dict) and name != "materials"
        flat |= {f"{name}.{key}": item for key, item in value.items()} if inside else {name: value}
    return flat


@pytest.mark.parametrize(
    "result", [solved(), at_flow(), ceiling("short-block", {"heater.setpoint": "100 degC"} | COARSE)]
)
def test_every_key_is_documented_and_every_documented_key_is_there(result: Result) -> None:
    record = json.loads(as_json(record_of(result)))
    assert sorted(_paths(record)) == sorted(key.path for key in KEYS)


def test_numbers_are_those_of_the_solver() -> None:
    result = solved()
    field, ceilings = result.field, result.ceilings
    assert field is not None and ceilings is not None and ceilings.melt is not None
    record = json.loads(as_json(record_of(result)))
    near = {
        "ceilings.flow_mm3_per_s": ceilings.flow * 1e9,
        "ceilings.melt_mm3_per_s": ceilings.melt.flow * 1e9,
        "state.heater_power_W": field.power,
        "state.temperature_core_degC": field.core - 273.15,
        "state.temperature_inner_degC": field.inner - 273.15,
        "state.temperature_mean_degC": field.mean - 273.15,
        "state.temperature_tip_degC": field.tip - 273.15,
        "state.melt_zone_begin_mm": field.melt_zone[1] * 1e3,
        "balance.melt_W": field.balance.melt,
    }
    for path, value in near.items():
        assert _at(record, path) == pytest.approx(value, rel=1e-7), path
    assert _at(record, "state.temperature_sensor_degC") == pytest.approx(
        210.0, abs=1e-4
    )  # the setpoint written in the case
    assert _at(record, "state.melt_zone_end_mm") == 0.6  # the land of the example


def test_heat_out_of_the_record_is_heat_in() -> None:
    balance = record_of(solved())["balance"]
    out = balance["melt_W"] + sum(balance["faces_W"].values()) + balance["cold_end_W"] + balance["inlet_W"]
    assert out == pytest.approx(balance["heater_W"], rel=1e-6)


def test_a_flow_that_was_asked_for_has_no_ceilings() -> None:
    record = record_of(at_flow())
    assert record["state"]["flow_mm3_per_s"] == 12.0
    assert record["ceilings"]["governs"] is None and record["ceilings"]["flow_mm3_per_s"] is None
    assert "12.0 mm³/s" in record["answer"]


def test_nothing_melts_is_a_result_with_its_reason() -> None:
    result = ceiling("short-block", {"heater.setpoint": "100 degC"} | COARSE)
    record = record_of(result)
    assert result.flow_ceiling is None and record["ceilings"]["governs"] == "none"
    assert "does not exceed" in record["ceilings"]["reasons"]["melt"]
    assert record["state"]["temperature_core_degC"] is None
    assert record["cautions"], "materials still reach the setpoint"


@pytest.mark.parametrize("name", example_names())
def test_inputs_read_again_give_the_same_case(name: str) -> None:
    case = load_case(name)
    again = load_case("short-block", _flat(json.loads(as_json(inputs_of(case)))))
    assert again.model == case.model.model_copy(update={"extends": None})


def test_units_in_names_are_those_in_the_table() -> None:
    for key in KEYS:
        ending = next((end for end in UNIT_ENDINGS if key.path.endswith(end)), None)
        assert (
            key.unit == UNIT_ENDINGS[ending]
            if ending
            else key.unit not in UNIT_ENDINGS.values() or key.path == "cautions"
        )
        assert key.meaning.endswith("."), key.path


def test_json_refuses_what_json_does_not_know() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        as_json({"x": math.nan})


def test_overrides_are_told_in_the_record() -> None:
    files = record_of(solved())["case"]["files"]
    assert files == ["override mesh.level = 0.25", "short-block (shipped example)"]


def test_cautions_are_only_those_of_the_case() -> None:
    """The boot of silicone passes 200 degC, where its card warns; without a boot nothing is said of silicone."""
    plain, booted = (record_of(solved(name))["cautions"] for name in ("short-block", "short-block-boot"))
    assert not any("silicone" in caution["text"].lower() for caution in plain)
    found = next(caution for caution in booted if "silicone" in caution["text"].lower())
    result = solved("short-block-boot")
    assert result.field is not None
    assert found["severity"] == "warning"
    assert found["temperature_degC"] == pytest.approx(result.field.part_extremes["wrap"][1] - 273.15, abs=1e-4)
    assert found["limit_degC"] == pytest.approx(200.0)
