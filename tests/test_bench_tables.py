"""Tables as people keep them: workbooks and wordings are read like the plain table, or asked about; nothing written is lost."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outputs import printed

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.headings import WORDINGS, meaning
from meltzone.cases.inputs.seal import edited, sealed
from meltzone.cases.inputs.tolerance import Toleranced
from meltzone.cases.inputs.workbook import workbook_rows, write_workbook
from meltzone.cases.studies.bench.samples import Given, Sample
from meltzone.cases.studies.bench.samples_csv import load_samples
from meltzone.cases.studies.validation.measurements import load_measured

DENSITY = Given(density=Toleranced(1240.0))
FLOWS = (4.0, 6.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 15.0, 17.0)  # mm3/s
LEVEL = 12.5  # of the invented ceiling [mm3/s]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder in which the commands run."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def _samples(path: Path, text: str, given: Given = DENSITY) -> tuple[Sample, ...]:
    path.write_text(text, encoding="utf-8")
    return load_samples(path, given).series[0].samples


PLAIN = "commanded [mm^3/s];length [mm];mass [g]\n10;400;1,19\n12;400;1,18\n"
ALIKE = {  # the same two samples; 1.75 mm filament, 1.24 g/cm3
    "brackets": "Flow (mm³/s);Length (mm);Weight (g)\n10;400;1,19\n12;400;1,18\n",
    "loose units": "Flow rate mm3/s;Extruded length, mm;Weight in grams\n10;400;1,19\n12;400;1,18\n",
    "per minute": "Target flow [mm^3/min];length [cm];Net weight [mg]\n600;40;1190\n720;40;1180\n",
    "feeder per second": f"Feed rate (mm/s)\tFilament (mm)\tgrams [g]\n{10 / 2.405281875:.9f}\t400\t1.19\n"
    f"{12 / 2.405281875:.9f}\t400\t1.18\n",
    "titles above": "Bench of a Saturday;;\nkitchen balance;;\nNr;Flow [mm3/s];Length [mm];Weight [g];Comment\n"
    "1;10;400;1,19;\n2;12;400;1,18;slow\n",
    "tray": "Flow [mm3/s];Length [mm];Weight with tray [g];Empty tray [g]\n10;400;13,69;12,5\n12;400;13,68;12,5\n",
    "clock": "Flow [mm3/s];Duration;Weight [g]\n10;0:01:36.211275;1.19\n12;1:20.1760625;1.18\n",
    "mass flow": f"Flow [mm3/s];Time [s];Mass flow [g/min]\n10;96.211275;{1.19 * 60 / 96.211275:.10f}\n"
    f"12;80.1760625;{1.18 * 60 / 80.1760625:.10f}\n",
    "no flow": "Length [mm],Time [s],Blob weight [g]\n400,96.211275,1.19\n400,80.1760625,1.18\n",
    "german": "Volumenstrom [mm³/s];Länge [mm];Gewicht [g];Bemerkung\n10;400;1,19;\n12;400;1,18;\n",
}


@pytest.mark.parametrize("how", ALIKE)
def test_usual_wordings_are_read_like_the_plain_table(tmp_path: Path, how: str) -> None:
    wanted, found = (_samples(tmp_path / "bench.csv", text) for text in (PLAIN, ALIKE[how]))
    assert len(found) == 2
    for one, other in zip(wanted, found, strict=True):
        for name in ("commanded", "time", "mass"):
            assert getattr(other, name) == pytest.approx(getattr(one, name), rel=1e-8), name


def test_several_samples_of_a_flow_may_stand_in_one_row(tmp_path: Path) -> None:
    text = "Flow [mm3/s];Length [mm];Weight 1 [g];Weight 2 [g];Weight 3 [g]\n10;400;1,19;1,20;\n12;400;1,18;1,17;1,16\n"
    found = _samples(tmp_path / "bench.csv", text)
    assert [round(1e3 * each.mass, 6) for each in found] == [1.19, 1.20, 1.18, 1.17, 1.16]
    assert [each.line for each in found] == [2, 2, 3, 3, 3]


def test_which_is_which_is_asked_and_the_answer_given_in_the_question_is_taken(here: Path) -> None:
    Path("bench.csv").write_text("Flow;Length;Weight;Who\n10;400;1,19;A\n12;400;1,18;B\n", encoding="utf-8")
    said = printed("reduce", "bench.csv", "--preview", "--density", "1.24 g/cm^3", code=2)
    (answer,) = re.findall(r'--columns "([^"]*)"', said)
    assert answer == "commanded [mm^3/s]; length [mm]; mass [g]; -"
    wanted = _samples(here / "plain.csv", PLAIN)
    for told in (answer, "Flow;Length;Weight"):
        found = load_samples("bench.csv", Given(density=Toleranced(1240.0), columns=told)).series[0].samples
        assert [each.mass for each in found] == [each.mass for each in wanted]
    said = printed("reduce", "bench.csv", "--preview", "--density", "1.24 g/cm^3", "--columns", "Flow;Length;Weight")
    assert "Who read over" in said and "Flow commanded [mm^3/s]" in said and "2 samples at 2 flows" in said
    assert sorted(path.name for path in here.iterdir()) == ["bench.csv", "plain.csv"], "a preview writes nothing"


def test_numbers_without_headings_need_to_be_told(tmp_path: Path) -> None:
    told = Given(density=Toleranced(1240.0), columns="flow;length;mass")
    found = _samples(tmp_path / "bench.csv", "10;400;1,19\n12;400;1,18\n", told)
    assert [each.line for each in found] == [1, 2]


WRONG = {
    "tray or not": ("Flow [mm3/s];Length [mm];Weight [g];Tray [g]\n10;400;13;12\n", "gross mass or net mass"),
    "no tray": ("Flow [mm3/s];Length [mm];Gross weight [g]\n10;400;13\n", "--tray"),
    "heavier tray": ("Flow [mm3/s];Length [mm];Gross weight [g];Tray [g]\n10;400;11;12\n", "at least that of the tray"),
    "unknown": ("Flow [mm3/s];Length [mm];Weight [g];Moon\n10;400;1,19;full\n", "--columns"),
}


@pytest.mark.parametrize("what", WRONG)
def test_what_may_mean_two_things_is_asked(tmp_path: Path, what: str) -> None:
    text, words = WRONG[what]
    with pytest.raises(CaseError) as caught:
        _samples(tmp_path / "bench.csv", text)
    assert words in str(caught.value)


def test_no_wording_means_two_things() -> None:
    every = [wording for wordings in WORDINGS.values() for wording in wordings]
    assert len(every) == len(set(every))
    assert all(meaning(wording)[0] == key for key, wordings in WORDINGS.items() for wording in wordings)


@pytest.mark.parametrize("ending", [".xlsx", ".ods"])
@settings(deadline=None, max_examples=12)
@given(masses=st.lists(st.integers(1, 9999).map(lambda n: n / 1000.0), min_size=1, max_size=4), blank=st.integers(0, 2))
def test_a_workbook_reads_like_the_text(
    tmp_path_factory: pytest.TempPathFactory, ending: str, masses: list[float], blank: int
) -> None:
    path = tmp_path_factory.mktemp("book") / f"bench{ending}"
    head = [["# a comment"], *([[""]] * blank), ["Flow (mm³/s)", "Length (mm)", "", "Weight (g)", "Notes"]]
    write_workbook(path, [*head, *(["10", "400", "", f"{mass:g}", "=1+1"] for mass in masses)])
    read = load_samples(path, DENSITY)
    assert [1e3 * each.mass for each in read.series[0].samples] == pytest.approx(masses)
    assert read.series[0].samples[0].line == 3 + blank and read.series[0].samples[0].note == "=1+1"
    assert read.comments == ("a comment",)


def test_a_workbook_is_what_an_independent_reader_finds(tmp_path: Path) -> None:
    """Held against openpyxl and odfpy themselves: numbers are numbers there, and formulas stay text."""
    from odf.opendocument import load
    from odf.table import TableCell
    from openpyxl import load_workbook

    rows = [["flow", "note"], ["12.5", "=SUM(A1)"]]
    write_workbook(tmp_path / "a.xlsx", rows)
    sheet = load_workbook(tmp_path / "a.xlsx").active
    assert sheet["A2"].value == 12.5 and sheet["B2"].data_type == "s"
    write_workbook(tmp_path / "a.ods", rows)
    cells = load(str(tmp_path / "a.ods")).getElementsByType(TableCell)
    assert [cell.getAttribute("valuetype") for cell in cells] == ["string", "string", "float", "string"]


def test_a_formula_whose_value_was_not_saved_is_named(tmp_path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    book.active.append(["=1+1"])
    book.save(tmp_path / "a.xlsx")
    with pytest.raises(CaseError, match="formula in A1"):
        workbook_rows(tmp_path / "a.xlsx", "a.xlsx")


@settings(deadline=None, max_examples=40)
@given(st.binary(max_size=300), st.sampled_from([".xlsx", ".ods"]))
def test_any_bytes_are_no_workbook(tmp_path_factory: pytest.TempPathFactory, raw: bytes, ending: str) -> None:
    path = tmp_path_factory.mktemp("book") / f"bench{ending}"
    path.write_bytes(raw)
    with pytest.raises(CaseError, match="workbook"):
        load_samples(path)


def _written(path: Path) -> None:
    """A plain table of an invented law without case, density and diameter."""
    lines = [f"{x:g};400;{1.24e-3 * min(x, LEVEL) * 400 * 2.405281875 / x:.4f}" for x in FLOWS]
    path.write_text("Flow [mm3/s];Length [mm];Weight [g]\n" + "\n".join(lines) + "\n", encoding="utf-8")


def test_a_table_without_case_gives_its_ceilings_with_one(here: Path) -> None:
    _written(here / "mine.csv")
    said = printed("reduce", "mine.csv", "--case", "short-block", "--out", "out", "--resamples", "99")
    assert "density 1.24 g/cm^3 from the card" in said and "10 samples at 10 flows, case short-block" in said
    (row,) = load_measured("out/ceilings.csv").rows
    assert row.case == "short-block" and 1e9 * row.ceiling == pytest.approx(LEVEL, rel=0.01)


def test_a_curve_takes_filament_from_options_and_else_from_the_card(here: Path) -> None:
    _written(here / "mine.csv")
    quick = ("--set", "mesh.level=0.25")
    by_card = printed("curve", "short-block", "--measured", "mine.csv", *quick)
    told = printed("curve", "short-block", "--measured", "mine.csv", *quick, "--density", "1.12 g/cm^3")
    levels = [float(re.findall(r"mine (?:[\d.]+) (?:[\d.]+) ([\d.]+)", said)[-1]) for said in (by_card, told)]
    assert levels == pytest.approx([LEVEL, LEVEL * 1.24 / 1.12], rel=0.01)


@pytest.mark.parametrize("name", ["sheet.csv", "sheet.xlsx", "sheet.ods"])
def test_a_sheet_that_was_filled_or_changed_is_not_written_over(here: Path, name: str) -> None:
    words = ("plan", "short-block", "--out", name, "--set", "mesh.level=0.25", "--repeats", "1")
    printed(*words)
    printed(*words)  # one that is as it was written may go
    if name.endswith(".csv"):
        semicolons = Path(name).read_text(encoding="utf-8").replace(",", ";")
        Path(name).write_text(semicolons.replace(";yes;", ";yes;torn"), encoding="utf-8")
    else:
        rows = [cells for _, cells in workbook_rows(here / name, name)]
        assert rows[-1][0].startswith("# as written")
        head = next(number for number, row in enumerate(rows) if row[0] == "order")
        rows[head + 1][rows[head].index("mass [g]")] = "1.02"
        write_workbook(here / name, rows)
        assert load_samples(name).series[0].samples[0].mass == pytest.approx(1.02e-3)
    before = Path(name).read_bytes()
    assert "output" in printed(*words, code=2)
    assert Path(name).read_bytes() == before


@pytest.mark.parametrize("name", ["out/ceilings.csv", "out/calibrated.toml"])
def test_files_that_a_person_changed_stay(here: Path, name: str) -> None:
    verb = ["reduce", "demo-short-block", "--resamples", "99"]
    if name.endswith(".toml"):
        verb = ["validate", "rows.csv", "--set", "mesh.level=0.25"]
        Path("rows.csv").write_text(
            "case,ceiling [mm^3/s],uncertainty [mm^3/s],calibrates\nshort-block,13,0.3,yes\n", encoding="utf-8"
        )
    printed(*verb, "--out", "out")
    printed(*verb, "--out", "out")
    Path(name).write_text(Path(name).read_text(encoding="utf-8").replace("1", "2", 1), encoding="utf-8")
    before = Path(name).read_bytes()
    assert "still as this program wrote it" in printed(*verb, "--out", "out", code=2)
    assert Path(name).read_bytes() == before


@given(st.text(max_size=80), st.text(alphabet="abc\n", min_size=1, max_size=5))
def test_a_seal_fits_what_it_was_made_for_and_nothing_else(text: str, more: str) -> None:
    whole = sealed(text.replace("\r", "") + "\n")
    assert not edited(whole) and not edited(text[:40])
    assert edited(more + whole)


@pytest.mark.parametrize(
    "words",
    [
        ["plan", "short-block", "--out", "sheet.gcode"],
        ["compare", "short-block", "--csv", "numbers.xlsx"],
        ["sweep", "setpoint-and-nozzle", "--csv", "points.ods"],
        ["sweep", "setpoint-and-nozzle", "--out", "points.csv"],
        ["new", "mine.gcode"],
        ["report", "short-block", "--out", "page.pdf"],
        ["check", "short-block", "--out", "section.csv"],
    ],
    ids=" ".join,
)
def test_a_name_that_promises_something_else_is_refused(here: Path, words: list[str]) -> None:
    assert "ending in" in printed(*words, code=2)
    assert not list(here.iterdir())
