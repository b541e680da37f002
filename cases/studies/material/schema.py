"""The schema of a file of measurements from which a card is made: what was measured, how, and where the tables lie."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from meltzone.cases.inputs.fields import Exact, Table, Text, key
from meltzone.materials import units
from meltzone.materials.properties import CARD_TEMPERATURE, POLYMER

_KINDS = {each.name: each.kind for each in POLYMER}
Temperature = Annotated[float, Exact(CARD_TEMPERATURE)]
FileName = Annotated[Text, Field(min_length=1)]


class MeasurementTable(Table):
    """A table of a file of measurements."""

    called = "a file of measurements on a polymer"
    page = "meltzone material --help"


class CalorimetryTable(MeasurementTable):
    """A heating run of a differential scanning calorimeter."""

    file: FileName = key(..., "The instrument's table, beside this file.", example='"dsc.csv"')
    heating_rate: Annotated[float, Exact(units.HEATING.within(1e-4, 10.0))] | None = key(
        None, "Heating rate; needed where the table holds a heat flow.", example='"10 K/min"'
    )
    mass: Annotated[float, Exact(units.MASS.within(1e-8, 1e-3))] | None = key(
        None, "The sample's mass; needed where the heat flow is not per mass.", example='"8.2 mg"'
    )
    sapphire: FileName | None = key(
        None, "Heat flow of sapphire in the same pans, for three runs (ISO 11357-4).", example='"sapphire.csv"'
    )
    sapphire_mass: Annotated[float, Exact(units.MASS.within(1e-8, 1e-3))] | None = key(
        None, "The sapphire's mass; needed with it.", example='"25.6 mg"'
    )
    empty: FileName | None = key(None, "Heat flow of the empty pans.", example='"empty.csv"')
    endothermic: Literal["up", "down"] = key("up", "Which way melting points in the table.")
    peaks_from: Temperature | None = key(
        None, "Left foot of the peaks, where it is chosen by eye.", example='"85 degC"'
    )
    peaks_to: Temperature | None = key(None, "Right foot of the peaks.", example='"175 degC"')
    source: Text = key("own measurement", "Who measured it, with what.")


class TableFile(MeasurementTable):
    """A table of an instrument."""

    file: FileName = key(..., "The instrument's table, beside this file.", example='"rheometer.csv"')
    source: Text = key("own measurement", "Who measured it, with what.")


class ModuliTable(TableFile):
    """Storage and loss modulus over frequency; their table may hold the temperature."""

    temperature: Temperature | None = key(None, "Temperature, where the table has none.", example='"190 degC"')


class FlowRateTable(MeasurementTable):
    """A melt flow rate with the standard die."""

    temperature: Temperature = key(..., "Temperature.", example='"210 degC"')
    load: Annotated[float, Exact(units.MASS.within(0.1, 30.0))] = key(..., "Load.", example='"2160 g"')
    rate: Annotated[float, Exact(units.MELT_FLOW.within(1e-10, 1e-3))] = key(..., "Rate.", example='"6 g/10min"')
    source: Text = key("own measurement", "Who measured it, with what.")


class DensityTable(MeasurementTable):
    """A density at a temperature."""

    temperature: Temperature = key(..., "Temperature.", example='"23 degC"')
    value: Annotated[float, Exact(_KINDS["density"])] = key(..., "Density.", example='"1.24 g/cm^3"')
    source: Text = key("own measurement", "Who measured it, with what.")


class ConductivityTable(MeasurementTable):
    """A thermal conductivity at a temperature."""

    temperature: Temperature = key(..., "Temperature.", example='"190 degC"')
    value: Annotated[float, Exact(_KINDS["conductivity"])] = key(..., "Conductivity.", example='"0.19 W/m/K"')
    source: Text = key("own measurement", "Who measured it, with what.")


class MeasurementsModel(MeasurementTable):
    """A file of measurements on one polymer."""

    label: Text = key("", "What it is; by default the file's name.")
    like: FileName = key(
        ..., "What is not measured is taken from: a shipped polymer, amorphous, or semi-crystalline.", example='"pla"'
    )
    fumes: Text = key("", "What leaves it when it is overheated; by default that of the polymer it is like.")
    dsc: CalorimetryTable | None = key(None, "A calorimeter's heating run.")
    viscosity: TableFile | None = key(None, "Viscosity over temperature and rate of shear or frequency.")
    moduli: ModuliTable | None = key(None, "Storage and loss modulus.")
    pvt: TableFile | None = key(None, "Density or specific volume over temperature and pressure.")
    melt_flow: list[dict[str, Any]] = key([], "Melt flow rates, each a [[melt_flow]].")
    density: list[dict[str, Any]] = key([], "Densities, each a [[density]].")
    conductivity: list[dict[str, Any]] = key([], "Conductivities, each a [[conductivity]].")
    flow_temperature: Temperature | None = key(None, "Where it flows, if known.", example='"165 degC"')
    degradation_temperature: Temperature | None = key(
        None, "Where it degrades within minutes, if known.", example='"250 degC"'
    )
