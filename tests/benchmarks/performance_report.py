"""Measure how long the job takes and how it grows, and write docs/performance.md and docs/images/growth.png.

Run as `python tests/benchmarks/performance_report.py` on an idle machine; it takes a few minutes.
"""

from __future__ import annotations

import json
import os
from pathlib import Path

import matplotlib as mpl
import numpy as np
from processes import measured

mpl.use("Agg")
from matplotlib import pyplot as plt

HERE = Path(__file__).resolve().parent
DOCS = HERE.parent.parent / "docs"
LEVELS = (0, 1, 2, 3, 4, 5, 6, 7)  # 5,000 to 500,000 unknowns
STAGES = ("mesh", "arrays", "pattern", "assembly", "factors", "back-solve")
COLOURS = dict(zip(STAGES, ("0.55", "tab:cyan", "tab:green", "tab:blue", "tab:red", "tab:orange"), strict=True))

Numbers = dict[str, float]


ACCURACY = """A melt ceiling within 0.1 % of the converged one: the default case with plug flow, from its numbers alone.
ngsolve has the quickest of several triangulations and orders that come as close; it brackets the ceiling and reads its
coefficients as trees of expressions, so a single state at that flow and a single factorisation stand beside it. Seconds of
processor, least of 3.
"""

CONDENSED = """Condensing the node in the middle of every cell out of the default mesh before the factorisation gains nothing:
16.8 ms in place of 18.0, and 1.4 ms for the condensing; the factors hold as much (575,000 numbers, 562,000 without), since the
ordering begins with these nodes anyway. Measured by hand on one thread, the machine busy (load 6 on two cores).
"""

# Side by side with the first version, which a report cannot run: measured by hand
SEARCHES = """## On the mesh of searches

Measured by hand on the same machine while it was quiet, processor time. Processes are held against the version
before searches had a mesh of their own, in turns.

| what | ratio | target, at most |
|---|---|---|
| a ceiling within 0.1 % over one on the default mesh, inside a process (25 over 100 ms) | 0.25 | 0.3 |
| `meltzone sweep` of 500 points on two cores, as a process (one run; 26 over 79 s) | 0.33 | 0.3 |
| `meltzone transient`, 12 s, as a process (median of 2 runs) | 0.28 | 0.33 |
| `meltzone design`, three dimensions with a limit on hot volume, as a process (one run; now with two bands) | 0.46 | 0.33 |
| `meltzone explain` of a divided bore, as a process (median of 2 runs; 2.9 times that of a plain one) | 0.32 | |
| `meltzone compare` of four cases with a grip, as a process (one run; 7 over 54 s) | 0.13 | |
| `meltzone ceiling short-block` as a process (median of 9 runs; now with its band) | 0.84 | 0.6 |

An adjoint of such a ceiling takes 5 ms, derivatives by all 44 inputs 120 ms.
"""


def from_child(script: str, *arguments: str, threads: int = 1) -> dict:
    """What a measuring script prints, as JSON."""
    run = measured([str(HERE / script), *arguments], threads)
    if run.code != 0:
        raise RuntimeError(f"{script} {' '.join(arguments)} ended with code {run.code}")
    return json.loads(run.output)


def ceiling_rows() -> list[str]:
    """Whole ceiling, inside a process and as a command."""
    inside = from_child("ceiling_once.py", "15")
    command = ["-m", "meltzone.cases.commands.cli", "ceiling", "short-block"]
    runs = [measured(command) for _ in range(10)]
    wall, processor = (min(getattr(run, name) for run in runs) for name in ("wall", "processor"))
    peak = max(run.peak for run in runs)
    rows = [
        ("both ceilings of the default case, inside a process", inside["wall"], inside["processor"], "1 s"),
        ("`meltzone ceiling short-block` as a whole process", wall, processor, "3 s"),
    ]
    return [
        "| what | on the clock [s] | of processor [s] | target, at most |",
        "|---|---|---|---|",
        *(f"| {what} | {clock:.2f} | {used:.2f} | {target} |" for what, clock, used, target in rows),
        "",
        f"Factorisations for both ceilings: {inside['factorisations']} (target: at most 8). Peak resident memory of the whole "
        f"process: {peak:.0f} MiB (target: at most 400 MiB).",
    ]


def matrix_rows() -> list[str]:
    """Assembly and one factorisation beside ngsolve's."""
    rows = ["| who | threads | unknowns | assembly [ms] | factors [ms] | together [ms] |", "|---|---|---|---|---|---|"]
    best: dict[int, list[tuple[str, Numbers]]] = {1: [], 2: []}
    for _ in range(3):  # in turns, so that a busy moment of the machine hits both
        for threads, found in best.items():
            ours = from_child("stages.py", "1", "25", threads=threads)
            found.append(("default case, quadratic quadrilaterals", ours))
            theirs = from_child("reference_elements.py", str(ours["unknowns"]), str(threads), "25")
            found += [(f"ngsolve, quadratic {name}", numbers) for name, numbers in theirs.items()]
    verdicts = []
    for threads, found in best.items():
        together: dict[str, float] = {}
        for who in dict.fromkeys(name for name, _ in found):
            least = min((n for name, n in found if name == who), key=lambda n: n["assembly"] + n["factors"])
            assembly, factors = 1e3 * least["assembly"], 1e3 * least["factors"]
            together[who] = assembly + factors
            rows.append(
                f"| {who} | {threads} | {least['unknowns']:,} | {assembly:.1f} | {factors:.1f} | {assembly + factors:.1f} |"
            )
        ours, *others = together.values()
        verdicts.append(f"{ours / min(others):.2f} on {threads} thread{'s' if threads > 1 else ''}")
    return [*rows, "", f"Ours over ngsolve's best (target: at most 1): {', '.join(verdicts)}."]


