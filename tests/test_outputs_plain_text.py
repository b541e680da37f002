"""Text from outside reaches no output as a control character, and no table as a formula; encodings lose no output."""

from __future__ import annotations

import csv
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from meltzone.cases.commands.cli import app
from meltzone.cases.inputs.spreadsheet import records
from meltzone.cases.outputs.delimited import delimited
from meltzone.cases.outputs.plain_text import ENCODING_FAULTS, cell_text, printable
from meltzone.cases.studies.bench.samples_csv import load_samples

HARMFUL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
ESCAPES = "\x1b]0;PWNED\x07\x1b[2J\x1b[31mEVIL \x9b31m"
OWN_CARD = r'''
title = "T"
extends = "short-block"
[mesh]
level = 0.25
[materials.own]
like = "brass"
label = "\u001b]0;PWNED\u0007\u001b[2J\u001b[31mEVIL"
cautions = ["\u001b[5mblink\u001b[0m \u009b31m"]
limit_reason = "\u001b[1A"
warning_temperature = "50 degC"
[nozzle]
material = "own"
'''  # fmt: skip
WEIGHED = {4: 0.8950, 6: 0.8950, 8: 0.8950, 9: 0.8950, 10: 0.8950, 11: 0.8950, 12: 0.8950, 13: 0.8950,
           14: 0.8311, 15: 0.7757, 17: 0.6844}  # fmt: skip
runner = CliRunner()


def _samples(name: str) -> str:
    rows = (f"{name},short-block,{flow},300,{mass:.4f},1.24\n" for flow, mass in WEIGHED.items())
    return "series,case,commanded [mm^3/s],length [mm],mass [g],density [g/cm^3]\n" + "".join(rows)


def _written(folder: Path) -> Iterator[tuple[Path, str]]:
    for path in sorted(folder.rglob("*")):
        if path.suffix in (".json", ".csv", ".html", ".svg", ".toml"):
            yield path, path.read_text(encoding="utf-8")


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@given(st.text())
def test_what_is_printable_steers_nothing(text: str) -> None:
    shown = printable(text)
    assert len(shown) == len(text) and not HARMFUL.search(shown)
    shown.encode("utf-8")


def test_what_is_harmless_stays() -> None:
    text = "13 mm³/s\u00a0± 0.5, 210 °C\n[red]é[/b]\t日本"
    assert printable(text) == text


@given(st.text())
def test_no_cell_is_a_formula_and_reading_gives_it_back(text: str) -> None:
    [[written]] = list(csv.reader([delimited(["a"], [[text]]).partition("\n")[2]], strict=True))[:1] or [[""]]
    numeric = re.fullmatch(r"[-+]\d.*|[-+](inf|nan).*", text.strip(), re.IGNORECASE | re.DOTALL)
    assert not written.startswith(("=", "@", "\t", "\r"))
    assert numeric or not written.startswith(("+", "-"))


@pytest.mark.parametrize("name", ["=1+1", "@SUM(1)", "-x", "+cmd|' /C calc'!A0", "plain", "'quoted'"])
def test_a_mark_goes_when_the_table_is_read_again(name: str) -> None:
    [_, (_, cells)] = records("table", delimited(["name", "other"], [[name, "x"]]))
    assert cells == [name, "x"]


def test_numbers_booleans_lists_and_nothing_in_a_table() -> None:
    text = delimited(["a", "b", "c", "d", "e"], [[1.0 / 3.0, True, None, ["x", "y"], "-3.5"]], ['say "it"\x1b'])
    assert text == "\"# say 'it'?\"\na,b,c,d,e\n0.33333333,true,,x; y,-3.5\n"


@pytest.mark.parametrize(
    ("encoding", "expected"),
    [("ascii", "mm3/s # +/- e >= ?"), ("cp1252", "mm³/s # ± é >= ?"), ("utf-8", "mm³/s █ ± é ≥ 日")],
)
def test_an_encoding_that_lacks_a_letter_gets_a_plainer_one(encoding: str, expected: str) -> None:
    assert "mm³/s █ ± é ≥ 日".encode(encoding, ENCODING_FAULTS) == expected.encode(encoding)


def test_cells_of_text_are_marked_and_numbers_are_not() -> None:
    assert [cell_text(text) for text in ("=1", "-1", "+2.5e3", "-", "")] == ["'=1", "-1", "+2.5e3", "'-", ""]


def test_labels_and_cautions_of_a_card_reach_no_output_raw() -> None:
    Path("evil.toml").write_text(OWN_CARD, encoding="utf-8")
    for words in (
        ["check", "evil.toml", "--out", "section.svg"],
        ["run", "evil.toml", "--out", "run"],
        ["explain", "evil.toml", "--out", "explain"],
        ["compare", "evil.toml", "short-block", "--out", "compare", "--set", "mesh.level=0.25"],
        ["report", "evil.toml", "--out", "page.html"],
        ["ceiling", "evil.toml", "--json"],
    ):
        done = runner.invoke(app, words)
        assert done.exit_code == 0, done.output
        assert not HARMFUL.search(done.output), words
    assert "EVIL" in done.output or "EVIL" in Path("page.html").read_text(encoding="utf-8")
    for path, text in _written(Path()):
        if path.name != "evil.toml":
            assert not HARMFUL.search(text), path
            if path.suffix == ".svg":
                ET.fromstring(text)


@pytest.mark.parametrize("name", [ESCAPES, "=cmd|' /C calc'!A0"])
def test_names_of_series_reach_no_output_raw_and_no_table_as_a_formula(name: str) -> None:
    Path("samples.csv").write_text(_samples(name), encoding="utf-8")
    for words in (
        ["reduce", "samples.csv", "--out", "reduced", "--resamples", "99"],
        ["curve", "short-block", "--measured", "samples.csv", "--out", "curve", "--set", "mesh.level=0.25"],
        ["validate", "reduced/ceilings.csv", "--out", "validated", "--set", "mesh.level=0.25"],
    ):
        done = runner.invoke(app, words)
        assert done.exit_code == 0, done.output
        assert not HARMFUL.search(done.output), words
    for path, text in _written(Path()):
        if path.name != "samples.csv":
            assert not HARMFUL.search(text), path
        if path.suffix == ".csv" and path.name != "samples.csv":
            assert not [cell for row in csv.reader(text.splitlines()) for cell in row if cell.startswith("=")]
    assert len(load_samples("samples.csv").series) == 1
