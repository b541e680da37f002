"""The numbers of a case, declared once: each goes where the solver looks for it, and takes along what is one with it."""

from __future__ import annotations

import math

import pytest

from meltzone.cases.inputs.build import problem_of
from meltzone.cases.inputs.fields import in_case_file
from meltzone.cases.inputs.levers import levers_of
from meltzone.cases.inputs.parameters import LONGER, UnknownParameter, key_at, parameter, parameters, written
from meltzone.cases.inputs.reader import Case, load_case
from meltzone.cases.inputs.uncertain import problem_at
from meltzone.fem.discretise import discretise

# An example that has the part, and what else makes the number count; for all others the short block as it is.
BASES = {
    "sleeve": "long-nozzle-brass-sleeve",
    "wrap": "short-block-boot",
    "liner": "short-block-lined",
    "second_block": "short-block-two",
    "second_heater": "long-block-two-cartridges",
    "nozzle_cover": "short-block-nozzle-cover",
    "heat_sink": "short-block-finned",
    "tip": "short-block-hard-tip",
    "break_body": "short-block-bimetal",
    "channels": "short-block-divided",
}
LOWER = {"nozzle.lower_bore": "1.8 mm", "nozzle.lower_bore_length": "2 mm", "nozzle.taper_length": "0.5 mm"}
GIVEN: dict[str, dict[str, object]] = {
    "liner.end": {"liner.end": "2 mm"},
    **{key: dict(LOWER) for key in LOWER},
    "channels.ring_diameter": {"channels.ring_diameter": "1.2 mm"},
    "feeder.grip": {"feeder.grip": "60 N"},
    "surroundings.thread_area": {"surroundings.thread_area": "envelope"},
    "heater.ring_length": {"heater.ring_length": "6 mm"},
    "heater.ring_begin": {"heater.ring_length": "6 mm", "heater.ring_begin": "2 mm"},
    "second_heater.ring_length": {"second_heater.ring_length": "4 mm"},
    "wrap.gap": {"wrap.gap": "0.5 mm"},
    "heater.sensor_contact": {"heater.sensor_contact": "5 K/W"},
    "heater.sensor_leads": {"heater.sensor_contact": "5 K/W"},
    "tip.diameter": {"tip.diameter": "0.8 mm", "tip.height": "0.4 mm"},
    "heat_sink.resistance": {"heat_sink.resistance": "1.5 K/W"},
    "heat_sink.coolant_temperature": {"heat_sink.coolant_temperature": "30 degC"},
    "surroundings.jet_speed": {"surroundings.fan": True},
}
NUMBERS = [key for key, each in parameters().items() if not each.is_mapping]


def case_with(key: str, **more: object) -> Case:
    """A case that has the number of `key`; `more` are values by key."""
    return load_case(BASES.get(key.partition(".")[0], "short-block"), GIVEN.get(key, {}) | more)


@pytest.mark.parametrize("key", NUMBERS)
def test_a_number_of_a_case_file_arrives_where_it_is_declared_to_stand(key: str) -> None:
    """What a case file says, read and built, against what the declaration finds in the solver's inputs and puts there."""
    problem, moved = problem_of(case_with(key)), parameter(key)
    value = moved.in_problem(problem)
    assert value is not None and moved.place
    other = value * (1.0 + 1e-4) if value < moved.kind.most else value * (1.0 - 1e-4)
    again = problem_of(case_with(key, **{key: moved.exact(other)}))
    assert moved.in_problem(again) == pytest.approx(other, rel=1e-10)
    if moved.step:
        assert moved.in_problem(moved.moved(problem, other)) == other


def test_dimensions_that_parts_call_otherwise_have_their_key() -> None:
    assert key_at("arrangement.block.heater_radius") == "heater.ring_radius"
    assert key_at("arrangement.block.sensor_height") == "heater.sensor_height"
    assert key_at("arrangement.nozzle.bore") == "nozzle.bore"


