"""The heater stuck on: energy balance, a lumped closed form, monotone in the rating, cautions that follow from it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from outputs import COARSE
from support import ZERO_CELSIUS, problem_for, system_of

from meltzone.cases.outputs.record import record as record_of
from meltzone.cases.studies.cautions import assembly_caution, margins_of, stuck_on_caution
from meltzone.cases.studies.completing import with_stuck_on
from meltzone.cases.studies.run import ceiling
from meltzone.cases.studies.wording import beyond_words, reason
from meltzone.fem.contact import JointLaw
from meltzone.fem.faults import BeyondLosses
from meltzone.fem.inputs import Contacts, Surroundings
from meltzone.fem.runaway import lumped_temperature, stuck_on
from meltzone.fem.surroundings import STEFAN_BOLTZMANN
from meltzone.materials.limits import DEFERENCE


@pytest.mark.parametrize("kind", ["short", "sleeve"])
@pytest.mark.parametrize("rating", [10.0, 40.0, 80.0])
def test_converges_from_cold_and_closes_its_balance(kind: str, rating: float) -> None:
    found = stuck_on(system_of(problem_for(kind, rating=rating)))
    balance = found.field.balance
    assert found.power == balance.heater == rating
    out = balance.losses + balance.cold_end + balance.inlet
    assert out + balance.melt == pytest.approx(rating, rel=1e-6)
    assert out == pytest.approx(rating, rel=1e-3)  # the trickle that stands for no flow carries next to nothing
    assert found.hottest["block"] == max(found.hottest.values())


def test_it_rises_with_the_rating_and_passes_the_setpoint_where_that_can_be_held() -> None:
    heights = [stuck_on(system_of(problem_for("short", rating=rating))).sensor for rating in (10.0, 20.0, 40.0, 80.0)]
    assert heights == sorted(heights)
    assert heights[0] > 210.0 + ZERO_CELSIUS  # 10 W more than hold this block at rest


def test_the_setpoint_does_not_matter_much_and_the_jet_not_at_all() -> None:
    """Sensor free: the setpoint only enters where the filament's skin softens, which at rest is everywhere hot."""
    still, blown = problem_for("short"), problem_for("short", surroundings=Surroundings(jet_speed=5.0))
    warmer = problem_for("short", setpoint=240.0)
    usual, jet, hotter = (stuck_on(system_of(made)).sensor for made in (still, blown, warmer))
    assert jet == pytest.approx(usual, abs=1e-6)
    assert hotter == pytest.approx(usual, abs=0.5)


@pytest.mark.parametrize("film", [10.0, 40.0])
def test_a_block_cut_off_from_the_sink_is_a_lump(film: float) -> None:
    """h A (T - T_air) + eps sigma A (T^4 - T_air^4) = P with one film and one emissivity; metals within 3 K of one another.

    The closed form has one temperature; the block's own drop through its joints to nozzle and heat break is what the
    tolerance of 1 % of the rise leaves room for.
    """
    parts = ("block", "nozzle", "heat break", "sleeve", "wrap")
    faces = [face.name for face in system_of(problem_for("short")).space.section.exposed]
    outside = Surroundings(films=dict.fromkeys(faces, film), emissivities=dict.fromkeys(parts, 0.5))
    metal = Contacts(cold_joint=1e-6, thread=1e6, shoulder=1e6)
    made = problem_for("short", surroundings=outside, contacts=metal, rating=20.0)
    # a neck as good as cut through, so that the sink's end of the heat break counts for little
    found = stuck_on(system_of(made))
    own = [face for face in system_of(made).faces if face.name not in ("cold end", "neck", "flange")]
    area = sum(float(face.area.sum()) for face in own)
    rest = sum(found.field.balance.faces.get(name, 0.0) for name in ("neck", "flange"))
    power = 20.0 - rest - found.field.balance.cold_end - found.field.balance.inlet

    def loss(hot: float) -> float:
        air = outside.air_temperature
        return area * (film * (hot - air) + 0.5 * STEFAN_BOLTZMANN * (hot**4 - air**4)) - power

    low, high = 300.0, 1500.0
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if loss(middle) < 0.0 else (low, middle)
    assert found.sensor - outside.air_temperature == pytest.approx(low - outside.air_temperature, rel=0.01)


def test_the_lumped_start_is_near() -> None:
    made = problem_for("short", rating=40.0)
    assert lumped_temperature(system_of(made), 40.0) == pytest.approx(stuck_on(system_of(made)).sensor, rel=0.12)


def test_what_lies_beyond_the_tables_is_said() -> None:
    said = " ".join(beyond_words(stuck_on(system_of(problem_for("short", rating=40.0)))))
    assert "polymer: conductivity stated up to 320 degC" in said
    assert not beyond_words(stuck_on(system_of(problem_for("short", rating=5.0))))
    with pytest.raises(BeyondLosses) as caught:
        stuck_on(system_of(problem_for("short", rating=900.0)))
    assert "beyond 1227 degC" in reason(caught.value)


def test_power_and_flow_stay_as_given() -> None:
    made = problem_for("short", rating=33.0)
    field = stuck_on(system_of(made)).field
    assert field.power == 33.0 and field.flow == pytest.approx(1e-11)
    assert all(np.isfinite(field.temperature))
    assert any(isinstance(contact.law, JointLaw) for contact in field.system.contacts)


def test_caution_names_what_does_not_stand_it() -> None:
    made = problem_for("short", rating=40.0)
    found = stuck_on_caution(made, stuck_on(system_of(made)))
    assert "polymer (PLA)" in found.text and "block (aluminium)" in found.text and "nozzle" not in found.text
    assert found.severity == "warning" and found.text.endswith(DEFERENCE)
    weak = replace(made, operation=replace(made.operation, rating=3.0))
    assert "stand that" in stuck_on_caution(weak, stuck_on(system_of(weak))).text


def test_margins_compare_with_the_cards() -> None:
    made = problem_for("short")
    hot = dict.fromkeys(("polymer", "block", "nozzle", "heat break"), 260.0 + ZERO_CELSIUS)
    margins = {margin.part: margin for margin in margins_of(made, hot)}
    assert margins["polymer"].severity == "warning"  # PLA's card: degrades from 250 degC on
    assert margins["block"].limit == pytest.approx(300.0 + ZERO_CELSIUS) and margins["block"].severity is None
    assert margins["nozzle"].limit is None


def test_hot_tightening_names_the_sleeve_only_where_there_is_one() -> None:
    assert "sleeve" in assembly_caution(problem_for("sleeve")).text
    assert "sleeve" not in assembly_caution(problem_for("short")).text


def test_run_and_record_show_it() -> None:
    result = with_stuck_on(ceiling("short-block-boot", COARSE))
    assert result.stuck_on is not None
    safety = record_of(result)["safety"]
    assert safety["stuck_on_sensor_degC"] == pytest.approx(result.stuck_on.sensor - 273.15, abs=1e-4)
    assert safety["stuck_on_parts"]["wrap"]["severity"] == "refuse"  # silicone rubber: not above 300 degC
    assert any(caution["material"] == "heater" for caution in record_of(result)["cautions"])


def test_beyond_the_tables_is_no_number() -> None:
    result = with_stuck_on(ceiling("short-block", {"heater.rating": "900 W"} | COARSE))
    assert result.stuck_on is None and record_of(result)["safety"]["stuck_on_sensor_degC"] is None
