"""Sweep files: what they mean, the points they stand for, and a clear message for every fault before any solve."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from generate.sweep_page import sweep_page
from hypothesis import given, settings
from hypothesis import strategies as st
from sweeps import FOUR, written

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.studies.sweep.plan import Sweep
from meltzone.cases.studies.sweep.read import load_sweep, sweep_names
from meltzone.cases.studies.sweep.schema import SampleTable, field_of, known_keys

LATIN = '"contacts.thread" = { from = "1000 W/m^2/K", to = "64000 W/m^2/K", scale = "log" }\n'


def points(sweep: Sweep, column: int) -> list[Any]:
    return [values[column] for values in sweep.points()]


def test_all_combinations_the_last_key_fastest(tmp_path: Path) -> None:
    sweep = load_sweep(written(tmp_path))
    assert [axis.column for axis in sweep.axes] == ["mesh.level", "heater.setpoint [degC]", "nozzle.material"]
    assert sweep.points() == [
        (0.25, setpoint, metal) for setpoint in ("200 degC", "220 degC") for metal in ("brass", "copper")
    ]


def test_ranges_are_linear_or_logarithmic_with_both_ends(tmp_path: Path) -> None:
    vary = (
        '"nozzle.bore" = { from = "0.1 inch", to = "2 mm", steps = 3 }\n'
        '"contacts.wrap" = { from = "100 W/m^2/K", to = "1600 W/m^2/K", steps = 5, scale = "log" }\n'
        '"polymer.inner_share" = { from = 0.1, to = 0.4, steps = 4 }'
    )
    _, bore, wrap, share = load_sweep(written(tmp_path, vary)).axes
    assert [bore.shown(value) for value in bore.values] == pytest.approx([2.54, 2.27, 2.0])
    assert wrap.values == ("100 W/m^2/K", "200 W/m^2/K", "400 W/m^2/K", "800 W/m^2/K", "1600 W/m^2/K")
    assert share.values == (0.1, 0.2, 0.3, 0.4)


def test_lists_hold_words_truths_tables_and_quantities(tmp_path: Path) -> None:
    vary = (
        "surroundings.fan = [false, true]\n"
        'sleeve = [false, { material = "copper", height = "8 mm" }]\n'
        'nozzle.length = ["13 mm", "1.4 cm"]\n'
        '"wrap.covers" = [["block"], ["block", "nozzle"]]\n'
        '"surroundings.films.block top" = ["5 W/m^2/K", "9 W/m^2/K"]'
    )
    sweep = load_sweep(written(tmp_path, vary))
    shown = [[axis.shown(value) for value in axis.values] for axis in sweep.axes[1:]]
    assert shown == [
        ["false", "true"], ["none", "material copper, height 8 mm"], [13.0, 14.0], ["block", "block + nozzle"], [5.0, 9.0],
    ]  # fmt: skip
    last = sweep.base.case(sweep.overrides(sweep.points()[-1])).model
    assert last.sleeve is not None and last.sleeve.height == 8e-3 and last.sleeve.material == "copper"
    assert last.surroundings.films == {"block top": 9.0}
    assert sweep.base.case(sweep.overrides(sweep.points()[0])).model.sleeve is None


def test_a_latin_hypercube_has_one_point_in_every_slice(tmp_path: Path) -> None:
    """What defines it: of n equal slices of every range each holds exactly one of n points (McKay et al. 1979)."""
    more = "nozzle.material = ['brass', 'copper', 'tool steel']\n[sample]\npoints = 30\nseed = 7"
    vary = LATIN + '"heater.setpoint" = { from = "190 degC", to = "250 degC" }'
    sweep = load_sweep(written(tmp_path, vary, more))
    thread = np.log([sweep.axes[1].shown(value) for value in points(sweep, 1)])
    share = (thread - np.log(1e3)) / np.log(64.0)
    assert sorted((30 * share).astype(int)) == list(range(30))
    setpoint = np.array([sweep.axes[2].shown(value) for value in points(sweep, 2)], dtype=float)
    assert sorted(((setpoint - 190.0) / 2.0).astype(int)) == list(range(30))
    assert set(Counter(points(sweep, 3)).values()) == {10}, "lists are sampled evenly"


def test_the_seed_fixes_the_sample(tmp_path: Path) -> None:
    def drawn(seed: int) -> list[tuple[Any, ...]]:
        return load_sweep(written(tmp_path, LATIN, f"[sample]\npoints = 8\nseed = {seed}")).points()

    assert drawn(3) == drawn(3)
    assert drawn(3) != drawn(4)


def test_in_a_sample_steps_are_drawn_as_a_list(tmp_path: Path) -> None:
    more = "[sample]\npoints = 12"
    sweep = load_sweep(written(tmp_path, LATIN.replace('scale = "log"', 'steps = 4, scale = "log"'), more))
    assert Counter(points(sweep, 1)) == {f"{value} W/m^2/K": 3 for value in (1000, 4000, 16000, 64000)}


@settings(max_examples=40, deadline=None)
@given(count=st.integers(1, 40), seed=st.integers(0, 2**32 - 1), listed=st.integers(1, 7))
def test_every_sample_is_even_and_valid(count: int, seed: int, listed: int) -> None:
    sweep = load_sweep("unknown-joints")
    drawn = Sweep(
        sweep.name, sweep.file, sweep.text, "", sweep.base, sweep.axes, SampleTable(points=count, seed=seed)
    ).points()
    assert len(drawn) == count
    sweep.base.case(sweep.overrides(drawn[0]))
    fans = Counter(values[-1] for values in drawn)
    assert max(fans.values()) - min(fans[False], fans[True]) <= 1


def test_every_key_of_a_case_is_known() -> None:
    assert all(field_of(key) is not None for key in known_keys())
    for key in (
        "",
        "title",
        "extends",
        "heater.",
        "heater.setpoint.more",
        "materials",
        "materials.",
        "films",
        "nozzle.bor",
    ):
        assert field_of(key) is None, key


MANY = ("nozzle.bore", "nozzle.land", "block.width")
FAULTS = {
    "unknown key": ('"heater.setpont" = ["200 degC"]', "heater.setpont", "heater.setpoint", 6),
    "key of another table": ('"nozzle.setpoint" = ["200 degC"]', "nozzle.setpoint", "heater.setpoint", 6),
    "base cases": ('extends = ["short-block"]', "extends", "one sweep for each case", 6),
    "title": ('title = ["a", "b"]', "title", "", 6),
    "a single value": ('"heater.setpoint" = "200 degC"', "vary.heater.setpoint", "from =", 6),
    "empty list": ('"heater.setpoint" = []', "vary.heater.setpoint", "from =", 6),
    "twice the same": ('"nozzle.material" = ["brass", "brass"]', "vary.nozzle.material", "Remove one", 6),
    "a bare number": ('"heater.setpoint" = [200]', "vary.heater.setpoint", '"200 degC"', 6),
    "a wrong unit": ('"heater.setpoint" = ["200 mm"]', "vary.heater.setpoint", "not a unit of temperature", 6),
    "a wrong unit in a range": (
        '"heater.setpoint" = { from = "200 mm", to = "220 degC", steps = 2 }', "vary.heater.setpoint.from", "unit of", 6,
    ),
    "beyond the limits": (
        '"polymer.inner_share" = { from = 0.1, to = 2.0, steps = 3 }', "vary.polymer.inner_share.to", "unit and quotes", 6,
    ),
    "an unknown material": ('"nozzle.material" = ["brass", "coper"]', "vary.nozzle.material", "copper", 6),
    "a material inside a table": ('sleeve = [false, { material = "coper" }]', "vary.sleeve.material", "copper", 6),
    "a wrong key inside a table": ('sleeve = [{ hight = "8 mm" }]', "vary.sleeve.hight", "height", 6),
    "an unknown face": ('"surroundings.films.blok" = ["5 W/m^2/K"]', "surroundings.films.blok", "block", 6),
    "a range of words": ('"nozzle.material" = { from = "brass", to = "copper" }', "vary.nozzle.material", "As in", 6),
    "no steps": ('"heater.setpoint" = { from = "200 degC", to = "220 degC" }', "vary.heater.setpoint", "steps = 8", 6),
    "one step": (
        '"heater.setpoint" = { from = "200 degC", to = "220 degC", steps = 1 }',
        ".steps",
        "without unit and quotes",
        6,
    ),
    "no end": ('"heater.setpoint" = { from = "200 degC", steps = 4 }', "setpoint.to", "Add to", 6),
    "a misspelt end": ('"heater.setpoint" = { fro = "200 degC", to = "220 degC", steps = 4 }', "setpoint.fro", "mean from?", 6),
    "equal ends": ('"heater.setpoint" = { from = "200 degC", to = "200 degC", steps = 4 }', "setpoint", "list", 6),
    "log of a temperature": (
        '"heater.setpoint" = { from = "200 degC", to = "220 degC", steps = 4, scale = "log" }', "setpoint.scale", "linear", 6,
    ),
    "an unknown scale": (
        '"nozzle.bore" = { from = "2 mm", to = "3 mm", steps = 4, scale = "root" }', "bore.scale", "Choose one", 6,
    ),
    "a key and its table": ('nozzle = [{ bore = "2 mm" }]\n"nozzle.bore" = ["2 mm"]', "vary.nozzle.bore", "whole tables", 7),
    "too many points": (
        "\n".join(f'"{key}" = {{ from = "1 mm", to = "9 mm", steps = 99 }}' for key in MANY),
        "vary", "[sample]", 4,
    ),
    "key of a case at the top": ('"nozzle.bore" = ["2 mm"]\n[heater]\nsetpoint = "200 degC"', "heater", "[vary]", 7),
    "an unknown table": ('"nozzle.bore" = ["2 mm"]\n[smaple]\npoints = 3', "smaple", "sample", 7),
    "a sample without points": ('"nozzle.bore" = ["2 mm"]\n[sample]\nseed = 3', "sample.points", "points = 100", 7),
    "points in words": ('"nozzle.bore" = ["2 mm"]\n[sample]\npoints = "3"', "sample.points", "without unit and quotes", 8),
    "no TOML": ('"nozzle.bore" = [', None, "TOML", None),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_faults_are_told_with_place_and_hint(tmp_path: Path, fault: str) -> None:
    vary, key, hint, line = FAULTS[fault]
    with pytest.raises(CaseError) as caught:
        load_sweep(written(tmp_path, vary))
    error = caught.value
    assert error.file == str(tmp_path / "mine.toml")
    assert key is None or (error.key or "").endswith(key), error
    assert hint in " ".join(str(error).split()), error
    assert line is None or error.line == line, error
    assert error.expected and error.hint


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("[vary]\n'nozzle.bore' = ['2 mm']", 'Add case = "short-block"'),
        ("case = 'short-block'", "Add [vary]"),
        ("case = 'short-block'\n[vary]", "from ="),
        ("case = 'shrt-block'\n[vary]\n'nozzle.bore' = ['2 mm']", "short-block"),
        ("case = 5\n[vary]\n'nozzle.bore' = ['2 mm']", "Put it in quotes"),
        ("case = 'short-block'\nvary = 3", "Write [vary] on a line of its own"),
    ],
)
def test_faults_at_the_top(tmp_path: Path, text: str, hint: str) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError, match=re.escape(hint)):
        load_sweep(path)


def test_a_fault_of_the_base_case_is_told_from_there(tmp_path: Path) -> None:
    (tmp_path / "base.toml").write_text('[heater]\nrating = "40"\n', encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        load_sweep(written(tmp_path, case="base.toml"))
    assert caught.value.file == str(tmp_path / "base.toml") and caught.value.line == 2


def test_the_base_case_may_leave_out_what_is_varied(tmp_path: Path) -> None:
    (tmp_path / "base.toml").write_text('[heater]\nrating = "30 W"\n', encoding="utf-8")
    sweep = load_sweep(written(tmp_path, case="base.toml"))
    case = sweep.base.case(sweep.overrides(sweep.points()[0]))
    assert case.model.heater.rating == 30.0 and case.model.heater.setpoint == pytest.approx(473.15)


def test_missing_file_names_the_shipped_ones() -> None:
    with pytest.raises(CaseError, match="setpoint-and-nozzle"):
        load_sweep("setpoint-and-nozle")


@pytest.mark.parametrize("name", sweep_names())
def test_shipped_sweeps_load_and_stay_small(name: str) -> None:
    sweep = load_sweep(name)
    assert sweep.title and 4 <= len(sweep.points()) <= 64


def test_comments_and_titles_do_not_count(tmp_path: Path) -> None:
    first = load_sweep(written(tmp_path)).meaning
    assert load_sweep(written(tmp_path, f"# a remark\n{FOUR}")).meaning == first
    assert load_sweep(written(tmp_path, FOUR.replace("220", "221"))).meaning != first


def test_the_page_s_own_example_loads(tmp_path: Path) -> None:
    found = re.search(r"```toml\n(.*?)```", sweep_page(), flags=re.DOTALL)
    assert found is not None
    path = tmp_path / "page.toml"
    path.write_text(found.group(1), encoding="utf-8")
    assert len(load_sweep(path).points()) == 8 * 5 * 2 * 2 * 2
