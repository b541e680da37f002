"""The discrete heat balance of one problem as arrays: what the weak forms are evaluated with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from meltzone.fem.contact import ContactLaw
from meltzone.fem.divided import DividedTerm
from meltzone.fem.inputs import Criterion
from meltzone.fem.problem import Problem
from meltzone.fem.space import Facets, Space
from meltzone.fem.sparse import Pattern
from meltzone.fem.surroundings import LossCurve
from meltzone.materials.curves import Curve


@dataclass(frozen=True, eq=False)
class FaceTerm:
    """Loss through a face: facets with their true area, and the flux over the surface temperature."""

    name: str
    facets: Facets
    area: np.ndarray
    loss: LossCurve


@dataclass(frozen=True, eq=False)
class ContactTerm:
    """Heat across a contact: `dofs` (n, 6) of both sides, `jump` (n, 6, n_q) = first minus second.

    `law` gives the conductance over height and flow.
    """

    name: str
    first: Facets
    dofs: np.ndarray
    jump: np.ndarray
    law: ContactLaw

    def across(self, field: np.ndarray) -> np.ndarray:
        """First side less second of the unknowns `field` (size,) at the quadrature points, shape (n, n_q)."""
        return np.einsum("ei,eiq->eq", field[self.dofs], self.jump)


@dataclass(frozen=True, eq=False)
class Measure:
    """A linear measure of the field, weights . T[dofs] [K]: a point, or a mean."""

    dofs: np.ndarray
    weights: np.ndarray

    def of(self, temperature: np.ndarray) -> float:
        """Its value for the unknowns `temperature`, shape (size,) [K]."""
        return float(self.weights @ temperature[self.dofs])


@dataclass(frozen=True, eq=False)
class System:
    """Arrays of the discrete heat balance R(T; flow, power) = 0; see docs/theory for the weak form of every term.

    `stream` is the unit stream function at the unknowns, `source` the heater's load for 1 W, `inlet` the unknowns held at the
    filament's temperature, `outlet` the orifice's facets with the share of the flow through each quadrature point; `sensor`
    is a linear measure of the temperature, `judged` one for each criterion, `viscous` (size,) the load of the viscous heat [W],
    (1,) for none; `divided` is the divided length, if there is one.
    `creep` (2 n,) is the velocity of the slow flow that gave the stream function, over the flow [1/m2]; (0,) where none did.
    """

    problem: Problem
    space: Space
    conductors: tuple[tuple[np.ndarray, Curve], ...]
    stream: np.ndarray
    source: np.ndarray
    inlet: np.ndarray
    faces: tuple[FaceTerm, ...]
    contacts: tuple[ContactTerm, ...]
    outlet: Facets
    outlet_share: np.ndarray
    sensor: Measure
    judged: Mapping[Criterion, Measure]
    viscous: np.ndarray = field(default_factory=lambda: np.zeros(1))
    creep: np.ndarray = field(default_factory=lambda: np.zeros(0))
    divided: DividedTerm | None = None

    def moving(self, **velocity: Any) -> System:
        """The same system under another velocity: the fields that go with it. The sparsity is carried over."""
        other = replace(self, **velocity)
        other.__dict__["pattern"] = self.pattern
        return other

    def with_terms(self, **terms: Any) -> System:
        """The same system with some of its terms replaced by such of the same shape, under the same velocity."""
        other = replace(self, **terms)
        other.__dict__["pattern"], other.__dict__["drift"] = self.pattern, self.drift
        return other

    def judged_by(self, criterion: Criterion) -> Measure:
        """The temperature at the end of the melt zone that `criterion` looks at."""
        return self.judged[criterion]

    @property
    def density(self) -> float:
        """Density that turns the commanded flow into a mass flow [kg/m3]."""
        return self.problem.materials.polymer.reference_density

    @cached_property
    def pattern(self) -> Pattern:
        """Sparsity of the tangent."""
        batches = [self.space.cells.dofs, *(f.facets.dofs for f in self.faces)]
        batches += [*(c.dofs for c in self.contacts), self.outlet.dofs]
        return Pattern.of(self.space.size, batches, self.inlet)

    @cached_property
    def drift(self) -> np.ndarray:
        """Mass flux of a unit mass flow times 2 pi r dA in the polymer's cells, shape (n_polymer, 2 n_q) [m]."""
        cells = self.space.cells
        chosen = self.polymer_cells
        n_q = cells.values.shape[1]
        slope = np.einsum("ei,eiq->eq", self.stream[cells.dofs[chosen]], cells.gradients[chosen])
        by_r, by_z = slope[:, :n_q], slope[:, n_q:]
        area = cells.area[chosen]
        return np.hstack([by_z * area, -by_r * area])

    @property
    def polymer_cells(self) -> np.ndarray:
        """Cells of the polymer."""
        return self.space.cells_of("polymer")
