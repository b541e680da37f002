"""The dictionary behind result.json, from one table of documented keys."""

from __future__ import annotations

import platform
from collections.abc import Callable, Mapping
from importlib.metadata import version
from typing import Any

from pydantic import BaseModel

from meltzone.cases.inputs.fields import Measured, measure_of
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.schema import CaseModel
from meltzone.cases.inputs.tolerance import show_toleranced
from meltzone.cases.inputs.uncertain import tolerances_of
from meltzone.cases.outputs.keyed import Key, nested
from meltzone.cases.outputs.vtu import part_numbers
from meltzone.cases.studies.cautions import margins_of, materials_by_part, without_deference
from meltzone.cases.studies.results import ZERO_CELSIUS, Result
from meltzone.fem.balance import EnergyBalance
from meltzone.fem.field import Field
from meltzone.fem.problem import Problem
from meltzone.materials.limits import DEFERENCE, Finding
from meltzone.materials.units import Kind

FORM = 1  # raised when a key changes its name, its unit or its meaning


def _balance(read: Callable[[EnergyBalance], Any]) -> Callable[[Result], Any]:
    return lambda result: None if result.field is None else read(result.field.balance)


KEYS: tuple[Key[Result], ...] = (
    Key("form", "", "Number of this form of the file; it rises when a key changes.", lambda r: FORM),
    Key("versions", "", "Versions of the program, of Python and of the libraries that carry the numbers.",
        lambda r: versions()),
    Key("case.name", "", "Name of the case: its file's name without the ending.", lambda r: r.case.name),
    Key("case.title", "", "The title written in the case.", lambda r: r.case.model.title),
    Key("case.files", "", "The files and overrides it is made of, the nearest first.",
        lambda r: [layer.label for layer in r.case.layers]),
    Key("inputs", "as written", "Every input as resolved, in the form of a case file; absent keys are the card's or the "
        "parts' own.", lambda r: inputs_of(r.case)),
    Key("answer", "", "The outcome in a sentence.", lambda r: r.statement),
    Key("ceilings.governs", "", '"melt", "power", "force", or "none" where nothing can flow; null where a flow was asked '
        "for.",
        lambda r: r.governs),
    Key("ceilings.flow_mm3_per_s", "mm3/s", "The flow ceiling: the least of the ceilings.", lambda r: r.flow_ceiling),
    Key("ceilings.melt_mm3_per_s", "mm3/s", "Flow at which the polymer just melts through.", lambda r: r.melt_ceiling),
    Key("ceilings.power_mm3_per_s", "mm3/s", "Flow at which the heater's rating is used up.", lambda r: r.power_ceiling),
    Key("ceilings.force_mm3_per_s", "mm3/s", "Flow at which pushing takes the feeder's whole grip; null without a grip.",
        lambda r: r.force_ceiling),
    Key("ceilings.reasons", "", "Why there is no ceiling, by the ceiling's name, for those that are null.",
        lambda r: dict(r.ceilings.reasons) if r.ceilings else {}),
    Key("ceilings.mesh_error_percent", "%", "By how much the ceiling moves on the next finer mesh; null if not sought.",
        lambda r: r.mesh_error),
    Key("state.flow_mm3_per_s", "mm3/s", "Flow of the state described below: at the ceiling, or as asked for. Mass flow over "
        "the solid filament's density at 23 degC.", lambda r: r.flow),
    Key("state.heater_power_W", "W", "Heater power that holds the setpoint.", lambda r: r.power),
    Key("state.heater_rating_W", "W", "Power of the heater when fully on.", lambda r: r.problem.operation.rating),
    Key("state.feeding_force_N", "N", "Force on the filament; null where the case gives no grip or the polymer's card lacks "
        "viscosity or plateau modulus.", lambda r: r.feeding_force),
    Key("state.feeding_grip_N", "N", "Force at which the feeder slips.", lambda r: r.problem.operation.grip),
    Key("state.pressure_bore_MPa", "MPa", "Pressure spent in the bore; null as above.",
        lambda r: r.pushed and 1e-6 * r.pushed.bore),
    Key("state.pressure_channels_MPa", "MPa", "Pressure spent in the channels of a divided length and at their entry.",
        lambda r: r.pushed and 1e-6 * (r.pushed.channels + r.pushed.dividing)),
    Key("state.pressure_cone_MPa", "MPa", "Pressure spent on shear in the cone.",
        lambda r: r.pushed and 1e-6 * r.pushed.cone),
    Key("state.pressure_stretching_MPa", "MPa", "Pressure spent on drawing entangled chains, in the cone and wherever the bore "
        "narrows.", lambda r: r.pushed and 1e-6 * r.pushed.stretching),
    Key("state.pressure_land_MPa", "MPa", "Pressure spent in the orifice's capillary.",
        lambda r: r.pushed and 1e-6 * r.pushed.land),
    Key("state.temperature_core_degC", "degC", "On the axis at the end of the melt zone.", lambda r: r.core),
    Key("state.temperature_inner_degC", "degC", "At the edge of the innermost share of the flow, at the end of the melt zone.",
        lambda r: r.inner),
    Key("state.temperature_mean_degC", "degC", "Flow-weighted mean at the end of the melt zone.", lambda r: r.mean),
    Key("state.temperature_wall_degC", "degC", "Bore wall, metal side, at the end of the melt zone.", lambda r: r.wall),
    Key("state.temperature_sensor_degC", "degC", "At the sensor point.", lambda r: r.sensor),
    Key("state.temperature_tip_degC", "degC", "Nozzle's face beside the orifice.", lambda r: r.tip),
    Key("state.melt_zone_end_mm", "mm", "End of the melt zone, the orifice's capillary's entry, above the nozzle's face.",
        lambda r: r.melt_zone and r.melt_zone[0]),
    Key("state.melt_zone_begin_mm", "mm", "Where the bore wall first exceeds the flow temperature, above the nozzle's face.",
        lambda r: r.melt_zone and r.melt_zone[1]),
    Key("polymer.flow_temperature_degC", "degC", "Above it the polymer yields to the feeder; the melt ceiling is judged by it.",
        lambda r: r.problem.materials.polymer.flow_temperature - ZERO_CELSIUS),
    Key("polymer.softening_temperature_degC", "degC", "Above it the filament's skin wets the bore.",
        lambda r: r.problem.materials.polymer.softening_temperature - ZERO_CELSIUS),
    Key("polymer.density_kg_per_m3", "kg/m3", "Density of the solid filament at 23 degC, by which flow and mass are exchanged.",
        lambda r: r.problem.materials.polymer.reference_density),
    Key("balance.heater_W", "W", "Heat in: the heater.", _balance(lambda b: b.heater)),
    Key("balance.melt_W", "W", "Heat out: what the polymer carries away through the orifice.", _balance(lambda b: b.melt)),
    Key("balance.faces_W", "W", "Heat out: through each face to the air, by the face's name.",
        _balance(lambda b: dict(b.faces))),
    Key("balance.cold_end_W", "W", "Heat out: into the heat sink.", _balance(lambda b: b.cold_end)),
    Key("balance.inlet_W", "W", "Heat out: up the cold filament by conduction.", _balance(lambda b: b.inlet)),
    Key("balance.closure_W", "W", "Heater less all of the above: what the solve leaves unaccounted for.",
        _balance(lambda b: b.imbalance)),
    Key("parts", "number; degC", "Every part: its number in the VTU file, its material, its coldest and hottest temperature.",
        lambda r: parts_of(r.problem, r.field)),
    Key("safety.stuck_on_sensor_degC", "degC", "At the sensor with the heater at its full rating, nothing flowing, the jet off "
        "and the heat sink cold; null beyond the tables of the losses.",
        lambda r: r.stuck_on and r.stuck_on.sensor - ZERO_CELSIUS),
    Key("safety.stuck_on_parts", "degC; words", "Every part in that state: `hottest_degC`, the `limit_degC` of its material or "
        "null, and `severity` (warning, refuse) or null.",
        lambda r: stuck_on_parts(r)),  # noqa: PLW0108 - it stands below
    Key("safety.stuck_on_beyond", "", "What was used there beyond the range it is stated for.",
        lambda r: list(r.stuck_on.beyond) if r.stuck_on else []),
    Key("mesh.level", "", "Mesh level.", lambda r: r.problem.level),
    Key("mesh.cells", "", "Number of cells.", lambda r: r.problem.system.space.section.mesh.nelements),
    Key("mesh.unknowns", "", "Number of unknown temperatures.", lambda r: r.problem.system.space.size),
    Key("mesh.factorisations", "", "Matrix factorisations spent on the answer.", lambda r: r.factorisations),
    Key("warnings", "", "What a reader of the numbers must know; empty as a rule.", lambda r: list(r.warnings)),
    Key("cautions", "degC", "Materials against the hottest point they reach: `severity` (note, warning, refuse), "
        "`material`, `temperature_degC`, `limit_degC`, `text`.", lambda r: list(map(in_words, r.safety))),
    Key("deference", "", "What comes before every caution above.", lambda r: DEFERENCE),
)  # fmt: skip


