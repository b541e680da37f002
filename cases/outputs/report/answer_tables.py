"""The answer as tables: ceilings, temperatures, budget, levers, interval, heat, parts, mesh."""

from __future__ import annotations

from collections.abc import Sequence

from meltzone.cases.outputs.check_tables import sizes_of
from meltzone.cases.outputs.record import parts_of, stuck_on_parts
from meltzone.cases.outputs.report.grid import Bar, Cell, Column, Grid, Row, signed_bars, words
from meltzone.cases.outputs.tables import NONE, number
from meltzone.cases.studies.bottleneck import ordered
from meltzone.cases.studies.cautions import materials_by_part
from meltzone.cases.studies.explain import Explained, LeverEffect
from meltzone.cases.studies.interval import Contribution, Interval
from meltzone.cases.studies.results import ZERO_CELSIUS, Result
from meltzone.fem.balance import EnergyBalance

LEAST_SHARE = 5e-4  # of the budget: less prints as 0.0 %
SHARE = Column("", "bar")


def parts(result: Result) -> Grid:
    """What it is made of; with a field also how hot each part is."""
    sizes, materials = sizes_of(result.problem.arrangement), materials_by_part(result.problem)
    hot = parts_of(result.problem, result.field)
    rows: list[Row] = []
    for part, material in materials.items():
        name = "filament" if part == "polymer" else part
        ends = [number(hot[part][end], 0) for end in ("coldest_degC", "hottest_degC")]
        rows.append((name, material.label, sizes.get(part, ""), *ends))
    columns = words("part", "material", "dimensions", "coldest [degC]", "hottest [degC]")
    return Grid("Parts", columns, tuple(rows), stacked=True)


def ceilings(result: Result) -> Grid:
    """All ceilings, with the reason where one does not exist."""
    found, rows = result.ceilings, []
    assert found is not None
    for name, field, flow in (
        ("melt", found.melt, result.melt_ceiling),
        ("power", found.power, result.power_ceiling),
        ("force", found.force, result.force_ceiling),
    ):
        remark = "governs" if name == result.governs else ""
        watts = None if field is None else field.power
        rows.append((name, number(flow, 2), number(watts, 1), remark or found.reasons.get(name, "")))
    return Grid("Ceilings", words("ceiling", "flow [mm³/s]", "heater [W]", "remark"), tuple(rows))


def temperatures(result: Result) -> Grid:
    """Temperatures at the governing ceiling."""
    operation = result.problem.operation
    inner = f"edge of the innermost {100.0 * operation.inner_share:.3g} % of the flow, end of the melt zone"
    values = {
        "core": ("axis, end of the melt zone", result.core),
        "inner": (inner, result.inner),
        "mean": ("mean of the flow, end of the melt zone", result.mean),
        "wall": ("bore wall, end of the melt zone", result.wall),
        "tip": ("nozzle's face beside the orifice", result.tip),
        "sensor": ("sensor", result.sensor),
    }
    rows = [
        (Cell(text, badge="judged" if name == operation.criterion else ""), number(value, 1))
        for name, (text, value) in values.items()
    ]
    flows = result.problem.materials.polymer.flow_temperature - ZERO_CELSIUS
    rows.append((Cell("flow temperature, for comparison"), number(flows, 1)))
    return Grid("Temperatures at the ceiling", words("where", "temperature [degC]"), tuple(rows))


def pushing(result: Result) -> Grid | None:
    """What it takes to push the filament at the ceiling; None where that was not asked for or is not known."""
    pushed = result.pushed
    if pushed is None:
        return None
    rows: tuple[Row, ...] = (
        ("force on the filament", f"{pushed.force:.1f} N"),
        ("grip of the feeder", f"{result.problem.operation.grip:g} N"),
        ("pressure spent in the bore", f"{1e-6 * pushed.bore:.2f} MPa"),
        ("pressure spent in the channels and at their entry", f"{1e-6 * (pushed.channels + pushed.dividing):.2f} MPa"),
        ("pressure spent on shear in the cone", f"{1e-6 * pushed.cone:.2f} MPa"),
        ("pressure spent on drawing entangled chains through it", f"{1e-6 * pushed.stretching:.2f} MPa"),
        ("pressure spent in the orifice's capillary", f"{1e-6 * pushed.land:.2f} MPa"),
    )
    return Grid("Pushing at the ceiling", words("what", "value"), rows)


def budget(explained: Explained) -> Grid:
    """What the ceiling rests on."""
    assert explained.explanation is not None
    whole = dict(explained.explanation.budget)
    shares = {name: share for name, share in ordered(whole).items() if abs(share) >= LEAST_SHARE}
    bars = signed_bars(list(shares.values()))
    rows: list[Row] = [
        (name, f"{100.0 * share:.1f}", bar) for (name, share), bar in zip(shares.items(), bars, strict=True)
    ]
    rows.append(("together", f"{100.0 * sum(whole.values()):.1f}", ""))
    return Grid("Budget: what the ceiling rests on", (*words("resistance", "share [%]"), SHARE), tuple(rows))


