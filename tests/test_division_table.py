"""The page on divided bores: its table is that of the rows, its claims follow from the table, some rows are solved anew."""

from __future__ import annotations

import numpy as np
import pytest
from division_table import (
    BASE,
    CONTACT,
    INLET,
    MM,
    PAGE,
    SHARE,
    VARIED,
    WEBS,
    Row,
    cells,
    found,
    line,
    printed,
)
from sections.chain_march import MarchedChain, flow_at
from sections.march import constant_medium

from meltzone.fem.across.chain import ChainSections, DividedBore, LinearChain, PlugProperties
from meltzone.fem.across.division import equivalent_passage
from meltzone.fem.across.rearrange import Ring
from meltzone.materials.library import polymer

INPUTS = 9  # columns that say what the row is
TABLE = printed()
ERROR, MEAN, EQUIVALENT_MEAN, PLAIN, SORTED = (np.array([float(row[i]) for row in TABLE]) for i in (11, 12, 13, 15, 16))


def test_the_table_holds_all_rows() -> None:
    class Blank:
        sections = equivalent = error = mean = equivalent_mean = factor = plain = by_distribution = 0.0

    assert [row[:INPUTS] for row in TABLE] == [cells(line(row, Blank()))[:INPUTS] for row in VARIED]  # type: ignore[arg-type]


def test_the_ceiling_is_within_three_percent() -> None:
    assert np.abs(ERROR).max() < 3.0
    for row in TABLE:
        assert float(row[11]) == pytest.approx(100.0 * (float(row[10]) / float(row[9]) - 1.0), abs=0.06)


def test_what_the_page_says_of_its_table() -> None:
    text = " ".join(PAGE.read_text(encoding="utf-8").split())
    constant = [row[0].endswith("constant") for row in TABLE]
    assert f"at most {np.abs(ERROR).max():.1f} %; in {np.sum(np.abs(ERROR) < 0.8)} of the {len(TABLE)} rows" in text
    assert f"by up to {np.max(EQUIVALENT_MEAN - MEAN):.1f} K" in text
    assert f"N alone as factor would miss {-PLAIN.max():.0f} to {-PLAIN.min():.0f} %" in text
    assert f"would lose: {-SORTED.max():.0f} to {-SORTED.min():.0f} %" in text
    assert np.abs(ERROR[constant]).max() < 0.1
    rise = [float(row[12]) + 273.15 - INLET for row in TABLE]
    assert np.max((EQUIVALENT_MEAN - MEAN) / rise) < 0.04


@pytest.mark.slow
@pytest.mark.parametrize("row", [BASE, Row(7, 0.5, 0.8, 15.0, 2.0, 5.0)], ids=["base", "worst"])
def test_a_row_solved_anew(row: Row) -> None:
    fresh, committed = cells(line(row, found(row))), TABLE[VARIED.index(row)]
    assert fresh[:INPUTS] == committed[:INPUTS]
    for new, old in zip(fresh[INPUTS:], committed[INPUTS:], strict=True):
        assert float(new) == pytest.approx(float(old), rel=1e-3, abs=0.06)


def test_passage_and_sections_under_metal_that_is_not_evenly_warm() -> None:
    card = polymer("pla")
    hot = card.flow_temperature
    heat = float(card.enthalpy(hot) - card.enthalpy(INLET)) / (hot - INLET)
    conductivity = float(card.conductivity((INLET + hot) / 2.0))
    properties = PlugProperties(conductivity, card.reference_density * heat, WEBS["brass"], CONTACT)
    chain = MarchedChain(
        ChainSections(BASE.bore.ring, BASE.bore.outer, properties),
        BASE.bore,
        card,
        card.reference_density,
        INLET,
        lambda z: 473.15 + 20.0 * z / (14 * MM),
        10,
    )
    passage = equivalent_passage(BASE.bore, properties)
    ceiling = flow_at(lambda q: chain.by_sections(q, SHARE), hot, 28e-9)
    assert chain.by_equivalent(passage, ceiling, SHARE) == pytest.approx(hot, abs=0.01 * (hot - INLET))


def test_marched_and_modal_chain_agree_at_constant_properties() -> None:
    bore = DividedBore(Ring(4, 0.4 * MM, 0.8 * MM, MM), 2.39 * MM, 4 * MM, 3 * MM, 1 * MM)
    properties = PlugProperties(0.2, 1200.0 * 2000.0, 115.0, CONTACT)
    sections = ChainSections(bore.ring, bore.outer, properties)
    modal = LinearChain(sections, bore)
    marched = MarchedChain(sections, bore, constant_medium(0.2, 2000.0), 1200.0, 300.0, 500.0, 24)
    for share in (SHARE, None):
        expected = 500.0 + 200.0 * modal.by_sections(30e-9, share)
        assert marched.by_sections(30e-9, share) == pytest.approx(expected, abs=0.05)
    passage = equivalent_passage(bore, properties)
    factor, _ = passage.factor(30e-9)
    expected = 500.0 + 200.0 * modal.by_equivalent(30e-9, factor, SHARE)
    assert marched.by_equivalent(passage, 30e-9, SHARE) == pytest.approx(expected, abs=0.05)
