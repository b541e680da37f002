"""The heater stuck on: what every part reaches at full rating with no flow, the sensor free to rise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from meltzone.fem.discretise import in_surroundings
from meltzone.fem.faults import BeyondLosses
from meltzone.fem.field import Field
from meltzone.fem.newton import State, bordered
from meltzone.fem.steady import TRICKLE
from meltzone.fem.system import FaceTerm, System
from meltzone.fem.threads import one_thread

LOSSES_END = 1500.0  # the loss curves are tabulated up to here [K]


@dataclass(frozen=True, eq=False)
class StuckOn:
    """The steady state of a heater that nothing switches off: `field` with the power at its rating.

    The jet is taken as off and the heat sink as still cold: a fan may have stopped, and a heat sink without its own
    would let the heat break get hotter than said here.
    """

    field: Field

    @property
    def power(self) -> float:
        """The rating [W]."""
        return self.field.power

    @property
    def sensor(self) -> float:
        """Temperature of the sensor point [K]."""
        return self.field.sensor

    @property
    def hottest(self) -> dict[str, float]:
        """Hottest point of every part [K]."""
        return {part: highest for part, (_, highest) in self.field.part_extremes.items()}

    @property
    def beyond_tables(self) -> dict[str, tuple[float, float]]:
        """Parts hotter by more than 1 K than their conductivity is stated for: up to where it is, and how hot they are [K]."""
        curve_of = self.field.problem.materials.conductivity_of
        stated = {part: (curve_of(part).valid_range[1], hottest) for part, hottest in self.hottest.items()}
        return {part: (last, hottest) for part, (last, hottest) in stated.items() if hottest > last + 1.0}

    @property
    def losses_beyond(self) -> float | None:
        """Up to where the losses to the air are tabulated, where it is hotter than that [K]; None where it is not."""
        return LOSSES_END if float(self.field.temperature.max()) > LOSSES_END else None


@one_thread()
def stuck_on(system: System) -> StuckOn:
    """What `system` comes to with the heater at its rating, no flow and the jet off; raises NoConvergence.

    The heat balance is solved for the temperatures alone, with power and flow fixed. It starts from one temperature
    for all hot parts, at which their faces together lose the rating.
    """
    still = in_surroundings(system, replace(system.problem.surroundings, jet_speed=0.0))
    return StuckOn(Field.of(bordered(still, _lumped_state(still), (), ())))


def lumped_temperature(system: System, power: float) -> float:
    """The one temperature of all hot parts at which their faces and the neck lose `power` [W], in [K].

    Neck and heat sink are resistances in series, the neck's conductivity taken at its mean temperature. Raises
    NoConvergence where even `LOSSES_END` does not lose that much.
    """
    from scipy.optimize import brentq  # a tenth of a second to load, which ceilings alone never need

    problem = system.problem
    a, outside = problem.arrangement, problem.surroundings
    faces = [face for face in system.faces if face.name not in ("cold end", "neck", "flange")]
    cold = next(face for face in system.faces if face.name == "cold end")
    inside = a.heat_break.bore if a.liner is None else a.liner.outer_diameter
    neck_area = np.pi / 4.0 * (a.heat_break.neck_diameter**2 - inside**2)

    def excess(hot: float) -> float:
        middle = np.array((hot + outside.cold_temperature) / 2.0)
        neck = float(problem.materials.heat_break.conductivity(middle)) * neck_area / a.heat_break.neck_length
        joint = problem.contacts.cold_joint * float(cold.area.sum())
        conducted = (hot - outside.cold_temperature) / (1.0 / neck + 1.0 / joint)
        return conducted + sum(_loss_at(face, hot) for face in faces) - power

    low = outside.air_temperature
    if excess(LOSSES_END) < 0.0:
        raise BeyondLosses(power, LOSSES_END)
    return float(brentq(excess, low, LOSSES_END, xtol=1e-6))


def _loss_at(face: FaceTerm, hot: float) -> float:
    return float(face.loss(np.array(hot))) * float(face.area.sum())


def _lumped_state(system: System) -> State:
    """All at the lumped temperature, falling along the neck to the heat sink's, the filament above the block likewise."""
    problem = system.problem
    a, operation = problem.arrangement, problem.operation
    hot = lumped_temperature(system, operation.rating)
    height = np.clip((system.space.points[1] - a.block_top) / a.heat_break.neck_length, 0.0, 1.0)
    temperature = hot + height * (problem.surroundings.cold_temperature - hot)
    temperature[system.inlet] = operation.inlet_temperature
    return State(temperature, TRICKLE, operation.rating)
