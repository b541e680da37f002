"""Measured files: what is read from TOML and from what spreadsheets write, and the one error for everything else."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.reader import load_case
from meltzone.cases.studies.bench.rows import MeasuredFile, case_of_row
from meltzone.cases.studies.validation.measurements import load_measured, measured_names

GOOD = """uncertainty = "5 %"

[[row]]
name = "first"
case = "short-block"
ceiling = "13 mm^3/s"
calibrates = true

[[row]]
case = "short-block-fan"
ceiling = "12.5 mm^3/s"
uncertainty = "0.4 mm^3/s"
compared_with = "first"
set.heater.setpoint = "215 degC"
"""


def _file(folder: Path, text: str | bytes, name: str = "bench.toml") -> Path:
    path = folder / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def _rows(measured: MeasuredFile) -> list[tuple]:
    return [
        (r.name, r.case, dict(r.overrides), r.ceiling, r.uncertainty, r.calibrates, r.compared_with)
        for r in measured.rows
    ]


def test_toml_rows(tmp_path: Path) -> None:
    found = load_measured(_file(tmp_path, GOOD))
    first, second = found.rows
    assert (first.name, first.ceiling, first.calibrates, first.line) == ("first", 13e-9, True, 3)
    assert first.uncertainty == pytest.approx(0.65e-9)
    assert (second.name, second.compared_with, second.calibrates) == ("short-block-fan", "first", False)
    assert second.uncertainty == pytest.approx(0.4e-9)
    assert dict(second.overrides) == {"heater.setpoint": "215 degC"}


@pytest.mark.parametrize("name", measured_names())
def test_shipped_files_load_with_all_their_cases(name: str) -> None:
    found = load_measured(name)
    assert found.title and found.source
    assert len(found.every) > 1
    for row in found.rows:
        load_case(case_of_row(found, row), row.overrides)
    assert load_measured(str(found.folder / f"{name}.toml")).rows == found.rows


def test_practice_is_marked_as_without_source_and_calibrates_on_one_row() -> None:
    found = load_measured("hot-ends-in-practice")
    assert "no source" in found.source and "assumed" in found.source
    assert [row.name for row in found.rows if row.calibrates] == ["short block, 210 degC"]
    assert [round(1e9 * row.ceiling, 2) for row in found.rows] == [13, 16.25, 19.5, 13, 19, 19.5, 17.75, 19, 20]


BAD_TOML = {
    "no rows": ('title = "x"\n', None, "row", "at least one row"),
    "row is no list": ("row = 3\n", 1, "row", "a list of tables"),
    "unknown top key": ('tilte = "x"\n' + GOOD, 1, "tilte", "Did you mean title?"),
    "unknown key": (GOOD.replace("calibrates", "calibrate"), 7, "calibrate", "Did you mean calibrates?"),
    "key of the case in the row": (GOOD.replace("set.", ""), 14, "heater", "set table"),
    "no ceiling": (GOOD.replace('ceiling = "13 mm^3/s"\n', ""), 3, "ceiling", 'Add ceiling = "13 mm^3/s", or samples'),
    "no case": (GOOD.replace('case = "short-block"\n', ""), 3, "case", 'Add case = "short-block"'),
    "bare number": (GOOD.replace('"13 mm^3/s"', "13"), 6, "ceiling", "a volume flow with its unit"),
    "wrong unit": (GOOD.replace('"13 mm^3/s"', '"13 mm"'), 6, "ceiling", "a volume flow with its unit"),
    "no flow": (GOOD.replace('"13 mm^3/s"', '"0 mm^3/s"'), 6, "ceiling", "a volume flow from"),
    "far too much": (GOOD.replace('"13 mm^3/s"', '"13 m^3/s"'), 6, "ceiling", "to 1000 mm^3/s"),
    "no uncertainty": (GOOD.replace('uncertainty = "5 %"', ""), 3, "uncertainty", "At the top of the file"),
    "uncertainty in K": (GOOD.replace("0.4 mm^3/s", "0.4 K"), 12, "uncertainty", "standard uncertainty"),
    "certain": (GOOD.replace("0.4 mm^3/s", "0 %"), 12, "uncertainty", "0.01 % to 100 %"),
    "uncertainty a list": (GOOD.replace('"0.4 mm^3/s"', "[1]"), 12, "uncertainty", "standard uncertainty"),
    "calibrates in words": (GOOD.replace("true", '"yes"'), 7, "calibrates", "true or false"),
    "compared with nothing": (GOOD.replace('with = "first"', 'with = "frist"'), 13, "compared_with", '"first"'),
    "compared with itself": (
        GOOD.replace('with = "first"', 'with = "short-block-fan"'), 13, "compared_with", "another row",
    ),
    "same name": (GOOD.replace('case = "short-block-fan"', 'name = "first"\ncase = "x"'), 10, "name", "no other row"),
    "name a number": (GOOD.replace('name = "first"', "name = 1"), 4, "name", "text"),
    "set no table": (GOOD.replace('set.heater.setpoint = "215 degC"', "set = 3"), 14, "set", "dotted keys"),
    "no TOML": (GOOD.replace("[[row]]", "[[row]", 1), 3, None, "valid TOML"),
}  # fmt: skip


@pytest.mark.parametrize("what", BAD_TOML)
def test_bad_toml_names_file_line_and_key(tmp_path: Path, what: str) -> None:
    text, line, key, words = BAD_TOML[what]
    path = _file(tmp_path, text)
    with pytest.raises(CaseError) as caught:
        load_measured(path)
    assert (caught.value.file, caught.value.line, caught.value.key) == (str(path), line, key)
    assert words in " ".join(str(caught.value).split())


def test_a_missing_file_names_the_shipped_ones() -> None:
    with pytest.raises(CaseError, match=r"hot-ends-in-practice"):
        load_measured("hot-ends-in-practise")
    with pytest.raises(CaseError, match=r"folder"):
        load_measured("/tmp")


CSV = (
    "name;case;ceiling [mm^3/s];uncertainty [%];calibrates;compared with;heater.setpoint [degC];surroundings.fan;note\n"
)
CSV_ROWS = (
    "cold;short-block;13;5;yes;;;;\n"
    "hot;short-block;16,25;4,5;;cold;235;TRUE;said so\n"
)  # fmt: skip


def test_a_spreadsheet_s_table(tmp_path: Path) -> None:
    cold, hot = load_measured(_file(tmp_path, CSV + CSV_ROWS, "bench.csv")).rows
    assert (cold.name, cold.calibrates, dict(cold.overrides), cold.line) == ("cold", True, {}, 2)
    assert dict(hot.overrides) == {"heater.setpoint": "235 degC", "surroundings.fan": True}
    assert hot.ceiling == pytest.approx(16.25e-9)
    assert hot.uncertainty == pytest.approx(0.045 * 16.25e-9)
    assert (hot.compared_with, hot.note, hot.line) == ("cold", "said so", 3)


@pytest.mark.parametrize(
    "header",
    [
        "name,case,ceiling [mm^3/s],uncertainty [mm^3/s],calibrates",
        "name,case,ceiling_mm3_per_s,uncertainty_mm3_per_s,calibrates",
    ],
)
def test_a_table_of_programs_and_one_of_people_read_the_same(tmp_path: Path, header: str) -> None:
    """Keys with the unit in them, and words with the unit in brackets."""
    [row] = load_measured(_file(tmp_path, f"{header}\na,short-block,13,0.2,yes\n", "bench.csv")).rows
    assert (row.ceiling, row.uncertainty) == (pytest.approx(13e-9), pytest.approx(0.2e-9))


def test_an_ending_that_is_no_unit_is_no_heading(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="ceiling_mm3_per_year"):
        load_measured(_file(tmp_path, "case,ceiling_mm3_per_year\nshort-block,13\n", "bench.csv"))


BAD_CSV = {
    "empty": ("", 1, "case", "a column headed case"),
    "header only": (CSV, None, "row", "at least one row"),
    "unknown heading": ("case;celing\nshort-block;13 mm3/s\n", 1, None, "Did you mean ceiling?"),
    "no case": ("name;ceiling\na;13 mm3/s\n", 1, "case", "a column headed case"),
    "twice": ("case;ceiling;Ceiling [mm3/s]\n", 1, "ceiling", "each heading once"),
    "no unit": ("case;ceiling;uncertainty\nshort-block;13;5 %\n", 2, "ceiling", "a volume flow with its unit"),
    "no number": (CSV + "a;short-block;about 13;5;;;;;\n", 2, "ceiling", "a volume flow"),
    "thousands": (CSV + "a;short-block;1.234,5;5;;;;;\n", 2, "ceiling", "a volume flow"),
    "flag": (CSV + "a;short-block;13;5;perhaps;;;;\n", 2, "calibrates", "yes or no"),
    "too many cells": ("case,ceiling [mm3/s],uncertainty [%]\nshort-block,19,5,5\n", 2, None, "decimal comma"),
    "below nothing": ("case;ceiling [mm3/s];uncertainty [%];\nshort-block;19;5;x\n", 2, None, "empty heading"),
    "open quote": ('case;ceiling [mm3/s]\n"short-block;13\n', 2, None, "come in pairs"),
}


@pytest.mark.parametrize("what", BAD_CSV)
def test_bad_csv_names_file_line_and_key(tmp_path: Path, what: str) -> None:
    text, line, key, words = BAD_CSV[what]
    path = _file(tmp_path, text, "bench.csv")
    with pytest.raises(CaseError) as caught:
        load_measured(path)
    assert (caught.value.file, caught.value.line, caught.value.key) == (str(path), line, key)
    assert words in " ".join(str(caught.value).split())


@settings(deadline=None, max_examples=150)
@given(
    separator=st.sampled_from([";", ",", "\t"]),
    comma=st.booleans(),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    ending=st.sampled_from(["\n", "\r\n", "\r"]),
    said=st.booleans(),
    blank=st.lists(st.sampled_from(["", "empty cells"]), max_size=3),
    trailing=st.integers(0, 2),
    yes=st.sampled_from(["yes", "TRUE", "x", "1", "WAHR"]),
    unit=st.sampled_from(["mm^3/s", "mm3/s", "mm³/s"]),
    numbers=st.lists(st.integers(1, 99_999).map(lambda n: n / 1000.0), min_size=1, max_size=4),
)
def test_whatever_a_spreadsheet_does_to_a_table_it_reads_the_same(
    tmp_path_factory: pytest.TempPathFactory, separator: str, comma: bool, encoding: str, ending: str, said: bool,
    blank: list[str], trailing: int, yes: str, unit: str, numbers: list[float],
) -> None:  # fmt: skip
    def written(number: float) -> str:
        text = f"{number:g}".replace(".", ",") if comma else f"{number:g}"
        return f'"{text}"' if separator in text else text

    header = ["Name", "Case", f"Ceiling [{unit}]", "uncertainty [%]", "Calibrates", "heater.setpoint [°C]"]
    table = [header] + [
        [f"Düse {k}", "short-block", written(number), written(2.5), yes if k == 0 else "", "235"]
        for k, number in enumerate(numbers)
    ]
    lines = [separator.join(cells + [""] * trailing) for cells in table]
    lines[1:1] = [separator * 5 if kind else "" for kind in blank]
    text = ending.join(([f"sep={separator}"] if said else []) + lines) + ending
    path = tmp_path_factory.mktemp("csv") / "bench.csv"
    path.write_bytes(text.encode(encoding))
    found = load_measured(path)
    assert [row.name for row in found.rows] == [f"Düse {k}" for k in range(len(numbers))]
    assert [1e9 * row.ceiling for row in found.rows] == pytest.approx(numbers)
    assert [row.uncertainty / row.ceiling for row in found.rows] == pytest.approx([0.025] * len(numbers))
    assert [row.calibrates for row in found.rows] == [True] + [False] * (len(numbers) - 1)
    assert all(dict(row.overrides) == {"heater.setpoint": "235 °C"} for row in found.rows)
    first = 2 + said + len(blank)
    assert [row.line for row in found.rows] == list(range(first, first + len(numbers)))


@settings(deadline=None, max_examples=200)
@given(st.binary(max_size=300) | st.text(max_size=200).map(lambda text: CSV.encode() + text.encode()))
def test_any_bytes_are_read_or_refused_with_one_error(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    path = tmp_path_factory.mktemp("csv") / "bench.csv"
    path.write_bytes(raw)
    try:
        load_measured(path)
    except CaseError as error:
        assert str(path) in error.file


def test_tables_of_two_reductions_have_names_of_their_own(tmp_path: Path) -> None:
    """Both are called ceilings.csv, and their results must not go to one folder."""
    names = []
    for folder in ("reduce-monday", "tuesday"):
        path = tmp_path / folder / "ceilings.csv"
        path.parent.mkdir()
        path.write_text(
            "name;case;ceiling [mm^3/s];uncertainty [%];calibrates\none;short-block;13;5;yes\n", encoding="utf-8"
        )
        names.append(load_measured(path).name)
    assert names == ["monday", "tuesday"]
