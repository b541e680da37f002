"""Sections of the validation page on hot ends in practice: the default model, other models, threads, jet, power."""

from __future__ import annotations

from collections.abc import Sequence

from generate.evidence.findings import Findings
from generate.evidence.studies import VARIANTS, JetRow, PowerCheck, ThreadPair
from meltzone.cases.outputs.calibration_words import interval_words, verdicts
from meltzone.cases.outputs.grid import signed
from meltzone.cases.outputs.validation_words import sentences
from meltzone.cases.studies.validation.outcome import Validation

PRACTICE_PICTURE, VARIANTS_PICTURE = "validation-practice.png", "validation-variants.png"
ROW_GOAL, MEAN_GOAL, FAN_GOAL = 7.0, 3.0, 2.0  # [%], [%], [percentage points]


def practice_section(default: Validation) -> str:
    """The default model: picture, calibrated number, rows, changes, errors."""
    calibration = default.calibration
    assert calibration is not None
    (number,) = calibration.numbers
    lines = ["## Hot ends in practice, default model", ""]
    lines.append(f"![Measured and predicted ceilings](images/{PRACTICE_PICTURE})\n")
    lines.append(f"`{number.free.key}` = {number.free.words(number.value)}; 95 % confidence interval:")
    lines.append(f"{interval_words(number)}.")
    lines += verdicts(calibration)
    lines += ["", "| row | measured [mm³/s] | predicted [mm³/s] | 95 % [mm³/s] | error [%] |", "|---|---|---|---|---|"]
    for row in default.rows:
        error = "calibrates" if row.row.calibrates else signed(row.error, 1)
        lines.append(
            f"| {row.row.name} | {row.measured:.2f} ± {row.uncertainty:.2f} | {row.ceiling:.2f} | {row.low:.1f} to "
            f"{row.high:.1f} | {error} |"
        )
    lines += [
        "",
        "| change of | against | measured [%] | predicted [%] | missed by [points] |",
        "|---|---|---|---|---|",
    ]
    for change in default.changes:
        lines.append(
            f"| {change.row.row.name} | {change.base.row.name} | {signed(change.measured, 1)} ± {change.uncertainty:.1f} | "
            f"{signed(change.predicted, 1)} | {signed(change.miss, 1)} |"
        )
    lines += ["", *sentences(default), ""]
    return "\n".join(lines)


def fan_misses(found: Validation) -> dict[str, float]:
    """What is missed of the changes by the fan alone [percentage points], by row."""
    pairs = ("short block, fan on", "long nozzle bare, fan on")
    return {change.row.row.name: change.miss or 0.0 for change in found.changes if change.row.row.name in pairs}


def goals_section(default: Validation) -> str:
    """The goal and what was found, as a table."""
    assert default.worst is not None and default.mean_error is not None
    fan = max(map(abs, fan_misses(default).values()))
    beyond = [row for row in default.judged if abs(row.error) > ROW_GOAL]

    def verdict(kept: bool) -> str:
        return "met" if kept else "**missed**"

    return f"""### Against the goal

| goal | found | |
|---|---|---|
| every row within {ROW_GOAL:g} % | worst {signed(default.worst.error, 1)} %, {default.worst.row.name} | {verdict(not beyond)} |
| mean error at most {MEAN_GOAL:g} % | {default.mean_error:.1f} % | {verdict(default.mean_error <= MEAN_GOAL)} |
| changes by the fan within {FAN_GOAL:g} points | worst {fan:.1f} points | {verdict(fan <= FAN_GOAL)} |
"""


def choices_section(found: Findings) -> str:
    """What chose the defaults, and that the table is no blind test."""
    core, default = found.variant("core (axis)"), found.default
    freed = found.variant("core (axis), flow temperature freed")
    hot = "short block, 260 degC"
    return f"""### What chose the defaults: this is no blind test

The defaults are the criterion (innermost 10 % of the flow), the plug profile, thread conductances of 8000 W/m²/K on the
flanks, and a jet of 5 m/s. **The criterion with its share, the jet's speed and the thread conductance were chosen
with all rows of the table in view.** No published value decides them. The calibrated number itself saw one row only,
but the table shows how well one model can be made to hold over all rows, not how well it foretells rows nobody has seen.

- *Criterion.* A core judged on the axis alone gives {signed(_error(core, hot), 1)} % in the row at 260 degC with the bore
  contact freed{_reach(core)}, and
  {signed(_error(freed, hot), 1)} % with the flow temperature freed instead. The mean overrates the
  setpoint and the fan: see the table below. Judging the innermost tenth gives {signed(_error(default, hot), 1)} % there.
- *What is thought responsible for the rest.* A core that is still stiff must be deformed in the cone before it leaves
  through the orifice, and a hotter shell around it pushes harder. A criterion of extensional stress was tried outside
  this program: it brought the rows at 235 and 260 degC within 2 %, but missed the bare nozzle's rows by 15 to 20 %. It is
  not part of this version; a limit by feeding force is tried below. The measured values are uncertain themselves.
- *Scaling.* Any purely thermal model gives ceilings proportional to the heated length at one setpoint. The long block is
  predicted {signed(_error(default, "long block"), 1)} % off by it, so its measured value, its dimensions, or a limit other
  than heat is behind that.
"""


