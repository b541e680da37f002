"""Cases and results in Python: changed without files, as arrays, in notebooks, cited; the names that stay."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from outputs import COARSE, at_flow, solved
from typer.testing import CliRunner

import meltzone as mz
from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.outputs.citing import bibliography

ROOT = Path(__file__).resolve().parent.parent
NOTEBOOKS = sorted((ROOT / "docs" / "notebooks").glob("*.ipynb"))


def test_a_case_is_changed_without_a_file_and_stays_as_it_is() -> None:
    case = mz.load_case("short-block", COARSE)
    hot = case.changed({"heater.setpoint": "235 degC"}, name="hot")
    assert (case.model.heater.setpoint, hot.model.heater.setpoint) == pytest.approx((483.15, 508.15))
    assert hot.name == "hot" and hot.model.mesh.level == 0.25
    assert mz.check(case, overrides={"heater.setpoint": "235 degC"}).case.model.heater.setpoint == pytest.approx(508.15)
    assert mz.new_case({"nozzle": {"orifice": "0.6 mm"}}, like="short-block").model.nozzle.orifice == pytest.approx(
        0.6e-3
    )


def test_a_wrong_value_says_where() -> None:
    with pytest.raises(CaseError) as caught:
        mz.new_case({"nozzle": {"orifice": "0.6"}}, name="wide", like="short-block")
    assert "wide" in str(caught.value) and "nozzle.orifice" in str(caught.value)
    with pytest.raises(CaseError) as caught:
        mz.load_case("short-block").changed({"heater.setpiont": "235 degC"})
    assert "setpoint" in str(caught.value)


def test_columns_hold_the_numbers_of_the_record() -> None:
    pandas = pytest.importorskip("pandas")
    result, other = solved(), at_flow()
    columns = mz.table([result, other])
    assert columns["ceilings.flow_mm3_per_s"][0] == pytest.approx(result.flow_ceiling, rel=1e-7)
    assert np.isnan(columns["ceilings.flow_mm3_per_s"][1]), "no ceiling was sought"
    frame = mz.frame([result, other])
    assert isinstance(frame, pandas.DataFrame) and list(frame.columns) == list(columns)


def test_a_field_is_a_dataset() -> None:
    pytest.importorskip("xarray")
    field = at_flow().field
    assert field is not None
    found = mz.dataset(at_flow())
    assert np.array_equal(found["temperature"].values, field.temperature)
    assert found["heat_flux"].attrs["units"] == "W/m2" and found.attrs["flow_m3_per_s"] == pytest.approx(12e-9)
    assert found["nodes_of_cell"].values.max() == found.sizes["node"] - 1


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebooks_run_from_top_to_bottom(path: Path, tmp_path: Path) -> None:
    nbformat, nbclient = pytest.importorskip("nbformat"), pytest.importorskip("nbclient")
    pytest.importorskip("ipykernel")
    book = nbformat.read(path, as_version=4)
    nbformat.validate(book)
    assert not any(cell.get("outputs") for cell in book.cells), "kept without outputs"
    nbclient.NotebookClient(book, timeout=300, resources={"metadata": {"path": str(tmp_path)}}).execute()
    shown = [data for cell in book.cells for out in cell.get("outputs", []) if (data := out.get("data"))]
    assert any("text/html" in data for data in shown)


def test_there_are_two_notebooks() -> None:
    assert {path.stem for path in NOTEBOOKS} == {"parameter-study", "calibration"}


def test_the_page_lists_every_name_and_no_other() -> None:
    page = (ROOT / "docs" / "python.md").read_text(encoding="utf-8").partition("## Names that stay")[2]
    listed = {name for row in re.findall(r"^\| (`.*?) \|", page, re.MULTILINE) for name in re.findall(r"`(\w+)`", row)}
    assert listed == set(mz.__all__)


def _entries(text: str) -> dict[str, str]:
    """Entries of a BibTeX text by key, braces balanced."""
    found = {}
    for entry in re.split(r"^(?=@)", text, flags=re.MULTILINE):
        if entry.startswith("@"):
            body = "\n".join(line for line in entry.splitlines() if not line.startswith("%"))
            bare = re.sub(r"\\[{}]", "", body)
            assert bare.count("{") == bare.count("}"), body
            found[body.partition("{")[2].partition(",")[0]] = body
    return found


def test_a_bibliography_holds_what_the_run_used() -> None:
    plain = _entries(bibliography(at_flow()))
    assert {"meltzone", "gustafsson2020", "churchill1975", "cross1965"} <= set(plain)
    assert "churchill1977" not in plain and "carreau1972" not in plain
    assert "msp-2023-0015" in bibliography(at_flow()), "a source of the card, with its DOI"
    assert "% without a publication" in bibliography(at_flow())
    fan = mz.check("short-block", overrides={"surroundings.fan": True})
    assert "churchill1977" in _entries(bibliography(fan.problem))


def test_the_command_writes_it(tmp_path: Path) -> None:
    file = tmp_path / "sources.bib"
    call = ["solve", "short-block", "--flow", "12 mm^3/s", "--set", "mesh.level=0.25", "--cite", str(file)]
    assert CliRunner().invoke(app, call).exit_code == 0
    assert CliRunner().invoke(app, call).exit_code == 0, "its own file is written anew"
    assert "meltzone" in _entries(file.read_text(encoding="utf-8"))
    foreign = tmp_path / "mine.bib"
    foreign.write_text("@book{mine,\n}\n", encoding="utf-8")
    assert CliRunner().invoke(app, [*call[:-1], str(foreign)]).exit_code == 2


def test_a_renamed_name_warns_and_goes_on_working(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(mz.RENAMED, "old_polymer", "polymer")
    with pytest.warns(DeprecationWarning, match=r"meltzone\.old_polymer is now meltzone\.polymer"):
        assert mz.old_polymer("pla").key == "pla"
    assert "old_polymer" not in dir(mz), "nobody is led to it"


def test_every_renamed_name_leads_to_one_that_stays() -> None:
    assert set(mz.RENAMED.values()) <= set(mz.__all__)
    assert not set(mz.RENAMED) & set(mz.__all__)
