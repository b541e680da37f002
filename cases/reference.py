"""The reference page of case files, generated from the schema; run as a module it rewrites docs/case-file.md."""

from __future__ import annotations

from pathlib import Path

from meltzone.cases.outline import OPTIONAL_TABLES, Entry, entries, tables
from meltzone.cases.reader import example_names, load_case

PAGE = Path(__file__).resolve().parent.parent / "docs" / "case-file.md"

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

This page is generated from the schema (`python -m meltzone.cases.reference`).

## Values and units

- A quantity is a string with a number and a unit: `"12.5 mm"`, `"210 degC"`, `"25 W/m^2/K"`. A bare number is refused.
- Any unit of the right kind will do: `"0.5 inch"` is a length, `"410 degF"` a temperature.
- A *temperature difference* is written in K or delta_degC, never in degC.
- Numbers without a unit (emissivities, exponents, the mesh level) stand without quotes.

## One case on top of another

- `extends` names another file, relative to this one, or a shipped example. That file may extend a third.
- `extends = ["calibrated.toml", "short-block"]` takes from several, the nearest first: here a file left by
  `meltzone validate` goes on top of the example. A file that several of them extend comes last.
- Tables are merged key by key; the file nearest to the reader wins. Lists and the properties of own material cards are
  replaced as a whole.
- `sleeve = false` or `wrap = false`, above the first table, drops an inherited sleeve or wrap.
"""

MATERIALS = """## [materials.NAME]

Your own material cards, in the form of the shipped ones. A part uses the card by its name: `material = "NAME"`. A card
of the same name as a shipped one takes its place. `like = "pla"` takes from that shipped card all that yours leaves
out.
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
    return "\n".join([*sections, MATERIALS, _examples()])


def _section(title: str, meaning: str, table: str) -> str:
    lines = [f"## {title}", ""]
    if meaning:
        lines += [meaning, ""]
    if table in OPTIONAL_TABLES:
        lines += [f"The defaults below hold once the table is there: a line `[{table}]` is enough.", ""]
    lines += ["| key | value | default | meaning |", "|---|---|---|---|"]
    return "\n".join([*lines, *(_row(entry) for entry in entries(table) if entry.name != "materials")]) + "\n"


def _row(entry: Entry) -> str:
    literal = entry.default[:1] in '"[{0123456789' or entry.default in ("true", "false")
    default = f"`{entry.default}`" if literal else entry.default
    return f"| `{entry.name}` | {entry.kind} | {default} | {entry.description} |"


def _examples() -> str:
    rows = [f"| `{name}` | {load_case(name).model.title} |" for name in example_names()]
    return "\n".join(["## Shipped examples", "", "| name | what it is |", "|---|---|", *rows]) + "\n"


if __name__ == "__main__":
    PAGE.write_text(reference_page(), encoding="utf-8")
