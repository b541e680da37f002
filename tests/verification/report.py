"""Writes docs/verification.md and its pictures from the checks: run `python -m tests.verification.report` in the repository."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from . import pictures
from .checks import Check, Group
from .manufactured import PECLETS, SIZES, convergence
from .register import all_groups
from .study import (
    CELL_PECLETS,
    CELLS,
    FLOWS,
    LEVELS,
    REFERENCE_LEVEL,
    WALLS,
    entry_case,
    hot_end,
    hot_end_gap,
    profile_error,
    upwind_convergence,
    worst_axis,
)

DOCS = Path(__file__).parents[2] / "docs"
COMMAND = "python -m tests.verification.report"

HEAD = """# Verification

Does the solver solve its equations? Every row below is a calculation by the solver's own pieces (space, weak forms, contacts,
faces, linearisation, bordered Newton iteration) on a small body, against a figure from outside: a closed form, a published
benchmark, a manufactured solution. Whether the equations describe a hot end is another question, answered by measurements.

This page is written by `{command}`; the same checks run as tests. {count} checks, {held} hold.

*From memory* beside a source means that a number, its place in the book or its inputs were not looked up again; whatever
is said to be a closed form or a series was computed anew. "Worst of n" shows the row of a table that lies farthest from its
source.
"""


def write(docs: Path = DOCS) -> Path:
    """Run every check, draw the pictures, write the page; returns its path."""
    images = docs / "images"
    images.mkdir(parents=True, exist_ok=True)
    pictures.draw_all(images)
    page = docs / "verification.md"
    page.write_text(render(), encoding="utf-8")
    return page


def render() -> str:
    """The whole page."""
    groups = all_groups()
    checks = [check for group in groups for check in group.checks()]
    parts = [HEAD.format(command=COMMAND, count=len(checks), held=sum(check.ok for check in checks))]
    for group in groups:
        parts.append(_section(group))
        parts += EXTRAS.get(group.key, lambda: [])()
    return "\n".join(parts)


def _section(group: Group) -> str:
    lines = [f"## {group.title}", "", group.note, "", "| id | claim | source | expected | found | tolerance | |"]
    lines.append("|---|---|---|---|---|---|---|")
    lines += [_row(check) for check in group.checks()]
    return "\n".join(lines) + "\n"


def _row(check: Check) -> str:
    unit = "" if check.unit == "-" else f" {check.unit}"
    if check.measure in ("at most", "at least"):
        expected, tolerance = f"{check.measure} {check.expected:g}{unit}", "bound"
    else:
        expected = f"{check.expected:.9g}{unit}"
        tolerance = f"{check.tolerance:.2g}" + (" of it" if check.measure == "relative" else unit)
    found = f"{check.found:.8g}{unit}"
    verdict = "holds" if check.ok else "**fails**"
    return f"| `{check.id}` | {check.claim} | {check.source} | {expected} | {found} | {tolerance} | {verdict} |"


def _table(head: str, rows: list[str]) -> str:
    names = head.split("|")
    return "\n".join([f"| {head} |", "|" + "---|" * len(names), *(f"| {row} |" for row in rows)]) + "\n"


def _curves() -> list[str]:
    return ["![Entry problems: series as lines, solver as marks](images/verification-entry.png)\n"]


def _orders() -> list[str]:
    rows = []
    for name, peclet in PECLETS.items():
        plain, upwind = convergence(peclet), upwind_convergence(peclet)
        for k, n in enumerate(SIZES):
            p = plain[k]
            errors = (p[1], upwind[k, 1], p[3], p[2], upwind[k, 2], p[4])
            rows.append(" | ".join([name, f"{n}", f"{p[5]:.2g}", *(f"{e:.3e}" for e in errors)]))
    head = "case | cells | cell Peclet | L2 Galerkin [K] | L2 upwind [K] | L2 interpolation [K] | "
    head += "H1 Galerkin [K/mm] | H1 upwind [K/mm] | H1 interpolation [K/mm]"
    return [_table(head, rows), "![Convergence of the manufactured solution](images/verification-convergence.png)\n"]


def _study() -> list[str]:
    rows = []
    for wall in WALLS:
        for peclet in CELL_PECLETS:
            for n in CELLS:
                case = entry_case(wall, peclet, n)
                g, u, x = case["galerkin"], case["upwind"], case["naive"]
                axis = " | ".join(f"{way.core:+.3f}" for way in (g, u, x))
                profile = f"{g.profile:.3f} | {u.profile:.3f}"
                over = " | ".join(f"{way.overshoot:.2f}" for way in (g, u, x))
                rows.append(f"{wall} | {peclet:g} | {n} | {axis} | {profile} | {over}")
    head = "wall | cell Peclet with 20 cells | cells along | axis, Galerkin [K] | axis, upwind [K] | axis, unbounded [K] | "
    head += "profile, Galerkin [K] | profile, upwind [K] | overshoot, Galerkin [K] | upwind [K] | unbounded [K]"
    return [ENTRY_TEXT, _table(head, rows), HOT_TEXT, _hot_end_table(), _conclusion()]


def _hot_end_table() -> str:
    rows = []
    for flow in FLOWS:
        reference = hot_end(REFERENCE_LEVEL, flow)["galerkin"]
        for level in (*LEVELS, REFERENCE_LEVEL):
            both = hot_end(level, flow)
            g, u = both["galerkin"], both["upwind"]
            axis = " | ".join(f"{t - 273.15:.3f}" for t in (g.core, u.core, g.inner, u.inner))
            apart = f"{profile_error(g, reference):.3f} | {profile_error(u, reference):.3f}"
            over = f"{g.overshoot:.3f} | {u.overshoot:.3f}"
            rows.append(f"{flow * 1e9:g} | {level:g} | {g.unknowns} | {axis} | {apart} | {over}")
    head = (
        "flow [mm3/s] | mesh level | unknowns | core, Galerkin [degC] | core, upwind [degC] | inner, Galerkin [degC] | "
    )
    head += "inner, upwind [degC] | profile, Galerkin [K] | profile, upwind [K] | overshoot, Galerkin [K] | upwind [K]"
    return _table(head, rows)


ENTRY_TEXT = """### Entry problem with few cells

