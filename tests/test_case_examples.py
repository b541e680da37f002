"""The shipped examples: each loads, builds and has the dimensions its title promises; extending and overriding them."""

from __future__ import annotations

from pathlib import Path

import pytest

from meltzone.cases.inputs.build import arrangement_of, problem_of
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import example_names, load_case
from meltzone.fem.inputs import Contacts, Surroundings
from meltzone.geometry.arrangement import Arrangement
from meltzone.materials.library import polymer, solid


def _write(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("name", example_names())
def test_every_example_builds_a_problem(name: str) -> None:
    case = load_case(name)
    problem = problem_of(case)
    assert case.name == name
    assert case.model.title
    assert isinstance(problem.arrangement, Arrangement)
    assert problem.operation.setpoint > problem.materials.polymer.flow_temperature
    assert (problem.materials.sleeve is None) == (problem.arrangement.sleeve is None)
    assert (problem.materials.wrap is None) == (problem.arrangement.wrap is None)
    assert (problem.materials.liner is None) == (problem.arrangement.liner is None)
    assert (problem.materials.second_block is None) == (problem.arrangement.second_block is None)


def test_every_title_is_its_own() -> None:
    titles = [load_case(name).model.title for name in example_names()]
    assert len(set(titles)) == len(titles)


def test_short_block_is_the_pattern_that_the_parts_default_to() -> None:
    problem = problem_of(load_case("short-block"))
    assert problem.arrangement == Arrangement()
    assert problem.contacts == Contacts()
    assert problem.operation.setpoint == 483.15
    assert problem.operation.rating == 40.0
    assert problem.materials.polymer.key == "pla"
    assert problem.materials.nozzle is solid("brass")
    assert problem.materials.block is solid("aluminium")
    assert problem.materials.heat_break is solid("stainless steel")


def test_long_patterns_lengthen_the_melt_zone_by_the_same_8_5_mm() -> None:
    short = arrangement_of(load_case("short-block"))
    for name in ("long-block", "long-nozzle-bare", "long-nozzle-brass-sleeve"):
        longer = arrangement_of(load_case(name))
        assert longer.joint - short.joint == pytest.approx(8.5e-3)
        assert longer.engaged == pytest.approx(short.engaged)
    assert arrangement_of(load_case("long-block")).nozzle.exposed == short.nozzle.exposed
    assert arrangement_of(load_case("long-nozzle-bare")).block == short.block


def test_bores_step_taper_and_are_lined_as_the_titles_say() -> None:
    stepped, tapered, lined = (
        arrangement_of(load_case(f"short-block-{word}")) for word in ("stepped", "tapered", "lined")
    )
    slopes = [slope for _, _, slope in stepped.wall.slopes()[1:]]  # the first is the inner cone
    assert slopes == pytest.approx([1.0, 1.0])
    assert [slope for _, _, slope in tapered.wall.slopes()[1:]] == pytest.approx([0.4 / 6.0])
    assert lined.liner is not None and lined.liner_end == lined.joint
    assert {slope for _, _, slope in lined.wall.slopes()[1:]} == set()


def test_two_blocks_are_the_short_one_twice() -> None:
    problem, short = problem_of(load_case("short-block-two")), arrangement_of(load_case("short-block"))
    second = problem.arrangement.second_block
    assert second is not None
    assert (second.width, second.depth, second.height) == (short.block.width, short.block.depth, short.block.height)
    assert problem.operation.second_share == 0.5
    assert problem.arrangement.engaged == pytest.approx(short.engaged + second.height)


@pytest.mark.parametrize(("word", "metal"), [("brass", "brass"), ("steel", "carbon steel"), ("copper", "copper")])
def test_sleeves_differ_by_metal_alone(word: str, metal: str) -> None:
    problem = problem_of(load_case(f"long-nozzle-{word}-sleeve"))
    assert problem.arrangement == arrangement_of(load_case("long-nozzle-brass-sleeve"))
    assert problem.materials.sleeve is solid(metal)


@pytest.mark.parametrize("name", [name for name in example_names() if name.endswith("-fan") and "wrapped" not in name])
def test_fan_variants_differ_by_the_jet_alone(name: str) -> None:
    with_fan, without = problem_of(load_case(name)), problem_of(load_case(name.removesuffix("-fan")))
    assert with_fan.arrangement == without.arrangement
    assert (with_fan.surroundings.jet_speed, without.surroundings.jet_speed) == (5.0, 0.0)


def test_jet_reaches_the_faces_that_the_solver_defaults_to() -> None:
    reached = problem_of(load_case("short-block-fan")).surroundings.jet_reaches
    for face in reached:
        assert any(face.startswith(word) for word in Surroundings().jet_reaches)
    assert "block side" not in reached
    assert "nozzle tip" in reached


def test_a_path_wins_over_an_example_and_folders_do_not_hide_examples(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    _write(tmp_path, "long-block", 'title = "mine"\n[heater]\nsetpoint = "215 degC"\n')
    (tmp_path / "short-block").mkdir()
    assert load_case("long-block").model.title == "mine"
    assert load_case("short-block").file == "short-block (shipped example)"


def test_extends_over_three_levels_merges_key_by_key(tmp_path: Path) -> None:
    _write(
        tmp_path,
        "base.toml",
        'extends = "long-nozzle-brass-sleeve"\n[heater]\nsetpoint = "220 degC"\nrating = "60 W"\n',
    )
    (tmp_path / "further").mkdir()
    top = _write(tmp_path / "further", "top.toml", 'extends = "../base.toml"\n[heater]\nsetpoint = "230 degC"\n')
    problem = problem_of(load_case(top))
    assert problem.operation.setpoint == 503.15
    assert problem.operation.rating == 60.0
    assert problem.arrangement == arrangement_of(load_case("long-nozzle-brass-sleeve"))


def test_false_drops_an_inherited_sleeve_and_a_later_table_starts_from_the_defaults(tmp_path: Path) -> None:
    bare = _write(tmp_path, "bare.toml", 'extends = "long-nozzle-steel-sleeve"\nsleeve = false\n')
    again = _write(tmp_path, "again.toml", 'extends = "bare.toml"\n[sleeve]\nheight = "6 mm"\n')
    assert problem_of(load_case(bare)).arrangement.sleeve is None
    problem = problem_of(load_case(again))
    assert problem.arrangement.sleeve is not None
    assert problem.arrangement.sleeve.height == 6e-3
    assert problem.materials.sleeve is solid("brass")


def test_overrides_are_dotted_keys_on_top_of_the_file() -> None:
    overrides = {"heater.setpoint": "235 degC", "sleeve": False, "surroundings.films.block top": "15 W/m^2/K"}
    problem = problem_of(load_case("long-nozzle-brass-sleeve", overrides))
    assert problem.operation.setpoint == 508.15
    assert problem.arrangement.sleeve is None
    assert dict(problem.surroundings.films) == {"block top": 15.0}


def test_films_by_first_word_give_way_to_the_longer_name(tmp_path: Path) -> None:
    text = '[heater]\nsetpoint = "210 degC"\n[surroundings.films]\nblock_top = "9 W/m^2/K"\nblock = "12 W/m^2/K"\n'
    films = problem_of(load_case(_write(tmp_path, "films.toml", text))).surroundings.films
    assert dict(films) == {"block side": 12.0, "block bottom": 12.0, "block top": 9.0}


def test_emissivity_of_the_heat_break_by_either_spelling(tmp_path: Path) -> None:
    text = '[heater]\nsetpoint = "210 degC"\n[surroundings.emissivities]\nheat_break = 0.2\n'
    assert dict(problem_of(load_case(_write(tmp_path, "e.toml", text))).surroundings.emissivities) == {
        "heat break": 0.2
    }


def test_polymer_numbers_can_be_replaced_one_by_one(tmp_path: Path) -> None:
    text = '[polymer]\nflow_temperature = "175 degC"\nprofile = "power-law"\n[heater]\nsetpoint = "210 degC"\n'
    problem = problem_of(load_case(_write(tmp_path, "p.toml", text)))
    assert problem.materials.polymer.flow_temperature == 448.15
    assert problem.materials.polymer.softening_temperature == polymer("pla").softening_temperature
    assert problem.operation.profile_exponent == 0.4


def test_own_material_card_is_used_by_name(tmp_path: Path) -> None:
    text = """
[heater]
setpoint = "210 degC"
[nozzle]
material = "Bronze"
[materials.bronze]
like = "brass"
conductivity = "62 W/m/K"
"""
    case = load_case(_write(tmp_path, "own.toml", text))
    assert float(problem_of(case).materials.nozzle.conductivity(400.0)) == 62.0


def test_a_bad_override_names_itself() -> None:
    with pytest.raises(CaseError) as caught:
        load_case("short-block", {"heater.setpoint": "235 s"})
    assert caught.value.file == 'override heater.setpoint = "235 s"'
    assert caught.value.key == "heater.setpoint"


def test_extends_cannot_be_overridden() -> None:
    with pytest.raises(CaseError, match="Name that case instead"):
        load_case("short-block", {"extends": "long-block"})


def test_a_default_that_an_override_makes_impossible_is_laid_to_the_file() -> None:
    with pytest.raises(CaseError) as caught:
        problem_of(load_case("long-nozzle-brass-sleeve", {"heater.ring_width": "9 mm"}))
    assert caught.value.key == "heater.ring_radius"
    assert caught.value.file.endswith("(shipped example)")


def test_extends_a_list_nearest_first(tmp_path: Path) -> None:
    _write(tmp_path, "calibrated.toml", '[contacts]\nbore_melt = "7000 W/m^2/K"\n[nozzle]\nmaterial = "copper"\n')
    mine = _write(
        tmp_path,
        "mine.toml",
        'extends = ["calibrated.toml", "long-nozzle-bare"]\n[heater]\nsetpoint = "220 degC"\n',
    )
    case = load_case(mine)
    problem = problem_of(case)
    assert problem.contacts == Contacts(bore_melt=7000.0)
    assert problem.materials.nozzle is solid("copper")
    assert problem.operation.setpoint == pytest.approx(493.15)
    assert problem.arrangement == arrangement_of(load_case("long-nozzle-bare"))
    labels = [Path(layer.label).name for layer in case.layers]
    assert labels[:2] == ["mine.toml", "calibrated.toml"]
    assert labels[2:] == ["long-nozzle-bare (shipped example)", "short-block (shipped example)"]


def test_what_two_files_of_a_list_share_overrules_neither(tmp_path: Path) -> None:
    _write(tmp_path, "base.toml", '[heater]\nsetpoint = "200 degC"\nrating = "30 W"\n')
    _write(tmp_path, "first.toml", 'extends = "base.toml"\n[heater]\nsetpoint = "210 degC"\n')
    _write(tmp_path, "second.toml", 'extends = "./base.toml"\n[heater]\nrating = "50 W"\n')
    case = load_case(_write(tmp_path, "both.toml", 'extends = ["first.toml", "second.toml"]\n'))
    assert case.model.heater.setpoint == pytest.approx(483.15)
    assert case.model.heater.rating == 50.0, "base.toml stands below both"
    assert len(case.layers) == 4


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("[]", "a file name or a shipped example's name"),
        ('["short-block", 3]', "a file name or a shipped example's name"),
        ('["short-block", ""]', "a file name or a shipped example's name"),
        ('["short-block", "lng-block"]', 'There is no "lng-block"'),
        ('["short-block", "mine.toml"]', "closes a circle"),
        ("[" + ", ".join(['"short-block"'] * 60) + "]", "at most 40 files"),
    ],
)
def test_a_list_that_cannot_be_extended(tmp_path: Path, written: str, words: str) -> None:
    with pytest.raises(CaseError) as caught:
        load_case(_write(tmp_path, "mine.toml", f"\nextends = {written}\n"))
    assert (caught.value.line, caught.value.key) == (2, "extends")
    assert words in " ".join(str(caught.value).split())


@pytest.mark.parametrize(("orifice", "share"), [("0.4 mm", 0.1), ("0.6 mm", 0.1), ("1.2 mm", 0.36)])
def test_a_core_no_wider_than_the_orifice_passes(orifice: str, share: float) -> None:
    # in a plug the core of the orifice's width carries (orifice/bore)^2 of the flow; the bore is 2 mm
    problem = problem_of(load_case("short-block", {"nozzle.orifice": orifice, "nozzle.tip_diameter": "2 mm"}))
    assert problem.operation.inner_share == pytest.approx(share)
    chosen = problem_of(
        load_case("short-block", {"nozzle.orifice": orifice, "nozzle.tip_diameter": "2 mm", "polymer.inner_share": 0.2})
    )
    assert chosen.operation.inner_share == pytest.approx(0.2)
