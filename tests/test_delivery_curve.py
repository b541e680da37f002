"""The predicted curve: the slip law against its own equation and its limits, what is said without a grip, files, command."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.outputs import curve as shown
from meltzone.cases.outputs.files import carried_out
from meltzone.cases.studies.delivery import delivery
from meltzone.fem.slow_flow.slip import SlipLaw

COARSE = {"mesh.level": 0.25}


@given(exponent=st.floats(0.2, 1.5), rise=st.floats(0.0, 0.5), asked=st.floats(0.1, 10.0))
def test_slip_settles_where_force_and_pull_meet(exponent: float, rise: float, asked: float) -> None:
    law = SlipLaw(1e-8, exponent, rise)
    came = float(law.delivered(np.array([asked * law.flow]))[0]) / law.flow
    if asked <= 1.0:
        assert came == pytest.approx(asked)
    else:
        assert came**exponent == pytest.approx(1.0 + rise * (1.0 - came / asked), rel=1e-9)
        assert 1.0 - 1e-12 <= came <= asked


def test_slip_grows_with_the_force_up_to_its_share_at_the_grip() -> None:
    # below the corner s = (1/k) (F/F_0)^(k/p), k = ln 2 / -ln(1 - soft), to first order in s; at the corner the share stated
    law, corner = SlipLaw(1e-8, 2.5, 0.1, 0.03), SlipLaw(1e-8, 2.5, 0.1)
    sharp = -np.log(2.0) / np.log1p(-0.03)
    asked = np.array([0.7, 0.8, 0.9]) * law.flow
    slip = 1.0 - law.delivered(asked) / asked
    np.testing.assert_allclose(slip, ((asked / law.flow) ** 2.5) ** (sharp / 2.5) / sharp, rtol=0.06)
    assert law.delivered(np.array([law.flow]))[0] == pytest.approx(0.97 * law.flow, rel=1e-12)
    far = np.array([1.5, 3.0]) * law.flow
    np.testing.assert_allclose(law.delivered(far), corner.delivered(far), rtol=1e-4)
    steps = law.delivered(np.linspace(0.5, 2.0, 200) * law.flow)
    assert np.all(np.diff(steps) > 0.0)


def test_without_rise_the_plateau_is_flat() -> None:
    law = SlipLaw(1e-8, 0.7, 0.0)
    np.testing.assert_allclose(law.delivered(np.array([0.5e-8, 1.2e-8, 3e-8])), [0.5e-8, 1e-8, 1e-8])


def test_curve_of_a_feeder_that_slips(tmp_path: Path) -> None:
    found = delivery("short-block", overrides={**COARSE, "feeder.grip": "14 N"})
    assert found.result.governs == "force" and found.slip is not None
    assert found.onset is not None and found.plateau is not None
    assert 0.3 < found.slip.exponent < 1.2
    commanded, delivered = found.table
    below = commanded <= 0.7 * found.onset
    np.testing.assert_allclose(delivered[below], commanded[below], rtol=1e-3)
    assert found.delivered(np.array([found.onset]))[0] == pytest.approx(0.97 * found.onset, rel=1e-6)
    assert np.all(np.diff(delivered) >= 0.0)
    assert np.all(delivered <= found.plateau)
    assert found.onset < delivered[-1] < 1.2 * found.onset
    carried_out(lambda: found, shown, tmp_path)
    record = json.loads((tmp_path / "curve.json").read_text())
    assert record["governs"] == "force"
    assert record["slip"]["flow_mm3_per_s"] == pytest.approx(found.onset, rel=1e-6)
    assert {path.name for path in tmp_path.iterdir()} == set(shown.OURS)
    asked, came, _ = np.loadtxt(tmp_path / "curve.csv", delimiter=",", skiprows=1, unpack=True)
    np.testing.assert_allclose((asked, came), (commanded, delivered), atol=1e-4)


def test_curve_without_a_grip_is_the_thermal_limit_and_says_so() -> None:
    found = delivery("short-block", overrides=COARSE)
    assert found.slip is None and "the case gives no grip" in found.law
    assert found.plateau == found.onset == found.result.melt_ceiling
    np.testing.assert_allclose(found.delivered(np.array([5.0, 100.0])), [5.0, found.plateau])


def test_curve_of_a_case_that_never_melts() -> None:
    found = delivery("short-block", overrides={**COARSE, "heater.setpoint": "150 degC"})
    assert found.onset is None and "does not exceed" in found.law
    assert np.all(found.table[1] == 0.0)


def test_command_lays_samples_beside_it(tmp_path: Path) -> None:
    runner = CliRunner()
    words = [
        "curve",
        "short-block",
        "--set",
        "mesh.level=0.25",
        "--measured",
        "demo-short-block",
        "--out",
        str(tmp_path),
    ]
    shown = runner.invoke(app, words)
    assert shown.exit_code == 0, shown.output
    assert "Under-delivery begins at" in shown.output and "short block" in shown.output
    assert len(json.loads((tmp_path / "curve.json").read_text())["measured"]) == 1
    assert runner.invoke(app, ["curve", "short-block", "--measured", "nowhere.csv"]).exit_code == 2
