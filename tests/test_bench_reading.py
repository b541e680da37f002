"""Tables of weighed samples as people and spreadsheets write them: read alike, or refused with line and expectation."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.tolerance import Toleranced
from meltzone.cases.studies.bench.samples import Given
from meltzone.cases.studies.bench.samples_csv import demo_names, load_samples

HEAD = "series;case;commanded [mm^3/s];length [mm];mass [g];density [g/cm^3];diameter [mm];use;note\n"
ROW = "a;short-block;10;400;1,19;1,24;1,75;;\n"
DENSITY = Given(density=Toleranced(1240.0))


def _file(folder: Path, text: str) -> Path:
    path = folder / "bench.csv"
    path.write_text(text, encoding="utf-8")
    return path


BAD = {  # text, line, key, words of the message
    "no mass column": ("commanded [mm^3/s];length [mm]\n10;400\n", 1, "mass", "a column headed mass"),
    "no flow column": ("length [mm];mass [g]\n400;1\n", 1, "commanded", "feeder speed"),
    "no length column": ("commanded [mm^3/s];mass [g]\n10;1\n", 1, "length", "headed time"),
    "unknown heading": (HEAD.replace("note", "nozle"), 1, None, "Did you mean note?"),
    "no unit": ("commanded;length [mm];mass [g]\n10;400;1\n", 2, "commanded", "Head the column commanded [mm^3/s]"),
    "wrong unit": ("commanded [mm];length [mm];mass [g]\n10;400;1\n", 2, "commanded", "The column's unit is mm."),
    "word for a number": (HEAD + ROW + ROW.replace("1,19", "much"), 3, "mass", "a mass with its unit"),
    "grams as kilograms": (HEAD + ROW.replace("1,19", "1190 kg"), 2, "mass", "Check the number"),
    "negative": (HEAD + ROW.replace("1,19", "-1,19"), 2, "mass", "from 0 g"),
    "slipped flow": (HEAD + ROW.replace(";10;", ";1e9;"), 2, "commanded", "a volume flow from"),
    "empty flow": (HEAD + ROW.replace(";10;", ";;"), 2, "commanded", "Fill in the cell"),
    "empty length": (HEAD + ROW.replace(";400;", ";;"), 2, "length", "Fill in the cell"),
    "other density": (HEAD + ROW + ROW.replace("1,24", "1,25"), 3, "density", "the same as in line 2"),
    "other case": (HEAD + ROW + ROW.replace("short-block", "long-block"), 3, "case", "series of their own"),
    "no density": ("commanded [mm^3/s];length [mm];mass [g]\n10;400;1\n", 2, "density", "--density"),
    "percent of nothing": ("density uncertainty [%];density [g/cm^3];commanded [mm^3/s];length [mm];mass [g]\n"
                           "1;1.24;10;400;1\n", 2, "density uncertainty", "a column density before it"),
    "use": (HEAD + ROW.replace(";1,75;;", ";1,75;perhaps;"), 2, "use", "yes or no"),
    "unquoted comma": ("commanded [mm^3/s],length [mm],mass [g]\n10,400,1,19\n", 2, None, "decimal comma"),
    "header alone": (HEAD, None, None, "at least one row"),
    "nothing": ("", 1, "mass", "a column headed mass"),
}  # fmt: skip


@pytest.mark.parametrize("what", BAD)
def test_a_row_that_cannot_be_used_is_named_by_its_line(tmp_path: Path, what: str) -> None:
    text, line, key, words = BAD[what]
    path = _file(tmp_path, text)
    with pytest.raises(CaseError) as caught:
        load_samples(path)
    assert (caught.value.file, caught.value.line, caught.value.key) == (str(path), line, key)
    assert words in " ".join(str(caught.value).split())


def test_a_name_that_is_none_tells_the_demonstrations() -> None:
    with pytest.raises(CaseError, match="demo-short-block"):
        load_samples("demo-short-blok")
    assert demo_names() == ("demo-short-block", "demo-sleeve", "demo-trays")


def test_rows_not_to_be_used_and_rows_without_mass_are_told_with_their_line(tmp_path: Path) -> None:
    text = HEAD + ROW + ROW.replace(";1,75;;", ";1,75;no;jammed") + ROW.replace("1,19", "")
    (series,) = load_samples(_file(tmp_path, text)).series
    assert [sample.line for sample in series.samples] == [2]
    assert [(gone.line, gone.reason) for gone in series.left_out] == [(3, "not to be used: jammed"), (4, "no mass")]


def test_what_the_table_does_not_say_is_taken_from_the_options_or_assumed_aloud(tmp_path: Path) -> None:
    path = _file(tmp_path, "commanded [mm^3/s];length [mm];mass [g]\n10;400;1,2\n")
    read = load_samples(path, DENSITY)
    words = " ".join(read.assumed)
    for part in ("density uncertain by 0.5 %", "1.75 mm", "0.02 mm", "0.01 g", "one step"):
        assert part in words
    told = Given(Toleranced(1240.0, 3.0), Toleranced(1.7e-3, 1e-5), 1e-6, 2e-6)
    told_read = load_samples(path, told)
    assert told_read.assumed == ()
    assert told_read.series[0].filament.diameter == Toleranced(1.7e-3, 1e-5)
    assert told_read.series[0].balance.repeatability == 2e-6


def test_feeder_speed_and_time_are_as_good_as_flow_and_length(tmp_path: Path) -> None:
    """1.75 mm filament at 249.45 mm/min: pi/4 * 1.75^2 * 249.45 / 60 = 10.000 mm3/s; 400 mm of it take 96.21 s."""
    by_speed = "feeder speed [mm/min],time [s],mass [g],diameter [mm]\n249.45,96.2117,1.19,1.75\n"
    by_flow = "commanded [mm^3/s],length [mm],mass [g],diameter [mm]\n10,400,1.19,1.75\n"
    one, other = (load_samples(_file(tmp_path, text), DENSITY).series[0].samples[0] for text in (by_speed, by_flow))
    assert 1e9 * one.commanded == pytest.approx(10.0, rel=1e-4)
    assert one.time == pytest.approx(other.time, rel=1e-4)


@settings(deadline=None, max_examples=120)
@given(
    separator=st.sampled_from([";", ",", "\t"]),
    comma=st.booleans(),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    ending=st.sampled_from(["\n", "\r\n", "\r"]),
    said=st.booleans(),
    comments=st.lists(st.sampled_from(["# a, b; c", '"# quoted, with commas"', "#;;;,,,"]), max_size=2),
    blank=st.integers(0, 2),
    trailing=st.integers(0, 2),
    unit=st.sampled_from(["mm^3/s", "mm³/s", "mm3/s"]),
    masses=st.lists(st.integers(1, 9999).map(lambda n: n / 1000.0), min_size=1, max_size=5),
)
def test_whatever_a_spreadsheet_does_to_a_table_it_reads_the_same(
    tmp_path_factory: pytest.TempPathFactory, separator: str, comma: bool, encoding: str, ending: str, said: bool,
    comments: list[str], blank: int, trailing: int, unit: str, masses: list[float],
) -> None:  # fmt: skip
    def written(number: float) -> str:
        text = f"{number:g}".replace(".", ",") if comma else f"{number:g}"
        return f'"{text}"' if separator in text else text

    header = ["Series", f"Commanded [{unit}]", "LENGTH [mm]", "mass [g]", "Density [g/cm^3]", "diameter [mm]"]
    rows = [["Düse", written(12.5), written(400.5), written(m), written(1.24), written(1.75)] for m in masses]
    lines = [separator.join(cells + [""] * trailing) for cells in [header, *rows]]
    lines[1:1] = [separator * 5] * blank
    text = ending.join(([f"sep={separator}"] if said else []) + comments + lines) + ending
    path = tmp_path_factory.mktemp("csv") / "bench.csv"
    path.write_bytes(text.encode(encoding))
    read = load_samples(path)
    (series,) = read.series
    assert series.name == "Düse"
    assert [1e3 * sample.mass for sample in series.samples] == pytest.approx(masses)
    assert {round(1e9 * sample.commanded, 9) for sample in series.samples} == {12.5}
    first = 2 + said + len(comments) + blank
    assert [sample.line for sample in series.samples] == list(range(first, first + len(masses)))
    assert len(read.comments) == len(comments)


@settings(deadline=None, max_examples=150)
@given(st.binary(max_size=200) | st.text(max_size=200).map(lambda text: (HEAD + text).encode()))
def test_any_bytes_are_read_or_refused_with_one_error(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    path = tmp_path_factory.mktemp("csv") / "bench.csv"
    path.write_bytes(raw)
    try:
        load_samples(path)
    except CaseError as error:
        assert str(path) in error.file
