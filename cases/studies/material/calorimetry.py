"""What a heating run of a calorimeter tells: glass transition, peaks net of cold crystallisation, heat capacity."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

STEP = 0.5  # of the grid that a run is brought to [K]
SMOOTHED = 4.0  # [K]
SURELY = 4.0  # standard deviations of the noise: what is more is no noise
FOOT = 0.02  # of a peak's height: what departs less from its baseline is no longer the peak
LEAST_STEP = 50.0  # of a glass transition: what is smaller is none [J/kg/K]
MOVED = 4.0  # by which the feet of a peak are moved to see what hangs on them [K]
CALIBRATION = 0.05  # of enthalpies and heat capacities, two standard deviations: common practice, no source
EVERY = 20.0  # distance of the points of the table of heat capacity [K]


@dataclass(frozen=True)
class Step:
    """A glass transition: `middle` at half height, `begin` and `end` at a tenth and nine tenths [K], `height` [J/kg/K]."""

    middle: float
    begin: float
    end: float
    height: float


@dataclass(frozen=True)
class Melting:
    """Peaks between two feet [K]: enthalpy `net` of `cold` crystallisation, `melted` without that [J/kg], the `peak` [K].

    `low` and `high` are the net enthalpy with its 95 % range: the feet moved outwards by `MOVED`, the calibration. `width` [K]
    is that of the smooth step of a card with the peak's own variance.
    """

    left: float
    right: float
    peak: float
    width: float
    net: float
    melted: float
    cold: float
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Calorimetry:
    """A run as read, `temperature` (n,) [K] and `capacity` (n,) [J/kg/K]; its `step` and `melting`, None where there is none.

    `table` (2, m) holds temperatures [K] and heat capacities [J/kg/K] without peaks.
    """

    temperature: np.ndarray
    capacity: np.ndarray
    step: Step | None
    melting: Melting | None
    table: np.ndarray


def analysed(
    temperature: np.ndarray, capacity: np.ndarray, melts: bool, feet: tuple[float | None, float | None] = (None, None)
) -> Calorimetry:
    """What `capacity` (n,) [J/kg/K] over rising `temperature` (n,) [K] tells; a peak is looked for where the polymer `melts`.

    `feet` [K] are those of the peaks where a person has chosen them. After ISO 11357-2 (half step height) and -3 (straight
    baseline under the peaks).
    """
    grid = np.arange(temperature[0], temperature[-1], STEP)
    raw = np.interp(grid, temperature, capacity)
    smooth = _smoothed(raw, SMOOTHED)
    noise = float(np.std(raw - smooth))
    melting_at = _largest(grid, smooth) if melts else None
    valley = None if melting_at is None else _valley(smooth, melting_at, noise)
    stop = grid.size if melting_at is None else (valley or melting_at)
    step = _step(grid, smooth, stop, noise)
    melting = None
    if melting_at is not None:
        left, right = _feet(grid, smooth, melting_at, valley, step, noise)
        melting = _melting(grid, raw, smooth, melting_at, feet[0] or grid[left], feet[1] or grid[right])
    return Calorimetry(temperature, capacity, step, melting, _table(grid, smooth, step, melting))


def _smoothed(values: np.ndarray, width: float) -> np.ndarray:
    """A local parabola over `width` [K] on both sides (Savitzky and Golay, 1964)."""
    from scipy.signal import savgol_filter  # slow to load

    points = min(2 * round(width / STEP) + 1, values.size - (values.size + 1) % 2)
    return np.asarray(savgol_filter(values, points, 2))


def _largest(grid: np.ndarray, smooth: np.ndarray) -> int:
    """Where the run is furthest above the straight line between its ends."""
    chord = np.interp(grid, [grid[0], grid[-1]], [smooth[:10].mean(), smooth[-10:].mean()])
    return int(np.argmax(smooth - chord))


def _valley(smooth: np.ndarray, peak: int, noise: float) -> int | None:
    """The lowest point of a cold crystallisation before the `peak`, None where there is none."""
    from scipy.signal import find_peaks  # slow to load

    least = max(SURELY * noise, 0.05 * float(np.ptp(smooth)))
    found, about = find_peaks(-smooth[: peak + 1], prominence=least)
    return int(found[np.argmax(about["prominences"])]) if found.size else None


def _step(grid: np.ndarray, smooth: np.ndarray, stop: int, noise: float) -> Step | None:
    """The steepest rise before `stop` that ends on a level."""
    slope = np.gradient(smooth, STEP)
    margin = round(12.0 / STEP)
    if stop < 4 * margin:
        return None
    place = int(np.argmax(slope[margin : stop - 2 * margin])) + margin
    solid = _line(grid, smooth, place - 3 * margin, place - margin)
    level = _line(grid, smooth, place + margin, min(place + 2 * margin, stop - margin // 2))
    height = float(np.polyval(level, grid[place]) - np.polyval(solid, grid[place]))
    if height < max(LEAST_STEP, SURELY * noise) or abs(level[0]) > slope[place] / 3.0:
        return None
    near = grid[max(place - 2 * margin, 0) : place + 2 * margin]
    below, above = np.polyval(solid, near), np.polyval(level, near)
    share = (smooth[max(place - 2 * margin, 0) : place + 2 * margin] - below) / (above - below)
    begin, middle, end = (_crossing(near, share, wanted, float(grid[place])) for wanted in (0.1, 0.5, 0.9))
    return Step(middle, begin, end, height)


def _line(grid: np.ndarray, smooth: np.ndarray, first: int, last: int) -> np.ndarray:
    """The straight line through some points, as `np.polyval` takes it; a level where they are few."""
    part = slice(max(first, 0), max(last, 2))
    return np.polyfit(grid[part], smooth[part], 1 if grid[part].size > 8 else 0)


def _crossing(grid: np.ndarray, share: np.ndarray, wanted: float, near: float) -> float:
    """Where `share` (n,) [-] passes `wanted` upwards, that place nearest to `near` [K]."""
    up = np.flatnonzero((share[:-1] < wanted) & (share[1:] >= wanted))
    if not up.size:
        return near
    k = up[np.argmin(np.abs(grid[up] - near))]
    return float(grid[k] + STEP * (wanted - share[k]) / (share[k + 1] - share[k]))


def _feet(
    grid: np.ndarray, smooth: np.ndarray, peak: int, valley: int | None, step: Step | None, noise: float
) -> tuple[int, int]:
    """Where the peaks begin and end: the baselines before and after them are met within `FOOT` of their height."""
    after = _line(grid, smooth, max(peak + (grid.size - peak) * 2 // 3, grid.size - 60), grid.size)
    least = max(SURELY * noise / 2.0, FOOT * float(smooth[peak] - np.polyval(after, grid[peak])))
    beyond = np.flatnonzero(np.abs(smooth[peak:] - np.polyval(after, grid[peak:])) < least)
    right = peak + int(beyond[0]) if beyond.size else grid.size - 1
    start = valley or peak
    first = 0 if step is None else int(np.searchsorted(grid, step.end + 4.0))
    first = min(first, start - 2)
    before = _line(grid, smooth, first, min(first + round((20.0 if step is None else 8.0) / STEP), start))
    met = np.flatnonzero(np.abs(smooth[first:start] - np.polyval(before, grid[first:start])) < least)
    return (first + int(met[-1]) if met.size else first), right


def _melting(grid: np.ndarray, raw: np.ndarray, smooth: np.ndarray, peak: int, left: float, right: float) -> Melting:
    net = _above(grid, raw, smooth, left, right)
    moved = [
        _above(grid, raw, smooth, max(left + a, grid[0]), min(right + b, grid[-1])).sum() * STEP
        for a in (-MOVED, 0.0)
        for b in (0.0, MOVED)
    ]
    total = float(net.sum() * STEP)
    melted, cold = float(net[net > 0.0].sum() * STEP), float(-net[net < 0.0].sum() * STEP)
    # The baseline's part from the moved feet, that of the calibration from both areas: they are read by one instrument
    spread = float(np.hypot(max(abs(each - total) for each in moved), CALIBRATION * total))
    inside = grid[(grid >= left) & (grid <= right)]
    weight = np.where((net > 0.25 * net.max()), net, 0.0)  # the peak without its feet
    middle = float(np.average(inside, weights=weight))
    deviation = float(np.sqrt(np.average((inside - middle) ** 2, weights=weight)))
    # 30 s^2 (1 - s)^2 above a quarter of its height has 0.172 of its full width as deviation (computed)
    width = float(np.clip(deviation / 0.172, 2.0, 150.0))
    return Melting(
        float(left),
        float(right),
        float(grid[peak]),
        width,
        total,
        melted,
        cold,
        max(total - spread, 0.0),
        total + spread,
    )


def _above(grid: np.ndarray, raw: np.ndarray, smooth: np.ndarray, left: float, right: float) -> np.ndarray:
    """What stands above the straight baseline between the feet [J/kg/K]."""
    inside = (grid >= left) & (grid <= right)
    ends = np.interp([left, right], grid, smooth)
    return np.asarray(raw[inside] - np.interp(grid[inside], [left, right], ends))


def _table(grid: np.ndarray, smooth: np.ndarray, step: Step | None, melting: Melting | None) -> np.ndarray:
    """Points of the heat capacity without peaks: close at the step, at the feet, else every `EVERY` kelvin."""
    bare = smooth.copy()
    marks = [grid[0] + 2.0, grid[-1] - 2.0]
    if step is not None:
        marks += [step.begin - 3.0, step.end + 3.0]
    if melting is not None:
        inside = (grid > melting.left) & (grid < melting.right)
        ends = np.interp([melting.left, melting.right], grid, smooth)
        bare[inside] = np.interp(grid[inside], [melting.left, melting.right], ends)
        marks += [melting.left, melting.right]
    regular = np.arange(grid[0] + EVERY, grid[-1] - EVERY / 2.0, EVERY)
    gap = EVERY / 3.0
    kept = [mark for mark in regular if all(abs(mark - other) > gap for other in marks) and not _in_step(mark, step)]
    points = np.array(sorted({round(mark, 1) for mark in [*marks, *kept] if grid[0] <= mark <= grid[-1]}))
    return np.array([points, [bare[np.abs(grid - point) <= 2.0].mean() for point in points]])


def _in_step(mark: float, step: Step | None) -> bool:
    return step is not None and step.begin - 3.0 < mark < step.end + 3.0
