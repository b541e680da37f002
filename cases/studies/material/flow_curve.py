"""A law of viscosity through measured points: Cross-WLF or Carreau-Arrhenius, whichever the points ask for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from meltzone.cases.statistics.curve import LEVEL, FittedCurve, fitted
from meltzone.materials.viscosity import CarreauArrhenius, CrossWLF, Viscosity

WLF_A2 = 51.6  # [K], the universal value of Williams, Landel and Ferry, J. Am. Chem. Soc. 77:3701 (1955)
FEWEST = 6  # points from which a law is fitted; fewer move a known one
INSTRUMENT = 0.1  # by which a rheometer may be off as a whole, two standard deviations: common practice, no source
LawOf = Callable[[np.ndarray], Viscosity]
NO_SPREAD = 1.0  # kelvin: temperatures within it are one


@dataclass(frozen=True, eq=False)
class Points:
    """Measured viscosities: `temperature` [K], `rate` [1/s] and `viscosity` [Pa s], each (n,).

    `by_frequency` where the rate is an angular frequency, taken for a rate of shear after Cox and Merz (1958).
    """

    temperature: np.ndarray
    rate: np.ndarray
    viscosity: np.ndarray
    by_frequency: bool = False

    @property
    def is_isothermal(self) -> bool:
        """Whether all were measured at one temperature."""
        return float(np.ptp(self.temperature)) < NO_SPREAD


@dataclass(frozen=True, eq=False)
class FlowCurve:
    """The chosen `law` through `points`; `intervals` are 95 % ones of its numbers by name, `misses` [-] by point, (n,).

    `factors` [-] hold 95 of 100 points, with what the instrument is off as a whole. `criteria` are AICc by law, the lower
    the better; empty where a known law was only moved, by the factor of which `moved_by` tells.
    """

    points: Points
    law: Viscosity
    intervals: Mapping[str, tuple[float, float]]
    misses: np.ndarray
    factors: tuple[float, float]
    criteria: Mapping[str, float]
    moved_by: float | None = None


def flow_curve(points: Points, softens: float, known: Viscosity | None) -> FlowCurve:
    """The law through `points` for a polymer that `softens` there [K]; `known` gives what too few points leave open.

    Raises ValueError where neither the points nor a known law suffice.
    """
    if points.viscosity.size < FEWEST:
        return _moved(points, known)
    if points.is_isothermal and known is None:
        raise ValueError("viscosities at one temperature, and no law whose shift could be taken")
    found = {"Cross-WLF": _cross(points, softens, known)}
    if not points.is_isothermal:
        found["Carreau-Arrhenius"] = _carreau(points)
    criteria = {name: curve.criterion for name, (curve, _) in found.items()}
    best = min(criteria, key=criteria.__getitem__)
    curve, parts = found[best]
    law = parts(curve.values)
    spread = _factor(curve)
    return FlowCurve(points, _backed(law, points), _intervals(curve, law), curve.residuals, spread, criteria)


def _cross(points: Points, softens: float, known: Viscosity | None) -> tuple[FittedCurve, LawOf]:
    """Cross-WLF by ln eta0 at the middle temperature, ln tau*, n and A1, which stays that of `known` at one temperature."""
    middle = float(points.temperature.mean())
    d2 = min(softens, float(points.temperature.min()) - 1.0)
    above = middle - d2

    def law_of(values: np.ndarray) -> CrossWLF:
        a1 = values[3] if values.size > 3 else held
        rest = np.exp(values[0] + a1 * above / (WLF_A2 + above))
        return CrossWLF(
            n=float(values[2]), tau_star=float(np.exp(values[1])), D1=float(rest), D2=d2, A1=float(a1), A2=WLF_A2
        )

    held = 20.0
    if points.is_isothermal:
        assert known is not None, "checked before"
        held = float(-known.zero_shear_slope(middle)) * (WLF_A2 + above) ** 2 / WLF_A2
    free = 3 if points.is_isothermal else 4
    start, low, high = ([*_start(points), 20.0], [-10.0, 2.0, 0.0, 0.5], [30.0, 20.0, 1.0 - 1e-6, 120.0])
    return fitted(lambda v: _misses(points, law_of(v)), start[:free], low[:free], high[:free]), law_of


def _carreau(points: Points) -> tuple[FittedCurve, LawOf]:
    """Carreau-Arrhenius by ln eta0 at the middle temperature, ln tau*, n and the activation energy."""
    middle = float(points.temperature.mean())

    def law_of(values: np.ndarray) -> CarreauArrhenius:
        rest, tau = (float(np.exp(value)) for value in values[:2])
        return CarreauArrhenius(n=float(values[2]), tau_star=tau, rest=rest, T0=middle, E=1e3 * float(values[3]))

    low, high = [-10.0, 2.0, 0.0, 1.0], [30.0, 20.0, 1.0 - 1e-6, 600.0]
    return fitted(lambda v: _misses(points, law_of(v)), [*_start(points), 80.0], low, high), law_of


def _start(points: Points) -> list[float]:
    stress = points.viscosity * points.rate
    return [float(np.log(points.viscosity.max())), float(np.log(np.clip(np.median(stress), 1e3, 1e6))), 0.4]


def _misses(points: Points, law: Viscosity) -> np.ndarray:
    return np.asarray(np.log(law(points.rate, points.temperature) / points.viscosity))


def _intervals(curve: FittedCurve, law: Viscosity) -> dict[str, tuple[float, float]]:
    """95 % intervals of what people know the unknowns by."""
    (rest_low, rest_high), (tau_low, tau_high), exponent, *shift = curve.intervals
    found = {
        "eta0": (float(np.exp(rest_low)), float(np.exp(rest_high))),
        "tau_star": (float(np.exp(tau_low)), float(np.exp(tau_high))),
        "n": exponent,
    }
    if shift:
        scale, name = (1e3, "E") if isinstance(law, CarreauArrhenius) else (1.0, "A1")
        found[name] = (scale * shift[0][0], scale * shift[0][1])
    return found


def _factor(curve: FittedCurve) -> tuple[float, float]:
    from scipy.stats import t  # slow to load

    width = float(t.ppf(0.5 * (1.0 + LEVEL), max(curve.freedom, 1))) * (curve.scatter if curve.freedom > 0 else 0.0)
    whole = float(np.hypot(width, INSTRUMENT))
    return float(np.exp(-whole)), float(np.exp(whole))


def _moved(points: Points, known: Viscosity | None) -> FlowCurve:
    """A known law times the mean factor by which the points lie off; its shape is that of the known one."""
    if known is None:
        raise ValueError(f"fewer than {FEWEST} viscosities, and no law whose shape could be taken")
    off = -_misses(points, known)
    factor = float(np.exp(off.mean()))
    law = scaled(known, factor)
    whole = float(np.hypot(2.0 * off.std(), np.log(2.0)))  # the shape is another grade's: a factor of two, assumed
    return FlowCurve(
        points, _backed(law, points), {}, -(off - off.mean()), (float(np.exp(-whole)), float(np.exp(whole))), {}, factor
    )


def scaled(law: Viscosity, factor: float) -> Viscosity:
    """The law with all viscosities times `factor`: at rest, and the stress at which it bends so that the rate stays."""
    tau = law.tau_star * factor
    if isinstance(law, CarreauArrhenius):
        return replace(law, tau_star=tau, rest=law.rest * factor)
    assert isinstance(law, CrossWLF), "there are two laws"
    return replace(law, tau_star=tau, D1=law.D1 * factor)


def _backed(law: Viscosity, points: Points) -> Viscosity:
    """The law with what was measured; a single temperature or rate stands for a little about it."""
    hot = (float(points.temperature.min()), float(points.temperature.max()))
    fast = (float(points.rate.min()), float(points.rate.max()))
    hot = hot if hot[0] < hot[1] else (hot[0] - NO_SPREAD, hot[1] + NO_SPREAD)
    fast = fast if fast[0] < fast[1] else (fast[0] / 1.1, fast[1] * 1.1)
    return replace(law, temperatures=hot, rates=fast)
