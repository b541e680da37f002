"""Measured forces: what is read, the one factor between measured and predicted, what is said; the one error for the rest."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.outputs.validate import record
from meltzone.cases.studies.run import solve
from meltzone.cases.studies.validation.measurements import load_measured
from meltzone.cases.studies.validation.validate import validate

COARSE = {"mesh.level": 0.25}
HEAD = 'uncertainty = "5 %"\n'


def _row(name: str, force: str, more: str = "", flow: float = 10.0, case: str = "short-block") -> str:
    return f'[[row]]\nname = "{name}"\ncase = "{case}"\nflow = "{flow} mm^3/s"\nforce = {force}\n{more}'


def _file(folder: Path, text: str) -> Path:
    path = folder / "forces.toml"
    path.write_text(HEAD + text, encoding="utf-8")
    return path


def test_newtons_are_those_of_a_solve_at_that_flow(tmp_path: Path) -> None:
    found = validate(_file(tmp_path, _row("a", '"50 N"') + _row("b", '"3 kgf"', flow=7.0)), overrides=COARSE)
    first, second = found.forces
    alone = solve("short-block", "10 mm^3/s", {**COARSE, "feeder.grip": "60 N"})
    assert first.force == first.predicted == pytest.approx(alone.feeding_force, rel=1e-6)
    assert second.row.force == pytest.approx(29.41995)
    assert found.rows == () and found.calibration is None
    assert record(found)["forces"][0]["error_percent"] == pytest.approx(100.0 * (first.force / 50.0 - 1.0))


def test_rows_that_calibrate_set_one_factor(tmp_path: Path) -> None:
    marked = "calibrates = true\n"
    text = _row("a", "0.5", marked) + _row("b", "0.3", marked, flow=8.0) + _row("c", "0.2", flow=6.0)
    a, b, c = validate(_file(tmp_path, text), overrides=COARSE).forces
    assert (a.predicted / 0.5) * (b.predicted / 0.3) == pytest.approx(1.0), "their geometric mean is met"
    assert c.predicted == pytest.approx(c.force / a.whole)
    assert a.whole == b.whole == c.whole != 1.0


def test_command_says_what_a_share_stands_for(tmp_path: Path) -> None:
    path = _file(tmp_path, _row("a", "0.5", "calibrates = true\n") + _row("b", "0.3", flow=8.0))
    done = CliRunner().invoke(app, ["validate", str(path), "--set", "mesh.level=0.25", "--out", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output
    said = " ".join(done.stdout.split())
    assert "A measured 1 stands for" in said and "Over 1 force predicted: missed by a factor of" in said
    assert "qualified people" in said
    assert (tmp_path / "out" / "report.html").exists()


BAD = {
    "no force": (_row("a", '"wide"'), "force", "as in"),
    "a share above one": (_row("a", "1.5"), "force", "share"),
    "shares and newtons": (_row("a", "0.5", "calibrates = true\n") + _row("b", '"5 N"'), "force", "like those"),
    "shares of nothing": (_row("a", "0.5") + _row("b", "0.4"), "calibrates", "what the shares are of"),
    "force and ceiling": (_row("a", "0.5", 'ceiling = "3 mm^3/s"\n'), "flow", "a key of a row"),
    "uncertainty": (_row("a", '"5 N"', 'uncertainty = "4 mm"\n'), "uncertainty", "standard uncertainty"),
    "no flow": ('[[row]]\ncase = "short-block"\nforce = 0.5\n', "flow", "flow"),
}


@pytest.mark.parametrize("what", BAD)
def test_bad_rows_are_told_in_one_message(tmp_path: Path, what: str) -> None:
    text, key, words = BAD[what]
    with pytest.raises(CaseError) as caught:
        load_measured(_file(tmp_path, text))
    assert caught.value.key == key, str(caught.value)
    assert words in " ".join(str(caught.value).split())


def test_a_polymer_without_data_has_no_force(tmp_path: Path) -> None:
    text = _row("a", '"50 N"', 'set = { "polymer.material" = "TPU" }\n')
    with pytest.raises(CaseError, match="holds no plateau modulus"):
        validate(_file(tmp_path, text), overrides=COARSE)