def record_of(result: Result) -> dict[str, Any]:
    """The whole record: plain types only, numbers to eight digits, None where something does not exist."""
    return nested(KEYS, result)


def versions() -> dict[str, str]:
    """Version of everything that the numbers depend on."""
    names = ("meltzone", "numpy", "scipy", "scikit-fem")
    return {name: version(name) for name in names} | {"python": platform.python_version()}


def inputs_of(case: Case) -> dict[str, Any]:
    """All resolved inputs with units and tolerances, as a case file would hold them; reading them again gives the same case."""
    tolerances = tolerances_of(case)
    return {
        name: _table_as_written(name, value, tolerances) if isinstance(value, BaseModel) else value
        for name in CaseModel.model_fields
        if name != "extends" and (value := getattr(case.model, name)) is not None
    }


def _table_as_written(title: str, table: BaseModel, tolerances: Mapping[str, float]) -> dict[str, Any]:
    written = {}
    for name, field in type(table).model_fields.items():
        value = getattr(table, name)
        measure = measure_of(field)
        if value is None:
            continue
        if isinstance(measure, Measured):
            value = _with_unit(value, measure.kind, f"{title}.{name}", tolerances)
        written[name] = list(value) if isinstance(value, tuple) else value
    return written


def _with_unit(value: Any, kind: Kind, key: str, tolerances: Mapping[str, float]) -> Any:
    if isinstance(value, dict):
        return {name: _with_unit(item, kind, f"{key}.{name}", tolerances) for name, item in value.items()}
    return show_toleranced(value, tolerances.get(key, 0.0), kind)


