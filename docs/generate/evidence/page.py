"""The page that lays the model against measured ceilings; run as a module it rewrites docs/validation.md and its pictures."""

from __future__ import annotations

import sys
from pathlib import Path

from PIL import Image

from generate.evidence.figures import slip_figure, variants_figure
from generate.evidence.findings import Findings, findings
from generate.evidence.force_text import force_section
from generate.evidence.literature_text import SLIP_PICTURE, lengths_section, slip_section
from generate.evidence.studies import PRACTICE, VARIANTS
from generate.evidence.text import (
    PRACTICE_PICTURE,
    VARIANTS_PICTURE,
    choices_section,
    goals_section,
    jets_section,
    power_section,
    practice_section,
    threads_section,
    variants_section,
)
from meltzone.cases.outputs.figures import save
from meltzone.cases.outputs.validate_figure import validation_figure

DOCS = Path(__file__).resolve().parents[2]
PAGE = DOCS / "validation.md"
IMAGES = DOCS / "images"
COLOURS = 128  # enough for a picture on a page, at a third of the size


def page(found: Findings) -> str:
    """The whole page as Markdown."""
    parts = [
        _opening(found),
        practice_section(found.default),
        goals_section(found.default),
        choices_section(found),
        variants_section(found),
        threads_section(found.threads),
        jets_section(found.jets),
        power_section(found.power),
        slip_section(found.slips),
        lengths_section(found.lengths),
        force_section(found.forces, found.slip_forces),
        YOUR_OWN,
        CLOSING,
    ]
    return "\n".join(parts)


def _opening(found: Findings) -> str:
    return f"""# The model against measured ceilings

This page, its numbers and its pictures are written by the program (`PYTHONPATH=docs python -m generate.evidence.page`). What it
shows for the default model, anyone can repeat:

```sh
meltzone validate {PRACTICE}
```

One number is calibrated on **one** row, the short block at 210 degC; everything else is predicted. The measured values
are what people who tune hot ends report: {found.default.measured.source} (5 %, one
standard deviation). They were not read from any test report.
"""


YOUR_OWN = """## Measurements of your own

A measured file is TOML, or a table with the ending .csv. The values in the examples are invented.

```toml
uncertainty = "5 %"                       # of every row without its own: one standard deviation
free = "contacts.bore_melt"               # the number to calibrate, unless --free names another

[[row]]
name = "bare"
case = "long-nozzle-bare"                 # a case file beside this one, or a shipped example
ceiling = "18.2 mm^3/s"
calibrates = true

[[row]]
name = "bare, fan on, hotter"
case = "long-nozzle-bare-fan"
set = { "heater.setpoint" = "220 degC" }  # on top of the case, for this row only
ceiling = "18 mm^3/s"
uncertainty = "0.5 mm^3/s"
compared_with = "bare"                    # the change is reported too
```

```
name;case;ceiling [mm^3/s];uncertainty [%];calibrates;compared with;heater.setpoint [degC]
bare;long-nozzle-bare;18,2;5;yes;;
bare, fan on, hotter;long-nozzle-bare-fan;18;3;;bare;220
```

- In a table, semicolons, commas or tabulators separate, a comma is a decimal comma, units stand in the heading, dotted keys
  of a case head columns of their own, blank lines count for nothing.
- The number is found where chi-square over the calibrating rows is least: in its logarithm, or, for a temperature, in
  kelvin. Its 95 % interval is where chi-square rises by 3.84. "No upper bound" means that the ceiling no longer answers
  to it: with good contact at the bore the polymer itself is what resists.
- Every row is predicted with the number at its best value and at both ends of its interval. Rows differ in nothing but
  their cases and their own values. Without any calibrating row the cases are taken as they are.
- `calibrated.toml` carries the number into other cases, where its interval has two ends with one standard deviation as its
  tolerance, so that explanations and gains there have an interval too:

```toml
extends = ["calibrated.toml", "long-nozzle-bare"]
```

- A row may name weighed samples instead of a ceiling, and several numbers may be freed: [calibration](calibration.md). Where
  one number will do, free one: bore contact *or* flow temperature. One row cannot tell them apart.
"""

CLOSING = """## Caution

Measuring ceilings means hot metal, molten plastic under pressure, fumes and often mains supply: burns, fire. The setpoints
in these tables are those of the measurements, not advice; PLA at 260 degC fumes and degrades within minutes. The makers' data
sheets, local codes and qualified people come first.
"""


def write(found: Findings) -> None:
    """Rewrite the page and its pictures."""
    IMAGES.mkdir(exist_ok=True)
    labels = [variant.label for variant in VARIANTS]
    pictures = {
        PRACTICE_PICTURE: validation_figure(found.default),
        VARIANTS_PICTURE: variants_figure(labels, found.variants),
        SLIP_PICTURE: slip_figure(found.slips),
    }
    for name, figure in pictures.items():
        save(figure, IMAGES / name)
        with Image.open(IMAGES / name) as picture:
            small = picture.convert("RGB").quantize(COLOURS)
        small.save(IMAGES / name, optimize=True)
    PAGE.write_text(page(found), encoding="utf-8")


if __name__ == "__main__":
    write(findings(lambda what: print(what, file=sys.stderr)))