def test_an_unknown_number_names_the_nearest() -> None:
    with pytest.raises(UnknownParameter) as caught:
        parameter("contacts.bore_mlet")
    assert caught.value.nearest[0] == "contacts.bore_melt"
    for key in ("nozzle.material", "surroundings.films", "nozzle", "", "heater.setpoint.more"):
        with pytest.raises(UnknownParameter):
            parameter(key)


def test_entries_of_mappings_are_numbers_too() -> None:
    film = parameter("surroundings.films.block top")
    case = load_case("short-block", {film.key: "15 W/m^2/K"})
    assert film.in_problem(problem_of(case)) == 15.0 and film.in_model(case.model) == 15.0
    emissivity = parameter("surroundings.emissivities.heat break")
    problem = problem_of(case)
    assert emissivity.in_problem(problem) == problem.materials.heat_break.emissivity


@pytest.mark.parametrize("key", [key for key in NUMBERS if parameter(key).step])
def test_steps_are_such_as_a_person_would_take(key: str) -> None:
    """Positive, and not of another size than the number itself where that is none of a temperature scale."""
    moved = parameter(key)
    value = moved.in_problem(problem_of(case_with(key)))
    assert 0.0 < moved.step_at(value) <= max(3.0 * abs(value), 20.0 if moved.is_temperature else 0.0)


@pytest.mark.parametrize("key", NUMBERS)
def test_texts_of_a_number_read_back(key: str) -> None:
    moved = parameter(key)
    value = moved.in_problem(problem_of(case_with(key)))
    case = case_with(key, **{key: moved.exact(value)})
    assert moved.in_model(case.model) == pytest.approx(value, rel=1e-11)
    assert in_case_file(value, moved.kind).strip('"') and moved.words(value)
    assert moved.value(moved.coordinate(value)) == pytest.approx(value, rel=1e-12)


BORE = 2.05e-3


def test_equal_bores_move_together_wherever_a_bore_is_moved() -> None:
    """As a lever, as a tolerance, and as a design or a calibration writes it: one declaration."""
    case = load_case("short-block-lined", {"heat_break.bore": "2 mm"})
    assert case.model.liner is not None and case.model.liner.inner_diameter == case.model.nozzle.bore == 2e-3
    by_text = load_case("short-block-lined", written(case.model, [(parameter("nozzle.bore"), BORE)]))
    (lever,) = (each for each in levers_of(discretise(problem_of(case))) if each.key == "nozzle.bore")
    for problem in (lever.at(BORE), problem_at(case, {"nozzle.bore": BORE}), problem_of(by_text)):
        parts = problem.arrangement
        assert parts.liner is not None
        bores = (parts.nozzle.bore, parts.heat_break.bore, parts.liner.inner_diameter)
        assert bores == pytest.approx((BORE, BORE, BORE), rel=1e-12)


def test_a_bore_of_its_own_stays_where_it_is() -> None:
    case = load_case("short-block", {"heat_break.bore": "2.2 mm"})
    moved = problem_of(
        load_case(
            "short-block", {"heat_break.bore": "2.2 mm"} | written(case.model, [(parameter("nozzle.bore"), BORE)])
        )
    )
    assert (moved.arrangement.nozzle.bore, moved.arrangement.heat_break.bore) == pytest.approx((BORE, 2.2e-3))
    keys = {lever.key for lever in levers_of(discretise(problem_of(case)))}
    assert {"nozzle.bore", "heat_break.bore"} <= keys


def test_a_longer_nozzle_is_longer_by_what_stands_out() -> None:
    case = load_case("short-block")
    problem = problem_of(case)
    longer = LONGER.moved(problem, problem.arrangement.nozzle.exposed + 3e-3).arrangement.nozzle
    assert longer.length - problem.arrangement.nozzle.length == pytest.approx(3e-3, rel=1e-12)
    assert written(case.model, [(LONGER, case.model.nozzle.exposed + 3e-3)]) == {
        "nozzle.exposed": "8 mm",
        "nozzle.length": "15.5 mm",
    }


def test_angles_and_temperatures_are_written_as_people_write_them() -> None:
    assert parameter("nozzle.cone_angle").exact(math.radians(60.0)) == "60 deg"
    assert parameter("heater.setpoint").exact(483.15) == "210 degC"