def parts_of(problem: Problem, field: Field | None) -> dict[str, dict[str, Any]]:
    """Number, material and temperatures of every part."""
    materials = materials_by_part(problem)
    extremes = field.part_extremes if field else {}
    parts: dict[str, dict[str, Any]] = {}
    for part, number in part_numbers(problem.system.space.section).items():
        coldest, hottest = extremes.get(part, (None, None))
        parts[part] = {
            "number": number,
            "material": materials[part].label if part in materials else "air",
            "coldest_degC": _celsius(coldest),
            "hottest_degC": _celsius(hottest),
        }
    return parts


def stuck_on_parts(result: Result) -> dict[str, dict[str, Any]]:
    """Every part with the heater stuck on, against its material's limit; empty where that was not found."""
    if result.stuck_on is None:
        return {}
    return {
        margin.part: {
            "hottest_degC": _celsius(margin.temperature),
            "limit_degC": _celsius(margin.limit),
            "severity": margin.severity,
        }
        for margin in margins_of(result.problem, result.stuck_on.hottest)
    }


def in_words(finding: Finding) -> dict[str, Any]:
    """A finding as plain types."""
    return {
        "severity": finding.severity,
        "material": finding.material,
        "temperature_degC": _celsius(finding.temperature),
        "limit_degC": _celsius(finding.limit),
        "text": without_deference(finding),
    }


def _celsius(temperature: float | None) -> float | None:
    return None if temperature is None else temperature - ZERO_CELSIUS
