"""Ceilings of divided bores, sections against equivalent passage: rewrites the table of docs/division.md when run."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from sections.chain_march import MarchedChain, flow_at
from sections.march import constant_medium

from meltzone.fem.across.chain import ChainSections, DividedBore, LinearChain, PlugProperties
from meltzone.fem.across.division import equivalent_passage
from meltzone.fem.across.rearrange import Ring
from meltzone.materials.library import polymer

PAGE = Path(__file__).resolve().parent.parent / "docs" / "division.md"
BEGIN, END = "<!-- begin: python tests/division_table.py -->\n", "<!-- end -->\n"
MM = 1e-3
INLET = 296.15
CONTACT = 12000.0  # W/m2/K
BORE, ROOT = 1.0, 2.39  # radii of the bore and of the thread's root, M6 [mm]
SHARE = 0.1
WEBS = {"brass": 115.0, "stainless": 16.0}  # W/m/K, rounded


@dataclass(frozen=True)
class Row:
    """One divided bore: `count` holes of `diameter` on the radius `ring`; lengths `before`, `divided`, `after`; all [mm]."""

    count: int
    diameter: float
    ring: float
    before: float = 6.0
    divided: float = 6.0
    after: float = 2.0
    web: str = "brass"
    card: str = "pla"
    setpoint: float = 210.0
    constant: bool = False

    @property
    def bore(self) -> DividedBore:
        """In metres."""
        ring = Ring(self.count, 0.5 * self.diameter * MM, self.ring * MM, BORE * MM)
        return DividedBore(ring, ROOT * MM, self.before * MM, self.divided * MM, self.after * MM)


@dataclass(frozen=True)
class Found:
    """Ceilings [mm3/s] by `sections` and `equivalent` passage; means at the end [K] at each; linear ceilings in ratio.

    `plain` is the ceiling with the factor N, `by_distribution` that of the sections with the joined stream sorted, both over
    that by sections at constant properties. `factor` is that of the ceiling over N.
    """

    sections: float
    equivalent: float
    mean: float
    equivalent_mean: float
    factor: float
    plain: float
    by_distribution: float

    @property
    def error(self) -> float:
        """Equivalent over sections, less one [%]."""
        return 100.0 * (self.equivalent / self.sections - 1.0)


BASE = Row(3, 1.0, 0.8)
COUNTS = [Row(2, 1.0, 0.7), BASE, Row(4, 0.8, 0.8), Row(5, 0.7, 0.8), Row(6, 0.6, 0.8), Row(7, 0.5, 0.8)]
VARIED = [
    *COUNTS,
    *(replace(BASE, diameter=d) for d in (0.6, 0.8, 1.2)),
    *(replace(BASE, ring=c) for c in (0.65, 1.0)),
    *(replace(BASE, before=length) for length in (3.0, 10.0, 15.0)),
    *(replace(BASE, divided=length) for length in (2.0, 4.0, 10.0)),
    *(replace(BASE, after=length) for length in (0.5, 1.0, 5.0)),
    *(replace(row, web="stainless") for row in COUNTS[::2]),
    Row(2, 1.0, 0.7, 15.0, 2.0, 5.0, "stainless"),
    Row(2, 1.0, 0.7, 3.0, 10.0, 0.5),
    Row(7, 0.5, 0.8, 15.0, 2.0, 5.0),
    Row(7, 0.5, 0.8, 3.0, 10.0, 0.5, "stainless"),
    replace(BASE, setpoint=260.0),
    *(
        replace(BASE, card=card, setpoint=t)
        for card, t in (("petg", 240.0), ("abs", 250.0), ("pp", 230.0), ("pa6", 260.0))
    ),
    *(replace(row, constant=True) for row in (BASE, COUNTS[-1])),
]


def found(row: Row, cells: int = 8, steps: int = 16) -> Found:
    """Both ceilings of `row`: where the coldest tenth's edge is at the card's flow temperature at the end of the chain."""
    card = polymer(row.card)
    hot, wall = card.flow_temperature, row.setpoint + 273.15
    conductivity = float(card.conductivity((INLET + hot) / 2.0))
    heat = float(card.enthalpy(hot) - card.enthalpy(INLET)) / (hot - INLET)
    properties = PlugProperties(conductivity, card.reference_density * heat, WEBS[row.web], CONTACT)
    medium = constant_medium(conductivity, heat) if row.constant else card
    sections = ChainSections(row.bore.ring, row.bore.outer, properties, cells)
    linear = LinearChain(sections, row.bore)
    marched = MarchedChain(sections, row.bore, medium, card.reference_density, INLET, wall, steps)
    passage = equivalent_passage(row.bore, properties, SHARE)
    excess = (hot - wall) / (wall - INLET)
    guess = flow_at(lambda q: linear.by_sections(q, SHARE), excess, passage.flows[4])
    plain = flow_at(lambda q: linear.by_equivalent(q, row.count, SHARE), excess, guess)
    by_distribution = flow_at(lambda q: linear.by_sections(q, SHARE, True), excess, guess)
    ceiling = flow_at(lambda q: marched.by_sections(q, SHARE), hot, guess)
    equivalent = flow_at(lambda q: marched.by_equivalent(passage, q, SHARE), hot, ceiling)
    return Found(
        1e9 * ceiling,
        1e9 * equivalent,
        marched.by_sections(ceiling, None),
        marched.by_equivalent(passage, equivalent, None),
        passage.factor(equivalent)[0] / row.count,
        plain / guess,
        by_distribution / guess,
    )


HEAD = (
    "| polymer | setpoint [degC] | N | hole [mm] | ring [mm] | before [mm] | divided [mm] | after [mm] | webs "
    "| sections [mm³/s] | equivalent [mm³/s] | error [%] | mean, sections [degC] | mean, equivalent [degC] "
    "| factor / N | factor N [%] | sorted [%] |\n"
)


def lines(rows: list[Row]) -> Iterator[str]:
    """The table's lines."""
    yield HEAD
    yield "|---" * HEAD.count(" |") + "|\n"
    for row in rows:
        yield line(row, found(row))


def line(row: Row, f: Found) -> str:
    """One line of the table."""
    name = f"{row.card}, constant" if row.constant else row.card
    ours = [name, row.setpoint, row.count, row.diameter, row.ring, row.before, row.divided, row.after, row.web]
    told = [cell if isinstance(cell, str) else f"{cell:g}" for cell in ours]
    told += [f"{f.sections:.2f}", f"{f.equivalent:.2f}", f"{f.error:+.2f}"]
    told += [f"{f.mean - 273.15:.1f}", f"{f.equivalent_mean - 273.15:.1f}", f"{f.factor:.3f}"]
    told += [f"{100.0 * (ratio - 1.0):+.1f}" for ratio in (f.plain, f.by_distribution)]
    return f"| {' | '.join(told)} |\n"


def printed() -> list[list[str]]:
    """The table of the page, cell by cell, its head left out."""
    table = PAGE.read_text(encoding="utf-8").partition(BEGIN)[2].partition(END)[0]
    return [cells(text) for text in table.strip().splitlines()[2:]]


def cells(text: str) -> list[str]:
    """The cells of one line."""
    return re.split(r" *\| *", text.strip().strip("|").strip())


def main() -> None:
    """Rewrite the table."""
    text = PAGE.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    PAGE.write_text(before + BEGIN + "".join(lines(VARIED)) + END + rest.partition(END)[2], encoding="utf-8")


if __name__ == "__main__":
    main()
