"""Slow flow of a shear-thinning melt, its viscosity at rest varying from point to point: Stokes by Newton's method."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import bmat, coo_matrix, csc_matrix

from meltzone.fem.faults import NoConvergence
from meltzone.fem.slow_flow.taylor_hood import FlowSpace
from meltzone.fem.sparse import factorised, scatter
from meltzone.materials.viscosity import Viscosity

STEPS = 60
TOLERANCE = 1e-7  # of the velocity's last change, relative to the largest velocity that is held
ROUND_OFF = 1e-6  # below this a change that no longer falls is round-off: viscosities differ by up to eight digits
WORN, PATIENCE = 1e-5, 10  # and below this one whose least has not halved in that many steps: a melt pushed very hard
HALVINGS = 12
EASY = 4  # steps with the viscosity held, before the tangent is trusted


@dataclass(frozen=True, eq=False)
class Creep:
    """What a slow flow is solved for: viscosity at rest at the quadrature points, and what holds the velocity.

    `rest` (n_cells, n_q) [Pa s]; `law` gives exponent and stress of shear thinning. `fixed` are velocity unknowns held at
    `held` [m/s]; `friction` (2 n, 2 n) is the drag of walls that are slid along [N s/m]; `load` (2 n,) are forces [N].
    """

    space: FlowSpace
    law: Viscosity
    rest: np.ndarray
    fixed: np.ndarray
    held: np.ndarray
    friction: csc_matrix
    load: np.ndarray | None = None

    @cached_property
    def divergence(self) -> csc_matrix:
        """Integral of q div v, (m, 2 n) [m2]."""
        space = self.space
        trace = space.strain[:, :, :3].sum(axis=2) * space.volume[:, :, None]
        blocks = np.einsum("kq,eqi->eki", space.pressure_values, trace)
        rows = np.repeat(space.pressure_dofs[:, :, None], 18, axis=2)
        columns = np.repeat(space.dofs[:, None, :], 4, axis=1)
        shape = (space.vertices.size, 2 * space.size)
        return coo_matrix((blocks.ravel(), (rows.ravel(), columns.ravel())), shape).tocsc()

    @cached_property
    def free(self) -> np.ndarray:
        """Velocity unknowns that are not held."""
        return np.setdiff1d(np.arange(2 * self.space.size), self.fixed)

    def viscosity(self, rates: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The law at the quadrature points for `rates` (n_cells, n_q, 4) [1/s]: eta [Pa s], and -d ln eta/d ln rate [-]."""
        shear = np.sqrt(2.0 * np.sum(rates**2, axis=2))
        drop, sharp = 1.0 - self.law.n, self.law.sharpness
        x = (self.rest * shear / self.law.tau_star) ** sharp
        return self.rest * (1.0 + x) ** (-drop / sharp), drop * x / (1.0 + x)

    def force(self, velocity: np.ndarray) -> np.ndarray:
        """Viscous forces, friction and minus the load on the unknowns, (2 n,) [N]; the pressure's are left out."""
        rates = self.space.rates(velocity)
        eta, _ = self.viscosity(rates)
        return self._stress_load(2.0 * (eta * self.space.volume)[:, :, None] * rates) + self._others(velocity)

    def _stress_load(self, stress: np.ndarray) -> np.ndarray:
        space = self.space
        n = space.cells.size
        local = np.matmul(stress.reshape(n, 1, -1), space.strain.reshape(n, -1, 18))[:, 0]
        return scatter([local], [space.dofs], 2 * space.size)

    def _others(self, velocity: np.ndarray) -> np.ndarray:
        drag = np.asarray(self.friction @ velocity)
        return drag if self.load is None else drag - self.load

    def tangent(self, velocity: np.ndarray, held_viscosity: bool) -> csc_matrix:
        """Derivative of `force` by the velocity; with `held_viscosity` that at the present viscosity, Picard's."""
        space, rates = self.space, self.space.rates(velocity)
        n = space.cells.size
        eta, bend = self.viscosity(rates)
        weight = 2.0 * eta * space.volume
        scaled = weight[:, :, None, None] * space.strain
        matrix = np.matmul(space.strain.reshape(n, -1, 18).transpose(0, 2, 1), scaled.reshape(n, -1, 18))
        if not held_viscosity:
            size = np.sqrt(np.sum(rates**2, axis=2))
            along = rates / np.where(size > 0.0, size, 1.0)[:, :, None]
            seen = np.einsum("eqc,eqci->eqi", along, space.strain)
            matrix -= np.matmul(seen.transpose(0, 2, 1), (weight * bend)[:, :, None] * seen)
        rows = np.repeat(space.dofs[:, :, None], 18, axis=2)
        columns = np.repeat(space.dofs[:, None, :], 18, axis=1)
        shape = (2 * space.size, 2 * space.size)
        return coo_matrix((matrix.ravel(), (rows.ravel(), columns.ravel())), shape).tocsc() + self.friction


