"""Run as a module, solves everything in three dimensions and writes the figures from which the page is made.

PYTHONPATH=docs:tests/independent python -m generate.solid.solve, with ngsolve (extra "test"); a quarter of an hour.
"""

from __future__ import annotations

import json

import ngsolve as ng

from generate.solid.block_study import block_figures
from generate.solid.page import FIGURES, PAGE, solid_page
from generate.solid.sector_study import sector_figures


def main() -> None:
    """Solve, write the figures, then the page."""
    figures = {"ngsolve": ng.__version__, "sector": sector_figures(), "blocks": block_figures()}
    FIGURES.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")
    PAGE.write_text(solid_page(), encoding="utf-8")


if __name__ == "__main__":
    main()