def drops(explained: Explained) -> Grid:
    """The way of the temperature from the sensor to the judged core."""
    explanation, level = explained.explanation, explained.result.sensor
    assert explanation is not None and level is not None
    bars = signed_bars(list(explanation.drops.values()))
    rows: list[Row] = [("sensor", "", f"{level:.1f}", "")]
    for (name, drop), bar in zip(explanation.drops.items(), bars, strict=True):
        level -= drop
        rows.append((name, f"{drop:.1f}", f"{level:.1f}", bar))
    columns = (*words("from sensor to core", "drop [K]", "reaches [degC]"), SHARE)
    return Grid("Where the temperature is lost", columns, tuple(rows))


def levers(effects: Sequence[LeverEffect], caption: str) -> Grid | None:
    """What natural steps of the inputs would do, the strongest first; None where there are none."""
    if not effects:
        return None
    bars = signed_bars([effect.change for effect in effects])
    rows = tuple(
        (_lever(effect), effect.step, f"{effect.change:+.2f}", f"{effect.percent:+.1f}", bar)
        for effect, bar in zip(effects, bars, strict=True)
    )
    numbers = words("ceiling [mm³/s]", "ceiling [%]")
    return Grid(caption, (Column("input"), Column("step", "short"), *numbers, SHARE), rows)


def _lever(effect: LeverEffect) -> Cell:
    return Cell(effect.words, note=f"now {effect.now}" if effect.now else "")


def interval(found: Interval) -> Grid:
    """What each input with a tolerance adds to the interval."""
    rows = tuple(_contribution(part) for part in found.contributions)
    rows += tuple((Cell(key, code=True), "", NONE, NONE, Bar(0.0)) for key in found.skipped)
    columns = (*words("input", "tolerance", "for one deviation [mm³/s]", "variance [%]"), SHARE)
    return Grid("What the interval is made of", columns, rows)


def _contribution(part: Contribution) -> Row:
    name = Cell(part.key, code=True)
    return name, part.words, f"{part.change:+.3f}", f"{100.0 * part.share:.1f}", Bar(100.0 * part.share)


def heat(balance: EnergyBalance) -> Grid:
    """Every watt that comes in, and where it goes."""
    out = {"polymer, carried out by the melt": balance.melt, "heat sink": balance.cold_end, **balance.faces}
    out["up the filament"] = balance.inlet
    whole = balance.heater + balance.viscous
    named = {"heater": balance.heater} | ({"shear of the polymer": balance.viscous} if balance.viscous else {})
    rows: list[Row] = [
        (f"in: {name}", f"{watts:.2f}", f"{100.0 * watts / whole:.1f}", "") for name, watts in named.items()
    ]
    for name, watts in sorted(out.items(), key=lambda item: -item[1]):
        share = 100.0 * watts / whole
        rows.append((f"out: {name}", f"{watts:.2f}", f"{share:.1f}", Bar(max(share, 0.0))))
    rows.append(("not accounted for", f"{abs(balance.imbalance):.2f}", f"{100.0 * balance.relative_imbalance:.1f}", ""))
    return Grid("Energy balance", (*words("heat", "power [W]", "share [%]"), SHARE), tuple(rows))


def stuck_on(result: Result) -> Grid | None:
    """How hot every part would get with the heater stuck on; None where that was not found."""
    rows = tuple(
        (
            "filament" if part == "polymer" else part,
            number(found["hottest_degC"], 0),
            number(found["limit_degC"], 0),
            _judged(found["severity"], found["limit_degC"]),
        )
        for part, found in stuck_on_parts(result).items()
    )
    columns = words("part", "hottest [degC]", "limit [degC]", "")
    return Grid("Heater stuck on at full rating, nothing flowing", columns, rows) if rows else None


def _judged(severity: str | None, limit: float | None) -> str | Cell:
    if severity is None:
        return "no limit on its card" if limit is None else "within its limit"
    return Cell("", badge={"warning": "beyond its limit", "refuse": "must not get so hot"}.get(severity, severity))


def mesh(result: Result) -> Grid:
    """How it was solved, and how far the numbers are from an exact solution of the same equations."""
    space, field = result.problem.system.space, result.field
    rows: list[Row] = [
        ("mesh level", f"{result.problem.level:g}"),
        ("cells", str(space.section.mesh.nelements)),
        ("unknown temperatures", str(space.size)),
        ("matrix factorisations", str(result.factorisations)),
    ]
    if field is not None:
        closure = 100.0 * field.balance.relative_imbalance
        rows.append(("ceiling on the next finer mesh", _moved(result.mesh_error)))
        rows.append(("energy not accounted for", "less than 0.01 %" if closure < 0.01 else f"{closure:.2g} %"))
        rows.append(("field beyond its physical bounds", f"{field.overshoot:.2f} K"))
    return Grid("Mesh and accuracy of the solve", words("what", "value"), tuple(rows))


def _moved(error: float | None) -> str:
    if error is None:
        return "not found"
    return f"moves by {error:.2f} %" if error >= 0.01 else "moves by less than 0.01 %"
