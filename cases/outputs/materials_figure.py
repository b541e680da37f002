"""The picture of a material: its properties over temperature, with the temperatures that matter marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from meltzone.cases.outputs.figures import blank_figure, celsius, headline, panel, styled
from meltzone.materials.curves import Curve
from meltzone.materials.polymer import Polymer
from meltzone.materials.solid import Solid
from meltzone.materials.units import ZERO_CELSIUS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LINE = "#1f5fa8"
MARKS = {
    "softens": "#8fb996",
    "flows": "#0c8f9c",
    "degrades": "#d9822b",
    "decomposes": "#b3202c",
    "service limit": "#b3202c",
}
PANEL_WIDTH, PANEL_HEIGHT = 2.75, 2.5  # [inch]


@styled
def curves_figure(material: Polymer | Solid) -> Figure:
    """Conductivity, heat capacity and density of `material` over temperature [degC]; a polymer's enthalpy besides."""
    panels = _panels(material)
    figure = blank_figure(len(panels) * (PANEL_WIDTH + 0.65) + 0.25, PANEL_HEIGHT + 1.6)
    headline(figure, material.label, "points: the numbers on the card; dashed: held flat beyond them")
    low, high = _range(material)
    kelvin = np.linspace(low, high, 600)
    for number, (name, unit, values, curve) in enumerate(panels):
        axes = panel(figure, 0.6 + number * (PANEL_WIDTH + 0.65), 0.5, PANEL_WIDTH, PANEL_HEIGHT)
        _draw(axes, kelvin, values(kelvin), curve)
        axes.set_title(f"{name} [{unit}]", pad=24)
        axes.set_xlabel("temperature [degC]")
        axes.set_xlim(celsius(low), celsius(high))
        _mark(axes, material)
    return figure


def _panels(material: Polymer | Solid) -> list:
    """Name, unit, function of temperature [K] and the card's curve (None where derived) of each panel."""
    panels: list = [("conductivity", "W/m/K", material.conductivity, material.conductivity)]
    if isinstance(material, Polymer):
        panels.append(("heat capacity with melting", "J/g/K", lambda t: 1e-3 * material.enthalpy_slope(t), None))
        panels.append(("enthalpy from 23 degC", "J/g", lambda t: 1e-3 * material.enthalpy(t), None))
    else:
        panels.append(("heat capacity", "J/kg/K", material.heat_capacity, material.heat_capacity))
    panels.append(("density", "kg/m³", material.density, material.density))
    return panels


def _range(material: Polymer | Solid) -> tuple[float, float]:
    tables = [curve.temperatures for curve in (material.conductivity, material.heat_capacity) if not curve.is_constant]
    marked = [value for value in _marked(material).values() if value < ZERO_CELSIUS + 450.0]
    ends = [float(table[-1]) for table in tables] + marked + [ZERO_CELSIUS + 280.0]
    return ZERO_CELSIUS, min(max(ends) + 10.0, ZERO_CELSIUS + 460.0)


def _draw(axes: Axes, kelvin: np.ndarray, values: np.ndarray, curve: Curve | None) -> None:
    if curve is None:
        axes.plot(celsius(kelvin), values, color=LINE, linewidth=1.8)
    else:
        first, last = curve.valid_range
        inside = (kelvin >= first) & (kelvin <= last)
        axes.plot(celsius(kelvin), values, color=LINE, linewidth=1.1, linestyle=(0, (3, 2)))
        axes.plot(celsius(kelvin[inside]), values[inside], color=LINE, linewidth=1.8)
        if not curve.is_constant:
            axes.plot(celsius(curve.temperatures), curve.values, "o", color=LINE, markersize=3.5)
    low, high = float(values.min()), float(values.max())
    room = 0.12 * (high - low) if high - low > 1e-6 * abs(high) else 0.1 * abs(high)
    axes.set_ylim(min(low - room, 0.0) if low > 0.0 and low < 0.5 * high else low - room, high + room)


def _marked(material: Polymer | Solid) -> dict[str, float]:
    if isinstance(material, Polymer):
        found = {
            "softens": material.softening_temperature,
            "flows": material.flow_temperature,
            "degrades": material.degradation_temperature,
            "decomposes": material.decomposition_temperature,
        }
    else:
        found = {"service limit": material.service_limit}
    return {word: value for word, value in found.items() if value is not None}


def _mark(axes: Axes, material: Polymer | Solid) -> None:
    low, high = axes.get_xlim()
    frame = axes.get_xaxis_transform()
    for row, (word, value) in enumerate(_marked(material).items()):
        if low < celsius(value) < high:
            axes.axvline(celsius(value), color=MARKS[word], linewidth=1.2)
            place = (celsius(value), 1.01 + 0.055 * (row % 2))
            axes.text(*place, word, transform=frame, fontsize=7, color=MARKS[word], ha="center", va="bottom")