def accuracy_rows() -> list[str]:
    """A ceiling within a tenth of a per cent beside ngsolve's, whose mesh and order are chosen on one thread."""
    rows = [
        "| who | threads | unknowns | ceiling [s] | one state [s] | one factorisation [ms] |",
        "|---|---|---|---|---|---|",
    ]
    choice: list[str] = []
    for threads in (1, 2):
        found = from_child("equal_accuracy.py", str(threads), "3", *choice, threads=threads)
        theirs = found["ngsolve"]
        choice = [str(theirs["size"]), str(theirs["order"])]
        names = {"ours": "mesh of searches", "ngsolve": f"ngsolve, triangles of order {theirs['order']}"}
        for who, name in names.items():
            ceiling, state, factors = (found[who][each]["processor"] for each in ("ceiling", "state", "factors"))
            unknowns = found[who]["unknowns"]
            rows.append(f"| {name} | {threads} | {unknowns:,} | {ceiling:.3f} | {state:.3f} | {1e3 * factors:.1f} |")
    return rows


def growth() -> list[Numbers]:
    """Stages of one solve at every level; the small ones several times, and the quickest kept."""
    found = []
    for level in LEVELS:
        runs = [from_child("stages.py", str(level)) for _ in range(3 if level > 4 else 5)]
        found.append(min(runs, key=lambda run: run["total"]))
        print(
            f"level {level}: {found[-1]['unknowns']:,} unknowns, {found[-1]['total']:.2f} s, {found[-1]['peak']:.0f} MiB"
        )
    return found


def exponent(sizes: list[float], values: list[float]) -> float:
    """Power of the size with which the values grow, over the upper half of the sizes."""
    half = len(sizes) // 2
    return float(np.polyfit(np.log(sizes[half:]), np.log(values[half:]), 1)[0])


def growth_rows(found: list[Numbers]) -> list[str]:
    """One row a size, and the powers of growth."""
    head = ["unknowns", *(f"{stage} [s]" for stage in STAGES), "together [s]", "peak memory [MiB]"]
    rows = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    for run in found:
        cells = [f"{run['unknowns']:,}", *(f"{run[s]:.3f}" for s in (*STAGES, "total")), f"{run['peak']:.0f}"]
        rows.append("| " + " | ".join(cells) + " |")
    sizes = [run["unknowns"] for run in found]
    powers = [f"{exponent(sizes, [run[s] for run in found]):.2f}" for s in (*STAGES, "total", "peak")]
    return [*rows, "| *power of growth, upper half* | " + " | ".join(powers) + " |"]


def draw_growth(found: list[Numbers], path: Path) -> None:
    """Time by stage and peak memory over the number of unknowns."""
    sizes = np.array([run["unknowns"] for run in found])
    figure, (left, right) = plt.subplots(1, 2, figsize=(10.0, 4.2), layout="constrained")
    for stage in STAGES:
        left.loglog(sizes, [run[stage] for run in found], "o-", ms=3.5, lw=1.2, color=COLOURS[stage], label=stage)
    total = np.array([run["total"] for run in found])
    left.loglog(sizes, total, "s-", ms=5, lw=2.0, color="black", label="together")
    left.loglog(sizes, total[1] * sizes / sizes[1], ":", color="0.4", label="in proportion")
    left.set(xlabel="unknowns", ylabel="seconds of processor", title="One assembly, factorisation and back-solve")
    left.legend(fontsize=8, ncols=2)
    right.loglog(sizes, [run["peak"] for run in found], "s-", ms=5, lw=2.0, color="black")
    right.set(xlabel="unknowns", ylabel="peak resident memory [MiB]", title="Memory of that process")
    for axes in (left, right):
        axes.grid(True, which="major", lw=0.5, alpha=0.5)
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path, dpi=130)
    plt.close(figure)


def page(found: list[Numbers]) -> str:
    """The whole page."""
    load = os.getloadavg()[1]
    busy = f" It was busy with other work (load {load:.0f} on two cores), which lengthens times." if load > 2.5 else ""
    return "\n".join(
        [
            "# Performance",
            "",
            "This page is generated (`python tests/benchmarks/performance_report.py`). Figures of a 2-core machine, one thread "
            f"unless said; the least of several runs each.{busy}",
            "The same measurements run as `pytest tests/benchmarks --benchmark-only`; the test suite never fails on time.",
            "",
            "## A ceiling",
            "",
            *ceiling_rows(),
            "",
            "## Assembly and one factorisation",
            "",
            "Least of 75 runs each, in turns. ngsolve (a compiled finite-element library, with UMFPACK) solves a linear "
            "advection-diffusion problem of one material with as many unknowns; the default case has properties that depend on "
            "temperature, contacts and surface losses, and its assembly gives residual, tangent and derivative by the flow.",
            "",
            *matrix_rows(),
            "",
            "## At equal accuracy",
            "",
            ACCURACY,
            *accuracy_rows(),
            "",
            CONDENSED,
            SEARCHES,
            "## Growth with the mesh",
            "",
            "The default case at mesh levels 0 to 7, each in a process of its own: building mesh and arrays, one assembly, one "
            "factorisation, one back-solve with three right sides. Seconds of processor, one thread.",
            "",
            *growth_rows(found),
            "",
            "![Time by stage, and peak memory, over the number of unknowns](images/growth.png)",
            "",
        ]
    )


def main() -> None:
    """Measure, draw, write."""
    found = growth()
    draw_growth(found, DOCS / "images" / "growth.png")
    (DOCS / "performance.md").write_text(page(found), encoding="utf-8")


if __name__ == "__main__":
    main()
