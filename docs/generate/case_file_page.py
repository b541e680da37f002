"""The reference page of case files, generated from the schema."""

from __future__ import annotations

from pathlib import Path

from meltzone.cases.inputs.outline import Entry, entries, tables
from meltzone.cases.inputs.parameters import PARTS, toleranced
from meltzone.cases.inputs.reader import example_names, load_case
from meltzone.cases.inputs.schema import OPTIONAL_TABLES

PAGE = Path(__file__).resolve().parents[1] / "case-file.md"

INTRODUCTION = """# The case file

A case is a TOML file: one hot end, what it melts, and how hot. Every key but the setpoint has a default, so a case
states only what is special:

```toml
title = "Long nozzle in the short block, fan on"
extends = "short-block"

[heater]
setpoint = "220 degC"

[nozzle]
length = "21 mm"
exposed = "13.5 mm"

[surroundings]
fan = true
```

This page is generated from the schema (`python docs/regenerate.py`).

## Values and units

- A quantity is a string with a number and a unit: `"12.5 mm"`, `"210 degC"`, `"25 W/m^2/K"`. A bare number is refused.
- Any unit of the right kind will do: `"0.5 inch"` is a length, `"410 degF"` a temperature.
- A tolerance may follow: `"210 +/- 3 degC"`; see [tolerances](#uncertainty-and-tolerances).
- A *temperature difference* is written in K or delta_degC, never in degC.
- Numbers without a unit (emissivities, exponents, the mesh level) stand without quotes; with a
  tolerance in quotes: "0.9 +/- 0.05".

## One case on top of another

- `extends` names another file, relative to this one, or a shipped example. That file may extend a third.
- `extends = ["calibrated.toml", "short-block"]` takes from several, the nearest first: here a file left by
  `meltzone validate` goes on top of the example. A file that several of them extend comes last.
- Tables are merged key by key; the file nearest to the reader wins. Lists and the properties of own material cards are
  replaced as a whole.
- `sleeve = false`, above the first table, drops an inherited sleeve; so with every table of a part that may be missing.
"""

MATERIALS = """## [materials.NAME]

Your own material cards, in the form of the shipped ones. A part uses the card by its name: `material = "NAME"`. A card
of the same name as a shipped one takes its place. `like = "pla"` takes from that shipped card all that yours leaves
out.
"""

UNCERTAINTY = """## [uncertainty] and tolerances

A quantity with a unit may carry a tolerance, after `+/-` or `±`:

```toml
[heater]
setpoint = "210 +/- 3 degC"

[contacts]
bore_melt = "12650 W/m^2/K +/- 30 %"

[uncertainty]
polymer.conductivity = "10 %"
polymer.flow_temperature = "5 K"
```

- A tolerance is one standard deviation. In the value's unit, in a unit of its own, or in percent of the value; that of a
  temperature is a difference, so `+/- 3 degC` and `+/- 3 K` say the same, and percent is refused.
- Properties of materials take theirs in the table `uncertainty`, by part: a percentage, which scales the property as a whole,
  or kelvin for a temperature. {properties}.
- A temperature that the case itself gives under [polymer] carries its tolerance there.
- Two parts of one material move independently of one another.
- A tolerance takes the place of the *plausible range* that the tables above state: what a number lies within nine times in
  ten where nobody says better (common practice, no source; of a card's numbers by the card or its sources). These ranges make
  the [band](bands.md) of every ceiling.
- `meltzone explain` turns tolerances alone into an interval for the ceiling, which holds what was given, and no more.
"""

CAUTION = """
> **Caution.** Molten plastic, a hot end and its mains supply can burn people and start fires; overheated polymers,
> PTFE and adhesives give off fumes. What a case file accepts is not thereby safe to run: the makers' data sheets, local
> codes and qualified people come first.
"""


def reference_page() -> str:
    """The whole page as Markdown."""
    sections = [INTRODUCTION, CAUTION.strip() + "\n", _section("Top of the file", "", "")]
    sections += [_section(f"[{name}]", meaning, name) for name, meaning in tables()]
    return "\n".join([*sections, MATERIALS, UNCERTAINTY.format(properties=_properties()), _examples()])


def _section(title: str, meaning: str, table: str) -> str:
    lines = [f"## {title}", ""]
    if meaning:
        lines += [meaning, ""]
    if table in OPTIONAL_TABLES:
        lines += [f"The defaults below hold once the table is there: a line `[{table}]` is enough.", ""]
    lines += ["| key | value | default | plausible range | meaning |", "|---|---|---|---|---|"]
    shown = [entry for entry in entries(table) if entry.name not in ("materials", "uncertainty")]
    return "\n".join([*lines, *map(_row, shown)]) + "\n"


def _properties() -> str:
    """The properties that may carry a tolerance, by part."""
    parts: dict[str, list[str]] = {}
    for part in PARTS:
        parts.setdefault(", ".join(f"`{name}`" for name in toleranced(part)), []).append(f"`{part}`")
    return "; ".join(f"{', '.join(homes)}: {names}" for names, homes in parts.items())


def _row(entry: Entry) -> str:
    literal = entry.default[:1] in '"[{0123456789' or entry.default in ("true", "false")
    default = f"`{entry.default}`" if literal else entry.default
    return f"| `{entry.name}` | {entry.kind} | {default} | {entry.plausible} | {entry.description} |"


def _examples() -> str:
    rows = [f"| `{name}` | {load_case(name).model.title} |" for name in example_names()]
    return "\n".join(["## Shipped examples", "", "| name | what it is |", "|---|---|", *rows]) + "\n"