def _error(found: Validation, name: str) -> float:
    return next(row.error for row in found.rows if row.row.name == name)


def _reach(found: Validation) -> str:
    calibration = found.calibration
    if calibration is None or not calibration.unreached:
        return ""
    row = next(row for row in found.rows if row.row.calibrates)
    return f" (which then reaches {row.ceiling:.1f} of the {row.measured:g} mm³/s to be calibrated, at any value)"


def variants_section(found: Findings) -> str:
    """The same rows with every other model, calibrated anew."""
    rows = found.default.rows
    lines = ["## The same rows with other models", "", f"![Errors of all variants](images/{VARIANTS_PICTURE})", ""]
    lines.append("Each variant is calibrated anew on the short block at 210 degC alone. Errors in %, by row:")
    lines.append("; ".join(f"{number} {row.row.name}" for number, row in enumerate(rows, start=1)) + ".")
    lines.append(
        '"Out of reach": no value of the freed number reaches the row that calibrates; its error stands in column 1.'
    )
    heads = " | ".join(str(number) for number in range(1, len(rows) + 1))
    lines += ["", f"| variant | freed number | {heads} | mean | fan, bare [points] |", "|---" * (len(rows) + 4) + "|"]
    for variant, result in zip(VARIANTS, found.variants, strict=True):
        calibration = result.calibration
        assert calibration is not None
        (number,) = calibration.numbers
        value = "out of reach" if calibration.unreached else number.free.words(number.value)
        errors = " | ".join(signed(row.error, 1) for row in result.rows)
        fan = signed(fan_misses(result)["long nozzle bare, fan on"], 1)
        lines.append(f"| {variant.label} | {value} | {errors} | {result.mean_error:.1f} | {fan} |")
    lines += [
        "",
        "The mean is over the rows that do not calibrate. `bore_melt` is freed where nothing else is said. Bare thread by",
        "its envelope: the convection of a smooth cylinder 0.12 mm below the crests, which is what a still layer of air above",
        "the ridges leaves by a finite-difference solution of the profile; it is put in as a film coefficient on the",
        "developed area (`surroundings.films.nozzle_thread`), row by row. Radiation keeps the developed area there: a factor",
        "on the exposed thread's area would be the cleaner input, and does not exist yet.",
        "",
    ]
    return "\n".join(lines)


def threads_section(pairs: Sequence[ThreadPair]) -> str:
    """Area factor against rings on the bare thread."""
    worst = max(abs(pair.change) for pair in pairs)
    lines = ["## Bare thread: area factor against rings", ""]
    lines.append(
        "The same cases on two meshes: the pitch cylinder with an area factor, and the ridges resolved as rings."
    )
    lines += ["", "| case | smooth [mm³/s] | rings [mm³/s] | change [%] |", "|---|---|---|---|"]
    lines += [f"| {pair.case} | {pair.smooth:.2f} | {pair.rings:.2f} | {signed(pair.change, 1)} |" for pair in pairs]
    lines += ["", f"They agree within {worst:.1f} %, so the default is the smaller mesh.", ""]
    return "\n".join(lines)


def jets_section(rows: Sequence[JetRow]) -> str:
    """What the fan changes at several speeds of the jet."""
    lines = [
        "## Speed of the jet",
        "",
        "Measured changes by the fan: none for the short block, almost -9 % for the bare nozzle.",
    ]
    lines += ["", "| jet [m/s] | short block [%] | long nozzle bare [%] |", "|---|---|---|"]
    lines += [f"| {row.speed:g} | {signed(row.short, 1)} | {signed(row.bare, 1)} |" for row in rows]
    lines += [
        "",
        "The speed at the nozzle was not measured with either; 5 m/s is the default with these rows in view.",
        "",
    ]
    return "\n".join(lines)


def power_section(check: PowerCheck) -> str:
    """The heat into the polymer against what is said in practice."""
    return f"""## Heat into the polymer

Said in practice: about 10 W to melt PLA at 20 mm³/s (common practice, no source). The solve of the long block at
{check.setpoint:g} degC and {check.flow:g} mm³/s gives **{check.melt:.1f} W**: at that flow the polymer leaves the
melt zone at {check.mean:.0f} degC on average. Had all of it reached the setpoint it would take
{check.all_at_setpoint:.1f} W. A round number in watts is read off
a heater with its losses, or reckoned to the setpoint with round properties; it is no sharp check.
"""