Plug in a tube, 100 K between wall and inlet, even cells along the tube over Fo = 0.4, cells graded across. The wall's
temperature jumps at the inlet, or a film of Bi = 7.49 lies before it. Error on the axis and over the profile (root mean square)
at Fo = 0.25 against the series with axial conduction; overshoot anywhere in the field.
"""

HOT_TEXT = """### A hot end over mesh levels

Short block, PLA at 210 degC; core and edge of the innermost tenth of the flow at the end of the melt zone; the profile there is
held against the finest level by Galerkin.
"""


def _conclusion() -> str:
    apart = hot_end_gap()
    plain, upwind, naive = (worst_axis(way) for way in ("galerkin", "upwind", "naive"))
    high, upwind_high = convergence(PECLETS["advection"])[-1, 1], upwind_convergence(PECLETS["advection"])[-1, 1]
    peclet = [flow / (np.pi * 1e-3 * 1e-7) for flow in FLOWS]
    return f"""### Which is better here

- Entry problem: the axis is off by {plain:.3f} K at worst for Galerkin, {upwind:.3f} K for upwind. A jump of wall temperature
  makes both overshoot alike on the coarsest cells; behind a film neither does.
- "Unbounded" is upwind without the bound by diffusion across narrow cells: off by {naive:.2f} K. The parameter must be chosen
  with care on meshes graded to the wall.
- Hot end at the default mesh level: the two cores differ by {apart:.4f} K.
- Advection alone (manufactured solution, cell Peclet in the thousands): upwind is {high / upwind_high:.0f} times more accurate,
  and of higher order than Galerkin. That regime has U R/alpha = 100,000; a bore of 2 mm at {FLOWS[0] * 1e9:g} and
  {FLOWS[1] * 1e9:g} mm3/s with alpha = 0.1 mm2/s has {peclet[0]:.0f} and {peclet[1]:.0f}.

So the solver stays with Galerkin's form: as accurate where it is used, and one parameter less. For flows without conduction
across the stream upwind would be the better choice.
"""


EXTRAS = {"graetz": _curves, "manufactured": _orders, "stabilisation": _study}


if __name__ == "__main__":
    sys.stdout.write(f"{write()}\n")
