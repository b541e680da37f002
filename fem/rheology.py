"""Flow of a shear-thinning melt through one section whose temperature varies over the radius: profile and pressure gradient."""

from __future__ import annotations

import numpy as np

from meltzone.materials.viscosity import Viscosity

_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(3)
_SHARE = (1.0 + _GAUSS_X) / 2.0
_STEPS = 60


def shear_rate(stress: np.ndarray, rest: np.ndarray, law: Viscosity) -> tuple[np.ndarray, np.ndarray]:
    """Shear rate [1/s] at a shear `stress` [Pa] where the viscosity at rest is `rest` [Pa s], and d ln(rate)/d ln(stress) [-].

    The law in the form y = x (1 + x^a)^(-(1-n)/a) with y = stress/tau* and x = eta0 rate/tau*, solved for ln x by
    Newton's method; ln y is concave in ln x, so the iteration from the right asymptote is monotone.
    """
    log_y = np.log(np.maximum(stress, 1e-300) / law.tau_star)
    drop, sharp = 1.0 - law.n, law.sharpness
    log_x = np.where(log_y < 0.0, log_y, log_y / law.n)
    for _ in range(_STEPS):
        bend = np.logaddexp(0.0, sharp * log_x)
        slope = 1.0 - drop * np.exp(sharp * log_x - bend)
        change = (log_x - drop / sharp * bend - log_y) / slope
        log_x = log_x - change
        if np.max(np.abs(change)) < 1e-13:
            break
    return law.tau_star / rest * np.exp(np.minimum(log_x, 600.0)), 1.0 / slope


def section_flow(
    radius: np.ndarray, temperature: np.ndarray, flow: np.ndarray, law: Viscosity
) -> tuple[np.ndarray, np.ndarray]:
    """Share of the flow inside each radius [-], (n, m), and the pressure gradient [Pa/m], (n,), of n sections.

    `radius` and `temperature` (n, m) from the axis to the wall [m], [K]; `flow` (n,) [m3/s]. Slow flow along the axis:
    shear stress G r/2, u(r) = integral of the shear rate from r to the wall, no slip; G carries the given flow.
    By parts: flow inside r = pi r^2 u(r) + integral of pi r'^2 rate dr' up to r. Source: balance of pressure and shear on a
    cylinder in fully developed pipe flow, any fluid text.
    """
    r, rest, weight = _points(radius, temperature, law)
    gradient = _gradient(r, rest, weight, flow, law)
    rate, _ = shear_rate(gradient[:, None, None] * r / 2.0, rest, law)
    slip = np.sum(rate * weight, axis=2)
    inner = np.sum(np.pi * r**2 * rate * weight, axis=2)
    velocity = np.concatenate([np.cumsum(slip[:, ::-1], axis=1)[:, ::-1], np.zeros((len(flow), 1))], axis=1)
    swept = np.concatenate([np.zeros((len(flow), 1)), np.cumsum(inner, axis=1)], axis=1)
    inside = np.pi * radius**2 * velocity + swept
    return inside / inside[:, -1:], gradient


def gradient_slopes(
    radius: np.ndarray, temperature: np.ndarray, flow: np.ndarray, gradient: np.ndarray, law: Viscosity
) -> tuple[np.ndarray, np.ndarray]:
    """Derivatives of the pressure gradient of `section_flow`: d ln G/d ln Q [-], (n,), and d ln G/d T [1/K], (n, m).

    `gradient` (n,) [Pa/m] is that of the same sections. By the flow that each ring carries: Q(G, eta0) is held.
    """
    r, rest, weight = _points(radius, temperature, law)
    rate, bend = shear_rate(gradient[:, None, None] * r / 2.0, rest, law)
    carried = np.pi * r**2 * rate * weight
    by_gradient = (carried * bend).sum(axis=(1, 2))
    by_rest = np.zeros(radius.shape)  # - dQ/d ln(eta0) at the nodes, between which ln(eta0) is straight
    by_rest[:, :-1] += (carried * (1.0 - _SHARE)).sum(axis=2)
    by_rest[:, 1:] += (carried * _SHARE).sum(axis=2)
    slope = by_rest / by_gradient[:, None] * law.zero_shear_slope(temperature)
    return flow / by_gradient, slope


def section_heating(radius: np.ndarray, temperature: np.ndarray, gradient: np.ndarray, law: Viscosity) -> np.ndarray:
    """Viscous heat per volume, stress times rate of shear, at the radii of n sections, (n, m) [W/m3].

    Over a section it integrates to the pressure gradient times the flow. `gradient` (n,) [Pa/m].
    """
    stress = gradient[:, None] * radius / 2.0
    rate, _ = shear_rate(stress, law.zero_shear(temperature), law)
    return stress * rate


def _points(radius: np.ndarray, temperature: np.ndarray, law: Viscosity) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Three points between each two nodes of n sections: radius [m], viscosity at rest [Pa s], weight [m], (n, m - 1, 3)."""
    width = np.diff(radius, axis=1)[:, :, None]
    log_rest = np.log(law.zero_shear(temperature))
    rest = np.exp((1.0 - _SHARE) * log_rest[:, :-1, None] + _SHARE * log_rest[:, 1:, None])
    return radius[:, :-1, None] + _SHARE * width, rest, _GAUSS_W / 2.0 * width


def _gradient(r: np.ndarray, rest: np.ndarray, weight: np.ndarray, flow: np.ndarray, law: Viscosity) -> np.ndarray:
    """Pressure gradient at which each section carries its flow, by Newton's method in logarithms [Pa/m]."""
    log_g = np.log(law.tau_star / r[:, -1, -1])
    for _ in range(_STEPS):
        rate, bend = shear_rate(np.exp(log_g)[:, None, None] * r / 2.0, rest, law)
        carried = np.pi * r**2 * rate * weight
        total = carried.sum(axis=(1, 2))
        change = np.log(total / flow) * total / (carried * bend).sum(axis=(1, 2))
        log_g = log_g - np.clip(change, -3.0, 3.0)
        if np.max(np.abs(change)) < 1e-12:
            break
    return np.exp(log_g)
