"""Bands: the sum of effects against closed forms and sampling, what cancels in a gain, ranges, tolerances, evidence."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.plausible import unknowns_of
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.statistics.independent import NORMAL_90, Ends, middle, quantiles_of_sum, shares
from meltzone.cases.studies.bands.band import banded
from meltzone.cases.studies.bands.compared import evidence
from meltzone.cases.studies.bands.effects import SOLVED_AGAIN, Effect
from meltzone.cases.studies.bands.gain import gain_band, tie
from meltzone.cases.studies.bands.model_error import MODEL, SOLID, missed, missed_of_gains
from meltzone.cases.studies.bands.reach import conditions_of, reach
from meltzone.cases.studies.results import Result
from meltzone.cases.studies.run import ceiling
from meltzone.fem.ceiling import find_ceilings
from meltzone.fem.nearby import Judged
from meltzone.materials.doubt import kind_of_source

COARSE = {"mesh.level": 0.25}


@cache
def found(name: str, **overrides: str) -> Result:
    return ceiling(name, COARSE | {key.replace("__", "."): value for key, value in overrides.items()})


def effect_of(result: Result, identity: str) -> Effect:
    assert result.band is not None
    return next(effect for effect in result.band.effects if effect.identity == identity)


def test_straight_effects_add_as_normal_numbers_do() -> None:
    """Sum of normal numbers: variances add, so 3 and 4 make 5."""
    assert middle([Ends(-3.0, 3.0), Ends(4.0, -4.0)]) == pytest.approx((-5.0, 5.0), rel=5e-4)
    assert shares([Ends(-3.0, 3.0), Ends(4.0, -4.0)]) == pytest.approx([0.36, 0.64])
    assert middle([Ends(-0.2, 0.5)]) == pytest.approx((-0.2, 0.5), rel=3e-3)  # one number alone: its own range
    assert middle([]) == (0.0, 0.0)


def test_bent_effects_add_as_their_samples_do() -> None:
    """Against a million seeded samples of the same sum."""
    effects = [Ends(-0.3, 0.1), Ends(-0.1, 0.1), Ends(-0.3, 0.0), Ends(0.1, -0.05)]
    normals = np.random.default_rng(1).normal(size=(4, 1_000_000)) / NORMAL_90
    drawn = sum(np.where(z > 0.0, e.high * z, -e.low * z) for e, z in zip(effects, normals, strict=True))
    asked = (0.05, 0.5, 0.95)
    assert quantiles_of_sum(effects, asked) == pytest.approx(np.quantile(drawn, asked), abs=2e-3)
    assert sum(e.mean for e in effects) == pytest.approx(np.mean(drawn), abs=1e-3)
    assert sum(e.variance for e in effects) == pytest.approx(np.var(drawn), rel=5e-3)


def test_the_band_of_one_straight_input_is_its_closed_form() -> None:
    """A ceiling inverse to an input that lies within a factor f lies within f, nine times in ten."""
    band = banded(10.0, (Effect("density", "density", "", "", Ends(math.log(1.1), -math.log(1.1))),), ())
    assert (band.low, band.high) == pytest.approx((10.0 / 1.1, 11.0), rel=1e-4)
    assert band.widest[0].share == pytest.approx(1.0) and band.narrowed is None


def test_the_density_of_the_polymer_does_what_it_must() -> None:
    """The ceiling is exactly inverse to the density, whatever else there is."""
    effect = effect_of(found("short-block"), "pla.density")
    assert effect.ends.low == pytest.approx(-effect.reach[0], rel=1e-5)
    assert effect.ends.high == pytest.approx(-effect.reach[1], rel=1e-5)


def test_flow_temperature_and_stiff_core_are_solved_at_both_ends() -> None:
    """Against ceilings on a finer mesh with these numbers written in the case."""
    result = found("short-block")
    assert result.flow_ceiling
    for identity, key, ends in (
        ("pla.flow_temperature", "polymer__flow_temperature", ("150 degC", "180 degC")),
        ("operation.inner_share", "polymer__inner_share", ("0.05", "0.2")),
    ):
        values = ends if "degC" in ends[0] else tuple(map(float, ends))
        flows = [found("short-block", **{key: value}).flow_ceiling or 0.0 for value in values]
        effect = effect_of(result, identity)
        changes = [math.log(flow / result.flow_ceiling) for flow in flows]
        assert (effect.ends.low, effect.ends.high) == pytest.approx(changes, abs=5e-3)


@pytest.mark.parametrize("name", ["short-block", "short-block-petg"])
def test_a_few_steps_from_the_ceiling_find_what_whole_solves_find(name: str) -> None:
    """Ceilings at both ends of what is judged, from the field of the base, against such from cold."""
    result = found(name)
    assert result.ceilings is not None
    near = Judged(result.ceilings)
    for unknown in unknowns_of(result.case, result.system):
        if unknown.key in SOLVED_AGAIN:
            for end in (unknown.low, unknown.high):
                problem = unknown.moved.moved(result.problem, end)
                assert near.flow_under(problem) == pytest.approx(find_ceilings(problem).flow, rel=1e-4)
    assert near.flow_under(replace(result.problem, operation=replace(result.problem.operation, setpoint=400.0))) == 0.0


def test_viscosity_and_plateau_modulus_are_in_the_band_of_a_force_ceiling_alone() -> None:
    """Their ends against whole solves; where the melt gets so thin that the melt ceiling governs, that is the end."""
    result = found("short-block", feeder__grip="25 N")
    assert result.governs == "force" and result.flow_ceiling and result.melt_ceiling and result.ceilings is not None
    unknowns = {unknown.identity: unknown for unknown in unknowns_of(result.case, result.system)}
    for identity, error in (("pla.viscosity", 0.02), ("pla.plateau_modulus", 0.002)):
        unknown = unknowns[identity]
        flows = [find_ceilings(unknown.moved.moved(result.problem, end)).flow for end in (unknown.low, unknown.high)]
        changes = [math.log(flow / result.ceilings.flow) for flow in flows]
        ends = effect_of(result, identity).ends
        assert (ends.low, ends.high) == pytest.approx(changes, abs=error)
    assert effect_of(result, "pla.viscosity").ends.low == pytest.approx(
        math.log(result.melt_ceiling / result.flow_ceiling), abs=5e-3
    )
    melts = found("short-block").band
    assert melts is not None and not {"pla.viscosity", "pla.plateau_modulus"} & {e.identity for e in melts.effects}


def test_a_resistance_moves_the_ceiling_as_a_resistance() -> None:
    """The contact of melt and bore at a third and at three times its value, by whole solves."""
    result = found("short-block")
    assert result.flow_ceiling
    flows = [
        found("short-block", contacts__bore_melt=f"{12000.0 * factor} W/m^2/K").flow_ceiling or 0.0
        for factor in (1.0 / 3.0, 3.0)
    ]
    effect = effect_of(result, "contacts.bore_melt")
    changes = [math.log(flow / result.flow_ceiling) for flow in flows]
    assert (effect.ends.low, effect.ends.high) == pytest.approx(changes, rel=0.25)


def test_a_stated_tolerance_takes_the_place_of_the_range_and_says_by_how_much() -> None:
    usual, stated = found("short-block"), found("short-block", polymer__flow_temperature="158 +/- 2 degC")
    assert usual.band is not None and stated.band is not None
    assert usual.band.narrowed is None
    effect = effect_of(stated, "pla.flow_temperature")
    assert effect.stated and effect.reach == pytest.approx((-2.0 * NORMAL_90, 2.0 * NORMAL_90))
    width, narrow = (band.high - band.low for band in (usual.band, stated.band))
    assert stated.band.narrowed == pytest.approx(100.0 * (1.0 - narrow / width), abs=0.5) and narrow < 0.9 * width


def test_a_case_against_itself_is_exactly_a_tie() -> None:
    band = found("short-block").band
    gain = gain_band(band, band)
    assert gain is not None and tie(band, band)
    assert (gain.value, gain.low, gain.high, gain.parts) == (0.0, 0.0, 0.0, ())


@pytest.mark.parametrize("first", [True, False])
def test_a_tolerance_holds_for_both_whoever_stated_it(first: bool) -> None:
    """The conductivity of one polymer drops out of a gain to first order, whichever of the cases states a tolerance."""
    tolerance = {"uncertainty__polymer__conductivity": "20 %"}
    short = found("short-block", **(tolerance if first else {}))
    long = found("long-block", **({} if first else tolerance))
    both = gain_band(*(found(name, **tolerance).band for name in ("long-block", "short-block")))
    gain = gain_band(long.band, short.band)
    assert gain is not None and both is not None
    assert (gain.low, gain.high) == pytest.approx((both.low, both.high), abs=0.1)
    left = dict(gain.parts)["pla.conductivity"]
    assert abs(left.high) < 0.02 * abs(effect_of(short if first else long, "pla.conductivity").ends.high)


def test_a_gain_is_known_better_than_its_ceilings() -> None:
    short, long = found("short-block").band, found("long-block").band
    gain = gain_band(long, short)
    assert gain is not None and short is not None and gain.judged == "more"
    low, high = middle([ends for identity, ends in gain.parts if identity != MODEL])
    assert high - low < 0.25 * math.log(short.by_inputs[1] / short.by_inputs[0])
    assert not tie(long, short)


def test_two_sleeves_that_nobody_could_tell_apart_are_a_tie() -> None:
    assert tie(found("long-nozzle-brass-sleeve").band, found("long-nozzle-copper-sleeve").band)


@pytest.mark.parametrize("name", ["short-block", "short-block-petg"])
def test_the_band_is_that_of_whole_solves(name: str) -> None:
    """Against 120 seeded ceilings with every input drawn: their width is uncertain by 8 %, which adds to the goal of 20 %."""
    from generate.evidence.band_study import drawn

    found_by = drawn(name, found(name), 120)
    assert found_by.sampling_error == pytest.approx(0.08, abs=0.005)
    assert found_by.width_ratio == pytest.approx(1.0, abs=0.2 + 0.08)
    half = (found_by.high - found_by.low) / 2.0
    assert found_by.by_band == pytest.approx((found_by.low, found_by.high), abs=0.4 * half)


def test_sources_are_told_apart() -> None:
    assert kind_of_source("data sheet for CuZn39Pb3: 123") == "published"
    assert kind_of_source("from memory: 0.19 to 0.21") == "from memory"
    assert kind_of_source("estimate, no source: machined steel") == "common practice"
    assert kind_of_source("a table; from memory; common practice, no source") == "common practice"


def test_the_range_of_petg_comes_from_its_card() -> None:
    effect = effect_of(found("short-block-petg"), "petg.flow_temperature")
    assert effect.words == "185 to 220 degC" and effect.known == "range of the card"


def test_what_was_never_measured_is_said_with_the_nearest_evidence() -> None:
    said = found("short-block-petg").outside
    assert any("PETG" in text and "PLA" in text for text in said)
    wide = replace_orifice("1.2 mm")
    assert any("1.2 mm" in text and "too low" in text for text in wide)
    assert any("0.8 mm" in text for text in replace_orifice("0.8 mm"))
    assert any("divided" in text for text in found("short-block-divided").outside)
    assert any("filament of 2.85 mm" in text for text in found("short-block-285").outside)


def replace_orifice(diameter: str) -> tuple[str, ...]:
    case = load_case("short-block", {"nozzle.orifice": diameter, "nozzle.tip_diameter": "2 mm"})
    return reach(problem_of(case), 15.0)


def test_every_case_that_was_measured_is_within_reach() -> None:
    for row in evidence().rows:
        if row.at.orifice < 1.0:
            assert reach(problem_of(load_case("short-block")), row.measured) == () or row.measured > 20.0
    assert found("short-block").outside == ()


def test_the_conditions_of_the_evidence_are_those_of_the_measured_files() -> None:
    """The data file is of the shipped measured files: same rows, same conditions, same measured values."""
    from generate.evidence.compared import arrangements, known_files, problem_of_row

    rows = {(row.file, row.row): row for row in evidence().rows}
    for read in known_files():
        for number, group in enumerate(arrangements(read)):
            for each in group:
                kept = rows.pop((read.name, each.name))
                assert kept.arrangement == number
                assert kept.measured == pytest.approx(1e9 * each.ceiling, rel=1e-5)
                assert kept.at == replace(conditions_of(problem_of_row(read, each)))
    assert not rows


def test_predictions_of_the_evidence_can_be_made_again() -> None:
    """Of a file that calibrates nothing, by one ceiling."""
    row = next(row for row in evidence().rows if row.row == "0.4 mm orifice, 19.6 mm")
    from generate.evidence.compared import known_files, problem_of_row

    read = next(read for read in known_files() if read.name == row.file)
    problem = replace(problem_of_row(read, read.row(row.row)), level=0.25)
    assert row.predicted == pytest.approx(1e9 * find_ceilings(problem).flow, rel=2e-3)


def test_the_models_error_is_that_of_its_comparisons() -> None:
    """Weighed means by hand."""
    rows = [row for row in evidence().rows if row.at.orifice < 1.0]
    half = missed(rows)
    largest = max(abs(row.error) for row in rows)
    assert 0.3 * largest < half < 2.5 * largest
    floor, share = missed_of_gains()
    assert 0.0 < floor < 0.05 and 0.05 < share < 0.5
    assert effect_of(found("short-block"), MODEL).ends.high == pytest.approx(half)


def test_error_of_divided_bores_is_the_worst_of_the_sectors_in_three_dimensions() -> None:
    figures = Path(__file__).parents[1] / "docs" / "generate" / "solid" / "figures.json"
    heats = json.loads(figures.read_text(encoding="utf-8"))["sector"]["heats"]
    worst = min(each["solid"] / each["order"] for each in heats)
    assert math.exp(SOLID.low) == pytest.approx(worst, abs=5e-4)
    band = found("short-block-divided").band
    assert band is not None and any(each.noun.startswith("splitting") for each in band.contributors)