@dataclass(frozen=True, eq=False)
class Flowing:
    """A solved slow flow: `velocity` (2 n,) [m/s], `pressure` (m,) [Pa]; `factorisations` spent."""

    creep: Creep
    velocity: np.ndarray
    pressure: np.ndarray
    factorisations: int

    @property
    def reactions(self) -> np.ndarray:
        """Forces that hold the fixed unknowns, (2 n,) [N]; zero at the free ones."""
        return np.asarray(self.creep.force(self.velocity) - self.creep.divergence.T @ self.pressure)

    @property
    def heating(self) -> np.ndarray:
        """Viscous heat 2 eta D:D at the quadrature points, (n_cells, n_q) [W/m3]."""
        rates = self.creep.space.rates(self.velocity)
        eta, _ = self.creep.viscosity(rates)
        return np.asarray(2.0 * eta * np.sum(rates**2, axis=2))


def solve_creep(creep: Creep, start: np.ndarray | None = None) -> Flowing:
    """The slow flow of `creep`, from the velocity `start` (2 n,) [m/s], or from rest with the viscosity at rest.

    A few steps with the viscosity held, then Newton's. The flow has the least of a convex functional (its rate of strain grows
    with the stress), so that a step is halved until the power along it no longer falls by more than it should.
    Raises NoConvergence.
    """
    velocity = np.zeros(2 * creep.space.size) if start is None else start.copy()
    velocity[creep.fixed] = creep.held
    if start is None:
        velocity[creep.free] = 0.0
    scale = max(float(np.abs(creep.held).max()), 1e-30)
    change = least = math.inf
    idle = 0
    for step in range(STEPS):
        before, easy = change, step < EASY and start is None
        move, pressure = _step(creep, velocity, easy)
        change = float(np.abs(move).max(initial=0.0)) / scale
        least, idle = (change, 0) if change < least / 2.0 else (least, idle + 1)
        stalled = (change < ROUND_OFF and change > 0.25 * before) or (change < WORN and idle >= PATIENCE)
        done = not easy and (change < TOLERANCE or stalled)
        share = 1.0 if easy or done else _share(creep, velocity, move, first=step == 0)
        velocity[creep.free] += share * move
        if done:
            return Flowing(creep, velocity, pressure, step + 1)
    raise NoConvergence(f"the slow flow did not converge in {STEPS} steps; it still changes by {change:.1e} of itself")


def _step(creep: Creep, velocity: np.ndarray, easy: bool) -> tuple[np.ndarray, np.ndarray]:
    """The change of the free velocities that is free of divergence, and the pressure."""
    free, divergence = creep.free, creep.divergence
    tangent = creep.tangent(velocity, held_viscosity=easy)[free][:, free]
    coupling = divergence[:, free]
    right = np.concatenate([-creep.force(velocity)[free], divergence @ velocity])
    size = np.sqrt(np.abs(tangent.diagonal()))
    spread = 1.0 / np.maximum(np.sqrt(np.asarray(coupling.power(2) @ (1.0 / size**2)).ravel()), 1e-300)
    system = bmat([[tangent, -coupling.T], [-coupling, None]], format="csc")
    weights = np.concatenate([1.0 / size, spread])
    scaled = system.multiply(weights[:, None]).multiply(weights[None, :]).tocsc()
    solved = weights * factorised(scaled).solve(weights * right)
    if not np.all(np.isfinite(solved)):
        raise NoConvergence("the slow flow's matrix is singular")
    return solved[: free.size], solved[free.size :]


def _share(creep: Creep, velocity: np.ndarray, move: np.ndarray, first: bool) -> float:
    """Share of the step after which the power spent along it has not turned to more than it was."""
    if first:
        return 1.0
    free = creep.free
    before, share = float(creep.force(velocity)[free] @ move), 1.0
    for _ in range(HALVINGS):
        trial = velocity.copy()
        trial[free] += share * move
        if abs(float(creep.force(trial)[free] @ move)) <= 0.9 * abs(before):
            return share
        share /= 2.0
    return share
